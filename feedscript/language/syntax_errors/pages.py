"""The pages of syntax errors: what the parser stops at."""

from __future__ import annotations

from feedscript.diagnostics import Diagnostic, Page, Span
from feedscript.language.examples import program
from feedscript.language.parse.token import Token
from feedscript.nearest import nearest
from feedscript.units import UNITS

STRAY = Page(
    slug="stray-character",
    title="A character that has no meaning",
    why="""Programs get pasted from messages and other languages, and bring along marks that mean
nothing here: semicolons, square brackets, single quotation marks, another language's comments.
Curly quotation marks, non-breaking spaces, tabs, a byte-order mark and any kind of line end are
understood.""",
    wrong=program(steps="show speed of deep   send deep after 4 s;"),
    corrected=program(steps="show speed of deep   send deep after 4 s"),
)

UNCLOSED_BRACE = Page(
    slug="unclosed-brace",
    title="A block that does not end",
    why="""A block begins with `{` and ends with `}`. When the `}` is missing, everything after it
would belong to the block. The place shown is the `{` that stays open.""",
    wrong=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h"),
    corrected=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }"),
)

EXTRA_BRACE = Page(
    slug="extra-brace",
    title="A brace too many",
    why="""A `}` closes the innermost block that is open. Here none is: either this one is too many
or the `{` before it was lost.""",
    wrong=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h } }"),
    corrected=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }"),
)

MISPLACED = Page(
    slug="misplaced",
    title="An item inside a block",
    why="""Feeds, patterns, `let` and the declarations stand at the top of a program, in any order.
Inside a block stand only its own lines: steps in a lesson, properties in a feed.""",
    wrong=program(steps="\n  let gap = 4 s\n  show speed of deep\n  send deep after 4 s"),
    corrected=program(steps="\n  show speed of deep\n  send deep after gap", more="let gap = 4 s"),
)

UNKNOWN_UNIT = Page(
    slug="unknown-unit",
    title="A unit that nobody knows",
    why="""Every physical value carries its unit, directly after the number. Lengths: m, cm, mm, ft,
in, yd; speeds: m/s, km/h, mph; spin: rpm, rev/s; times: ms, s, min, h; angles: degrees;
temperatures: C, F; shares: %.""",
    wrong=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 kph/h }"),
    corrected=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }"),
)

BAD_NAME = Page(
    slug="bad-name",
    title="A name that cannot be one",
    why="""A name is one word: it begins with a letter and goes on with letters, figures, `_` and
`-`. The words that begin statements cannot be names.""",
    wrong=program(more="let 2nd_gap = 4 s"),
    corrected=program(
        more="let second_gap = 4 s", steps="show speed of deep send deep after second_gap"
    ),
)

UNKNOWN_STEP = Page(
    slug="unknown-step",
    title="A step that the language does not have",
    why="""A lesson is made of the steps `send`, `show speed of`, `rest`, `say`, `collect`,
`repeat`, `choose`, `shuffle`, `until`, `when`, `rotate group every`, `for each player`, `together`
and the patterns of the program, which are called by name with brackets: `warm_up()`.""",
    wrong=program(steps="show speed of deep   sned deep after 4 s"),
    corrected=program(steps="show speed of deep   send deep after 4 s"),
)

UNKNOWN_PROPERTY = Page(
    slug="unknown-property",
    title="A line that the block does not have",
    why="""Each block has its own lines: a feed has `land`, `speed`, `spin` and so on, a court has
`surface`, `altitude` and so on. A line that the block does not have would have no effect, so it is
refused.""",
    wrong=program(feed="feed deep { land 2 m inside baseline, on centre line  spede 70 km/h }"),
    corrected=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }"),
)

UNKNOWN_ITEM = Page(
    slug="unknown-item",
    title="An item that a program does not have",
    why="""At the top of a program stand `title`, `use`, the declarations `court`, `balls`,
`launcher`, `group`, `coach` and `keep out`, the definitions `let`, `feed` and `pattern`, the one
`lesson`, and `expect`, `allow`, `require`, `seed`.""",
    wrong=program(more="lett gap = 4 s"),
    corrected=program(more="let gap = 4 s", steps="show speed of deep send deep after gap"),
)

UNKNOWN_EXPECTATION = Page(
    slug="unknown-expectation",
    title="An expectation that the language does not have",
    why="""Expectations speak of the whole lesson (`balls`, `time`, `fastest`, `rest`), of one feed
(`clears net by`, `arrives between`, `bounces inside`, `95 % of … within`), or of the players
(`every player gets`, `no player waits longer than`, `never more than … in a row`).""",
    wrong=program(more="expect { bals <= 10 }"),
    corrected=program(more="expect { balls <= 10 }"),
)

MISSING_VALUE = Page(
    slug="missing-value",
    title="A statement that stops too early",
    why="""A word that asks for a value, a name or a text must be followed by one, on the same line
or the next.""",
    wrong=program(feed="feed deep { land 2 m inside baseline, on centre line  speed }"),
    corrected=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }"),
)

