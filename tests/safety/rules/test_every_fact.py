"""Whatever a program may state counts for something, or is an error.

The properties are read out of the grammar, so a new one fails here until it is shown what it
changes. What counts: the aimed feeds, the steps and bounds, what the certificate says of them, the
set-up list, the verdict. That the plan carries the statement along is not enough.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from feedscript.check.check_program import Verdict, check_program
from feedscript.language.tools.parser_tables import GRAMMAR_FILE
from feedscript.session.group.roster import roster_of
from feedscript.session.group.rotation import next_round

BASE = {
    "court": "surface hard",
    "balls": "type 2",
    "launcher": 'profile "garage.toml"  stands 1 m behind centre mark',
    "group": "5 players  level club",
    "coach": "walks deuce alley",
    "keep out": "area ad run-off",
    "feed": "land 3 m inside baseline, on centre line  speed 78 km/h  spin top 900 rpm",
    "steps": "rotate group every 30 s { send deep after 5 s }",
}

#: For each property two programs that differ in nothing else: what each block holds instead.
Two = tuple[dict[str, str], dict[str, str]]


def said(block: str, line: str, *, instead: str | None = None, **others: str) -> Two:
    """The program without a line and with it (or with another one ``instead`` of it)."""
    others = {key.replace("_", " "): text for key, text in others.items()}
    base = others.get(block, BASE[block])
    first = base if instead is None else f"{base}  {instead}"
    return others | {block: first}, others | {block: f"{base}  {line}"}


def other(block: str, one: str, two: str, **others: str) -> Two:
    """The program with one content of a block, and with another."""
    others = {key.replace("_", " "): text for key, text in others.items()}
    return others | {block: one}, others | {block: two}


PLAIN = "land 3 m inside baseline, on centre line"
NAMED = 'players "Ash", "Birch", "Cedar", "Dill", "Elm"  level club'
OWN = 'player "Ash" { level club }  players "Birch", "Cedar"  level improver'
TWIN = "land 3 m inside baseline, 2 m inside backhand sideline  speed 78 km/h  spin top 900 rpm"
WALL = "surface hard  side room 3 m"

_EXERCISE = (
    'exercise "E" {{ {}  for each player {{ repeat 6 {{ send deep after 6 s }}  rest 15 s }} }}'
)


def aimed(one: str, two: str) -> Two:
    """Two lessons of one exercise that has the one at its head, and the other."""
    return {"steps": _EXERCISE.format(one)}, {"steps": _EXERCISE.format(two)}


def aimed_at(one: str, two: str) -> Two:
    """The same with two targets."""
    return aimed(f'target "t" {{ {one} }}', f'target "t" {{ {two} }}')


FACTS: dict[tuple[str, str], Two] = {
    ("target", "area"): aimed_at("area ad box", "area deuce box"),
    ("target", "between"): aimed_at("between T and at 3 m, 11 m", "between T and at -3 m, 11 m"),
    ("target", "marked"): aimed_at("area ad box", 'area ad box  marked "two cones"'),
    ("score", "launcher"): aimed("score to 6 { in: 1 }", "score to 6 { in: 1  error: launcher 1 }"),
    ("court", "lines"): other("court", "lines doubles", "lines green"),
    ("court", "surface"): other("court", "surface hard", "surface clay"),
    ("court", "rating"): said("court", "rating 30", instead="rating 23", court="restitution 0.85"),
    ("court", "restitution"): said(
        "court", "restitution 0.8", instead="restitution 0.85", court="rating 30"
    ),
    ("court", "altitude"): said("court", "altitude 1600 m"),
    ("court", "air"): said("court", "air 5 C"),
    ("court", "pressure"): said("court", "pressure 980 hPa"),
    ("court", "humidity"): said("court", "humidity 90 %"),
    ("court", "roof"): said("court", "roof 9 m"),
    ("court", "wind"): said("court", "wind head 1 m/s"),
    ("court", "fence"): said("court", "fence 3 m high, 6.4 m behind baseline"),
    ("court", "side"): other(
        "court", "side room 3 m  neighbours ad", "side room 4 m  neighbours ad"
    ),
    ("court", "neighbour"): said("court", "neighbour ad", court=WALL),
    ("court", "neighbours"): said("court", "neighbours deuce", court=WALL),
    ("court", "neighbor"): said("court", "neighbor ad", court=WALL),
    ("court", "neighbors"): said("court", "neighbors deuce", court=WALL),
    ("wind", "head"): said("court", "wind head 1 m/s"),
    ("wind", "tail"): said("court", "wind tail 1 m/s"),
    ("wind", "ad"): said("court", "wind ad 1 m/s"),
    ("wind", "deuce"): said("court", "wind deuce 1 m/s"),
    ("balls", "stage"): other("balls", "stage yellow", "stage green"),
    ("balls", "type"): other("balls", "type 2", "type 3"),
    ("balls", "load"): said("balls", "load 40"),
    ("balls", "wear"): said("balls", "wear 50 %"),
    ("launcher", "profile"): other(
        "launcher",
        'profile "garage.toml"  stands 1 m behind centre mark',
        'profile "single-wheel.toml"  stands 1 m behind centre mark',
        feed=f"{PLAIN}  speed 78 km/h",
    ),
    ("launcher", "stands"): other(
        "launcher",
        'profile "garage.toml"  stands 1 m behind centre mark',
        'profile "garage.toml"  stands 2 m behind centre mark',
    ),
    ("launcher", "faces"): said("launcher", "faces ad corner"),
    ("launcher", "turned"): said("launcher", "turned ad 5 degrees"),
    ("launcher", "mouth"): said("launcher", "mouth 0.8 m"),
    ("launcher", "load"): said("launcher", "load 40"),
    ("group", "players"): other("group", "5 players  level club", "1 player  level club"),
    ("group", "player"): other("group", "5 players  level club", "1 player  level club"),
    ("group", "stage"): said("group", "stage green"),
    ("group", "level"): other("group", "5 players  level club", "5 players  level improver"),
    ("group", "age"): said("group", "age 10"),
    ("group", "ages"): said("group", "ages 8 to 11"),
    ("group", "left-handed"): said("group", "left-handed 1", feed=TWIN),
    ("group", "receiver"): said("group", "receiver 1 m behind centre mark"),
    ("group", "subgroup"): other(
        "group",
        f'{NAMED}  subgroup "few" "Ash"',
        f'{NAMED}  subgroup "few" "Ash", "Elm"',
        steps='for "few" { send deep after 9 s }',
    ),
    ("group", "keep"): said("group", 'keep apart "Ash", "Birch"', group=NAMED),
    ("player", "stage"): other("group", OWN, OWN.replace("}", "stage green }")),
    ("player", "level"): other("group", OWN, OWN.replace("club }", "beginner }")),
    ("player", "left-handed"): other("group", OWN, OWN.replace("}", "left-handed }"), feed=TWIN),
    ("player", "speaks"): other("group", OWN, OWN.replace("}", "speaks de }")),
    ("player", "receiver"): other("group", OWN, OWN.replace("}", "receiver ad corner }")),
    ("coach", "walks"): other("coach", "walks deuce alley", "walks ad box"),
    ("coach", "stands"): other("coach", "stands at 3 m, 9 m", "stands at -3.5 m, 9 m"),
    ("keep_out", "area"): other("keep out", "area ad run-off", "area ad box"),
    ("keep_out", "between"): said("keep out", "between at 3 m, 5 m and at 4 m, 9 m"),
    ("keep_out", "height"): other(
        "keep out",
        "between at -1 m, -3 m and at 1 m, 0 m",
        "between at -1 m, -3 m and at 1 m, 0 m  height 1 m",
    ),
    ("feed", "land"): other(
        "feed", f"{PLAIN}  speed 78 km/h", "land 4 m inside baseline, on centre line  speed 78 km/h"
    ),
    ("feed", "sweep"): other(
        "feed",
        "sweep 4 m inside baseline  speed 72 km/h",
        "sweep 5 m inside baseline  speed 72 km/h",
        launcher='profile "swinging-head.toml"  stands 1 m behind centre mark',
        coach="stands at 5 m, 1 m",
    ),
    ("feed", "receiver"): said("feed", "receiver 1 m behind baseline, 1 m to ad of centre mark"),
    ("feed", "speed"): other("feed", f"{PLAIN}  speed 78 km/h", f"{PLAIN}  speed 80 km/h"),
    ("feed", "apex"): other("feed", f"{PLAIN}  apex 3 m", f"{PLAIN}  apex 3.2 m"),
    ("feed", "flight"): other("feed", f"{PLAIN}  flight 1.2 s", f"{PLAIN}  flight 1.3 s"),
    ("feed", "within"): said("feed", "within 0.3 m"),
    ("feed", "contact"): other(
        "feed",
        f"{PLAIN}  contact 1 m high, 3 m behind bounce",
        f"{PLAIN}  contact 1 m high, 2.5 m behind bounce",
    ),
    ("feed", "arc"): said("feed", "arc high"),
    ("feed", "spin"): other(
        "feed", f"{PLAIN}  speed 78 km/h  spin top 900 rpm", f"{PLAIN}  speed 78 km/h  spin flat"
    ),
    ("feed", "vary"): said("feed", "vary place 0.3 m"),
    ("spin", "top"): said("feed", "spin top 700 rpm", feed=f"{PLAIN}  speed 78 km/h"),
    ("spin", "topspin"): said("feed", "spin topspin 700 rpm", feed=f"{PLAIN}  speed 78 km/h"),
    ("spin", "back"): said("feed", "spin back 700 rpm", feed=f"{PLAIN}  speed 78 km/h"),
    ("spin", "backspin"): said("feed", "spin backspin 700 rpm", feed=f"{PLAIN}  speed 78 km/h"),
    ("spin", "side"): said("feed", "spin side ad 300 rpm", feed=f"{PLAIN}  speed 78 km/h"),
    ("spin", "sidespin"): said("feed", "spin sidespin ad 300 rpm", feed=f"{PLAIN}  speed 78 km/h"),
    ("spin", "ad"): said(
        "feed",
        "spin side ad 300 rpm",
        instead="spin side deuce 300 rpm",
        feed=f"{PLAIN}  speed 78 km/h",
    ),
    ("spin", "deuce"): said("feed", "spin side deuce 300 rpm", feed=f"{PLAIN}  speed 78 km/h"),
    ("vary", "place"): said("feed", "vary place 0.3 m"),
    ("vary", "speed"): said("feed", "vary speed 2 km/h"),
    ("vary", "spin"): said("feed", "vary spin 50 rpm"),
    ("vary", "seed"): said("feed", "vary place 0.3 m, seed 5", instead="vary place 0.3 m"),
}


def stated() -> Iterator[tuple[str, str]]:
    """Every property of every declaration, as the grammar has them; but for what a program suits,
    which is for whoever looks for one (the search's own tests hold it), and changes no lesson."""
    grammar = GRAMMAR_FILE.read_text(encoding="utf-8")
    for block, body in re.findall(r"^(\w+)_property: (.*(?:\n +\|.*)*)", grammar, re.MULTILINE):
        if block == "suits":
            continue
        for way in re.split(r"\n +\|", body):
            words = re.findall(r'"([\w-]+)"', way.removeprefix("number "))
            alternatives = re.match(r'\s*(?:number )?\(("[^)]*)\)', way)
            first = re.findall(r'"([\w-]+)"', alternatives[1]) if alternatives else words[:1]
            yield from ((block, word) for word in first)
    (spins,) = re.findall(r"^SPIN_WORD\.\d+: /\(\?:([\w|]+)\)", grammar, re.MULTILINE)
    yield from (("spin", word) for word in spins.split("|"))
    (varied,) = re.findall(r"^vary: \(([^)]*)\)", grammar, re.MULTILINE)
    yield from (("vary", word) for word in re.findall(r"\w+", varied))
    yield from (("wind", way) for way in ("head", "tail", "ad", "deuce"))


def program(blocks: dict[str, str]) -> str:
    holds = BASE | blocks
    return f"""feedscript 1
court {{ {holds["court"]} }}
balls {{ {holds["balls"]} }}
launcher {{ {holds["launcher"]} }}
group {{ {holds["group"]} }}
coach {{ {holds["coach"]} }}
keep out "bench" {{ {holds["keep out"]} }}
feed deep {{ {holds["feed"]} }}
lesson {{ show speed of deep  {holds["steps"]} }}
"""


def consequences(blocks: dict[str, str]) -> Any:
    """All that follows from a program, and nothing that merely repeats what it states."""
    verdict = check_program(Path("facts.feed"), text=program(blocks))
    assert not [one for one in verdict.diagnostics if one.slug == "check-failed"]
    return _of(verdict)


def _of(verdict: Verdict) -> Any:
    messages = sorted((one.slug, one.message) for one in verdict.diagnostics)
    plan, certificate = verdict.draft, verdict.certificate
    if plan is None or certificate is None:
        return messages
    drop = {"line": 0}
    feeds = [msgspec.structs.replace(feed, **drop, within_m=None) for feed in plan.feeds]
    clauses = [(c.rule, c.standing, c.worst_case, c.worst, c.limit) for c in certificate.clauses]
    roster = roster_of(plan.group, 2)
    first = next_round(roster.queue)[0]
    called = first, roster.speaks([roster.players[0].name])
    return messages, feeds, plan.steps, plan.bounds, clauses, certificate.set_up, called


@pytest.mark.parametrize("fact", FACTS, ids=lambda fact: " ".join(fact))
def test_a_stated_fact_changes_what_follows(fact: tuple[str, str]) -> None:
    one, two = FACTS[fact]
    assert consequences(one) != consequences(two)


def test_every_property_of_the_grammar_is_tried() -> None:
    assert set(stated()) == set(FACTS)


IDLE = {
    "a load that no launcher takes": {
        "balls": "type 2  load 40",
        "launcher": BASE["launcher"] + "  load 40",
    },
    "two ways to point": {"launcher": BASE["launcher"] + "  faces T  turned ad 5 degrees"},
    "a keep-out of nothing": {"keep out": "height 2 m"},
    "a coach who is nowhere": {"coach": ""},
    "an arc beside an apex": {"feed": f"{PLAIN}  apex 3 m  arc high"},
    "an arc beside a time of flight": {"feed": f"{PLAIN}  flight 1.3 s  arc low"},
    "a target of a sweep": {"feed": "sweep 4 m inside baseline  speed 72 km/h  within 1 m"},
    "a variation of a sweep": {
        "feed": "sweep 4 m inside baseline  speed 72 km/h  vary speed 2 km/h"
    },
    "a varied speed that is not stated": {"feed": f"{PLAIN}  apex 3 m  vary speed 2 km/h"},
    "a varied spin that is not stated": {"feed": f"{PLAIN}  speed 78 km/h  vary spin 90 rpm"},
    "a seed that draws nothing": {"feed": f"{PLAIN}  speed 78 km/h  vary seed 4"},
    "a rating alone": {"court": "surface hard  rating 23"},
    "a restitution alone": {"court": "surface hard  restitution 0.8"},
    "a surface that cannot be": {"court": "rating 100  restitution 0.81"},
    "a pressure of the sea at 1600 m": {"court": "altitude 1600 m  pressure 1013 hPa"},
    "head and tail wind": {"court": "wind head 2 m/s, tail 2 m/s"},
    "left-handers twice": {
        "group": NAMED + '  left-handed "Ash"  left-handed "Birch"',
        "feed": TWIN,
    },
    "a subgroup that has no turns": {"group": NAMED + '  subgroup "few" "Ash"'},
    "two numbers of players": {"group": "5 players  4 players  level club"},
    "a variation twice": {"feed": f"{PLAIN}  speed 78 km/h  vary place 1 m, place 2 m"},
}


@pytest.mark.parametrize("blocks", IDLE.values(), ids=IDLE)
def test_what_nothing_uses_is_an_error(blocks: dict[str, str]) -> None:
    verdict = check_program(Path("facts.feed"), text=program(blocks))
    (error,) = (one for one in verdict.diagnostics if one.is_error)
    assert error.slug in ("idle-fact", "said-twice", "impossible-surface", "impossible-air")
    assert error.span is not None


@pytest.mark.parametrize(
    "chain",
    [
        "feed b = deep with { apex 3 m }\n",
        "feed a = deep with { within 1 m }\nfeed b = mirror a with { flight 1.3 s }\n",
    ],
)
def test_a_variation_that_is_taken_over_still_counts_or_is_an_error(chain: str) -> None:
    blocks = {"feed": BASE["feed"] + "  vary speed 2 km/h"}
    verdict = check_program(Path("facts.feed"), text=program(blocks) + chain)
    assert [one.slug for one in verdict.diagnostics if one.is_error] == ["idle-fact"]


TWO = """feedscript 1
court {{ lines doubles  surface hard }}
balls {{ type 2  load {all} }}
launcher {first} {{ {first_stands}{first_load} }}
launcher {second} {{ {second_stands}{second_load} }}
group {{ 4 players  level club }}
feed left {{
    land 3 m inside baseline, 2.5 m to deuce of centre line  speed 85 km/h  receiver at -2.5 m, 13 m
}}
feed right {{
    land 3 m inside baseline, 2.5 m to ad of centre line  speed 85 km/h  receiver at 2.5 m, 13 m
}}
pattern many(ball: feed) {{ repeat 30 {{ send ball after 5 s }} }}
lesson {{
    show speed of left
    show speed of right
    {turn} {{
        station "a" on launcher west {{ {west} }}
        station "b" on launcher east {{ {east} }}
    }}{end}
}}
"""
STANDS = {
    "west": 'profile "garage.toml"  stands 1 m behind baseline, 2.5 m to ad of centre mark',
    "east": 'profile "garage.toml"  stands 1 m behind baseline, 2.5 m to deuce of centre mark',
}
BODIES = {
    "a repeat": "repeat 30 {{ send {0} after 5 s }}",
    "a pattern": "many({0})",
    "a choice": "choose {{ 1: rest 5 s  1: repeat 30 {{ send {0} after 5 s }} }}",
    "an until": "until 3 in a row in, at most 30 {{ send {0} after 5 s }}",
}


def two_launchers(
    body: str, *, load: int, own: dict[str, int] | None = None, turned: bool = False
) -> str:
    order = ("east", "west") if turned else ("west", "east")
    own = own or {}
    lines = {name: f"  load {own[name]}" if name in own else "" for name in order}
    return TWO.format(
        all=load,
        first=order[0],
        second=order[1],
        first_stands=STANDS[order[0]],
        second_stands=STANDS[order[1]],
        first_load=lines[order[0]],
        second_load=lines[order[1]],
        west=BODIES[body].format("left"),
        east=BODIES[body].format("right"),
        turn="together",
        end="",
    )


def errors(text: str) -> list[str]:
    verdict = check_program(Path("two.feed"), text=text)
    return [one.slug for one in verdict.diagnostics if one.is_error]


@pytest.mark.parametrize("turned", [False, True], ids=["west first", "east first"])
@pytest.mark.parametrize("body", BODIES)
def test_a_load_of_the_balls_is_every_launchers(body: str, turned: bool) -> None:
    assert errors(two_launchers(body, load=31, turned=turned)) == []
    assert errors(two_launchers(body, load=30, turned=turned)) == ["short-of-balls"]


@pytest.mark.parametrize("name", ["west", "east"])
@pytest.mark.parametrize("turned", [False, True], ids=["west first", "east first"])
def test_a_launcher_may_state_another_load(name: str, turned: bool) -> None:
    other = {"west": "east", "east": "west"}[name]
    assert errors(two_launchers("a repeat", load=31, own={name: 40}, turned=turned)) == []
    short = two_launchers("a repeat", load=40, own={name: 30}, turned=turned)
    assert errors(short) == ["short-of-balls"]
    short = two_launchers("a repeat", load=30, own={name: 40}, turned=turned)
    assert errors(short) == ["short-of-balls"]
    both = two_launchers("a repeat", load=40, own={name: 40, other: 40}, turned=turned)
    assert errors(both) == ["idle-fact"]


STRICTER = """feedscript 1
court {{ surface hard }}
balls {{ type 2  load 60 }}
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
group {{ 2 players  {group} }}
{rules}
feed deep {{ land 3 m inside baseline, on centre line  speed 66 km/h  spin top 600 rpm }}
lesson {{ show speed of deep  send deep after 6 s }}
"""


@pytest.mark.parametrize(
    "rules",
    [
        "require scatter 5\nrequire scatter 4",
        "require scatter 4\nrequire scatter 5",
        "require net-clearance 20 cm\nrequire net-clearance 20 cm",
        'require net-clearance 20 cm\nallow net-clearance because "a low feed to the volley"',
        'allow net-clearance because "a low feed to the volley"\n'
        'allow net-clearance because "another reason is given here"',
    ],
)
def test_a_rule_is_spoken_of_once(rules: str) -> None:
    assert errors(STRICTER.format(group="level club", rules=rules)) == ["said-twice"]


@pytest.mark.parametrize(
    ("group", "laxer", "stricter"),
    [
        ("level beginner", "too-fast-for-group 19 m/s", "too-fast-for-group 17 m/s"),
        ("stage green", "too-fast-for-group 60 km/h * 1.1", "too-fast-for-group 50 km/h"),
        ("ages 9 to 11", "too-fast-for-group 14 m/s", "too-fast-for-group 12.5 m/s"),
        ("stage green", "too-high-for-group 2 m", "too-high-for-group 1.8 m"),
        ("stage orange", "many-balls 140", "many-balls 120"),
        ("level club  ages 9 to 10", "many-balls 140", "many-balls 120"),
        ("stage orange", "long-series 100 s", "long-series 80 s"),
        ("stage red", "long-lesson 50 min", "long-lesson 40 min"),
        ("level club", "least-interval 1 s", "least-interval 3 s"),
    ],
)
def test_a_limit_laxer_than_what_holds_anyway_is_refused(
    group: str, laxer: str, stricter: str
) -> None:
    asked = STRICTER.format(group=group, rules=f"require {laxer}")
    assert "not-stricter" in errors(asked)
    asked = STRICTER.format(group=group, rules=f"require {stricter}")
    assert "not-stricter" not in errors(asked)