MISSING_WORD = Page(
    slug="missing-word",
    title="A small word or mark is missing",
    why="""A comma between the parts of a place, `of` in `show speed of`, a brace at the beginning
of a block: without it the statement could be read in two ways.""",
    wrong=program(
        feed="feed deep { land 2 m inside baseline 1 m inside ad sideline speed 70 km/h }"
    ),
    corrected=program(
        feed="feed deep { land 2 m inside baseline, 1 m inside ad sideline speed 70 km/h }"
    ),
)

UNEXPECTED = Page(
    slug="unexpected-word",
    title="A word where it cannot stand",
    why="""The words are known, but not in this order. The help names what could stand here.""",
    wrong=program(steps="show speed of deep   send deep after 4 s + 1 s) "),
    corrected=program(steps="show speed of deep   send deep after (4 s + 1 s)"),
)

PAGES = (
    STRAY,
    UNCLOSED_BRACE,
    EXTRA_BRACE,
    MISPLACED,
    UNKNOWN_UNIT,
    BAD_NAME,
    UNKNOWN_STEP,
    UNKNOWN_PROPERTY,
    UNKNOWN_ITEM,
    UNKNOWN_EXPECTATION,
    MISSING_VALUE,
    MISSING_WORD,
    UNEXPECTED,
)

_HERE = {
    "steps": (UNKNOWN_STEP, "step of a lesson"),
    "choose": (UNEXPECTED, "option of a choice"),
    "together": (UNEXPECTED, "station"),
    "expect": (UNKNOWN_EXPECTATION, "expectation"),
    "program": (UNKNOWN_ITEM, "item of a program"),
}


def unknown_here(block: str) -> tuple[Page, str]:
    """The page for an unknown word where a line of this block begins, and such a line's name."""
    return _HERE.get(block, (UNKNOWN_PROPERTY, f"line of `{block}`"))


_KNOWN_HERE = {
    "choose": "begin an option with its weight: `2: send deep_backhand after 4 s`",
    "together": 'write its stations: `station "north" { … }`',
}


def known_here(block: str, words: str, word: str = "") -> str:
    """The help for an unknown word where a line of this block begins."""
    if word == "COLLECT" and words == "`station`":
        head = "`rotate stations every 6 min, collect between { … }`"
        return f"put it after the stations, or collect between the rounds: {head}"
    return _KNOWN_HERE.get(block) or f"known here: {words}"


#: Units that people write, and ours.
_UNITS_MEANT = {
    "kmph": "km/h",
    "kmp": "km/h",
    "km/hr": "km/h",
    "kms": "km/h",
    "mps": "m/s",
    "m/sec": "m/s",
    "mi/h": "mph",
    "r/min": "rpm",
    "1/min": "rpm",
    "u/min": "rpm",
    "celsius": "C",
    "fahrenheit": "F",
    "hrs": "h",
    "secs": "s",
    "sek": "s",
    "mins": "min",
    "percent": "%",
    "'": "ft",
}


def unknown_unit(word: str, span: Span) -> Diagnostic:
    """The report of a unit that nobody knows."""
    meant = _UNITS_MEANT.get(word.lower()) or nearest(word, UNITS)
    some = "m, ft, km/h, mph, m/s, rpm, s, min, degrees, C, %"
    return UNKNOWN_UNIT.report(
        f"`{word}` is not a unit",
        help=f"did you mean `{meant}`?" if meant else f"write one of: {some}",
        span=span,
    )


_EXAMPLES = {
    "AFTER": "say how long after the ball before: `after 4 s`",
    "SPEED": "write a speed: `speed 70 km/h`",
    "LAND": "write a place: `land 2 m inside baseline, 1 m inside ad sideline`",
    "SPIN": "write a spin: `spin top 1200 rpm`",
    "WITHIN": "write a length: `within 0.6 m`",
    "SEND": "name a feed: `send deep_backhand after 4 s`",
    "REST": "write a time: `rest 20 s`",
    "SAY": 'write the words: `say "Recover to the middle"`',
    "REPEAT": "write how often: `repeat 6 { … }`",
    "TITLE": 'write the words: `title "Thursday juniors"`',
    "STANDS": "write a place: `stands 1 m behind centre mark`",
    "SURFACE": "name it: `surface clay`",
    "ALTITUDE": "write a height above the sea: `altitude 640 m`",
    "LOAD": "write how many balls: `load 60`",
    "EQUAL": "write a value: `= 4 s`",
    "OF": "name a feed",
    "MOST": "write a number: `at most 20`",
    "FEED": "name it: `feed deep_backhand { … }`",
    "LET": "write a name and a value: `let gap = 4 s`",
    "PATTERN": "name it: `pattern warm_up() { … }`",
    "AIR": "write a temperature: `air 20 C`",
}
_WANTED = {
    "NUMBER": "write a number with its unit",
    "STRING": 'write words in quotation marks: "…"',
    "PLACE_WORD": "write a place in words of the court",
    "NAME": "write a name",
    "SPIN_WORD": "write top, back or side",
}


def example_after(token: Token, wanted: list[str]) -> str:
    """What should follow this word, by example where there is one."""
    return _EXAMPLES.get(token.type) or (_WANTED[wanted[0]] if wanted else "")
