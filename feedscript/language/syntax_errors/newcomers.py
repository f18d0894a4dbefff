"""What a coach would write who never saw the language: each message gives a line that passes.

What is offered names the feed that was written, or the first that the program has.
"""

from __future__ import annotations

import re

from feedscript.language.syntax_errors import pages
from feedscript.language.syntax_errors.error_site import ErrorSite, Finding
from feedscript.language.syntax_errors.repairs import DropStatement

#: What stands at the head of an exercise.
_NOTES = ("aim", "watch", "easier", "harder")


def _a_feed(m: ErrorSite) -> str:
    found = re.search(r"\bfeed\s+([^\W\d][\w-]*)", m.text)
    return found[1] if found else "deep"


def _says(m: ErrorSite, message: str, help_text: str, *, back: int = 1) -> Finding:
    """A report at the words from the token so many before up to this one."""
    start = m.seen[-back].start_pos if back else m.start
    report = m.report(pages.UNEXPECTED, message, help_text, start=start, end=m.end)
    return Finding(report, DropStatement())


def _ends_with(m: ErrorSite, *kinds: str) -> bool:
    return [token.type for token in m.seen[-len(kinds) :]] == list(kinds)


def several_feeds(m: ErrorSite) -> Finding | None:
    """``send deep, lob`` and ``send deep and lob``."""
    if not m.same_line() or not re.match(r"(,|and\b|or\b)", m.text[m.start :], re.IGNORECASE):
        return None
    if not _ends_with(m, "SEND", "NAME"):
        return None
    rest = re.match(r"(?:\s*(?:,|and\b|or\b)?\s*[^\W\d][\w-]*)*", m.text[m.start :])
    words = re.findall(r"[^\W\d][\w-]*", rest[0]) if rest else []
    until = words.index("after") if "after" in words else len(words)
    feeds = [str(m.before), *(word for word in words[:until] if word not in ("and", "or"))]
    in_turn = "  ".join(f"send {feed} after 5 s" for feed in feeds)
    by_chance = "  ".join(f"1: send {feed} after 5 s" for feed in feeds)
    message = "a `send` is one ball of one feed"
    help_text = f"one after the other: `{in_turn}`; one of them: `choose {{ {by_chance} }}`"
    return _says(m, message, help_text, back=2)


def serve(m: ErrorSite) -> Finding | None:
    """``serve to deuce box``: where a ball goes stands in its feed."""
    if m.before is None or m.before.lower() != "serve" or m.stack.begun() is not m.before:
        return None
    line = m.text[m.start :].split("\n", 1)[0]
    box = "ad" if re.search(r"\bad\b", line, re.IGNORECASE) else "deuce"
    if not re.match(r"(to|into|in|on)\b", line, re.IGNORECASE):
        return None
    message = "where a ball goes stands in its feed, outside the lesson"
    feed = f"feed serve_1 {{ land middle of {box} box  speed 60 km/h }}"
    help_text = f"write `{feed}`, and here `show speed of serve_1  send serve_1 after 8 s`"
    return _says(m, message, help_text)


def so_many_balls(m: ErrorSite) -> Finding | None:
    """``for each player 5 balls``, and ``{ 5 balls }``."""
    if m.token.type != "NUMBER" or not re.match(r"\s*(balls?|feeds?)\b", m.text[m.end :], re.I):
        return None
    balls = f"repeat {m.token} {{ send {_a_feed(m)} after 5 s }}"
    message = "balls are sent by name, each with its time"
    if _ends_with(m, "EACH", "PLAYER"):
        help_text = f"write `for each player {{ {balls}  rest 12 s }}`"
        return _says(m, message, help_text, back=3)
    if m.stack.takes("SEND"):
        return _says(m, message, f"write `{balls}`", back=0)
    return None


def station_alone(m: ErrorSite) -> Finding | None:
    """``station "shadow" { … }`` outside a ``together``."""
    if m.token.type != "STATION" or not m.stack.at_level().takes("TOGETHER"):
        return None
    named = re.match(r'\s*("[^"\n]*")', m.text[m.end :])
    name = named[1] if named else '"shadow"'
    message = "stations stand side by side in a `together`"
    work = f'station {name} {{ say "Ten each side."  rest 1 min }}'
    return _says(m, message, f"write `together {{ {work} }}`", back=0)


_TAPS = re.compile(
    r"\s*((the\s+|my\s+)?(coach|trainer)\b|(i|we|you)\s+(tap|press|click)\b)", re.IGNORECASE
)


def on_request(m: ErrorSite) -> Finding | None:
    """``send deep on tap``, ``… when I tap``, ``… after 4 s when coach taps``."""
    tapped = _ends_with(m, "SEND", "NAME") and re.match(r"on\b", m.text[m.start :], re.IGNORECASE)
    when = next((token for token in m.seen[-2:] if token.type == "WHEN"), None)
    asked = when is not None and _TAPS.match(m.text[when.end_pos :])
    if not (tapped and m.same_line()) and not asked:
        return None
    sent = [at for at, token in enumerate(m.seen) if token.type == "SEND"]
    if not sent or sent[-1] + 1 >= len(m.seen):
        return None
    back = len(m.seen) - sent[-1]
    after = re.search(r"after\s+([\d.]+\s*\w+)", m.text[m.seen[-back].start_pos : m.start])
    soonest = after[1] if after else "5 s"
    message = "a ball on request says how many there are at most, and how soon one may leave"
    feed = m.seen[sent[-1] + 1]
    help_text = f"write `send {feed} when coach taps, at most 12, not before {soonest}`"
    return _says(m, message, help_text, back=back)


def own_target(m: ErrorSite) -> Finding | None:
    """``target "deep cross" { … }`` as a step of the lesson, or behind one of an exercise."""
    here = m.token if m.token.lower() == "target" else m.before
    if here is None or here.lower() != "target":
        return None
    found = re.match(
        r'target\s+"([^"\n]*)"\s*(\{[^{}]*\})?', m.text[here.start_pos :], re.IGNORECASE
    )
    if found is None:
        return None
    area = " ".join((found[2] or "{ area backcourt }").split())
    feed = f"send {_a_feed(m)} after 5 s"
    target = f'target "{found[1]}" {area}'
    message = "a target stands at the head of an exercise, or outside the lesson"
    help_text = f'write `exercise "{found[1]}" {{ {target}  {feed} }}`'
    return _says(m, message, help_text, back=0 if here is m.token else 1)


def late_goal(m: ErrorSite) -> Finding | None:
    """``goal 3 in`` and ``score to 5 { … }`` in the lesson itself, or behind a first step."""
    here = m.token if m.token.lower() in ("goal", "score") else m.before
    if here is None or here.lower() not in ("goal", "score") or m.stack.block() != "steps":
        return None
    if here is m.token and not re.match(r"\s*(\d|to\b|in\b|\{)", m.text[m.end :]):
        return None
    head = "goal 3 of 5 in" if here.lower() == "goal" else "score to 5 { in: 1 }"
    balls = f"repeat 5 {{ send {_a_feed(m)} after 5 s }}"
    message = f"a {here.lower()} stands at the head of an exercise, before its steps"
    help_text = f'write `exercise "Depth" {{ {head}  {balls} }}`'
    return _says(m, message, help_text, back=0 if here is m.token else 1)


def left_out(m: ErrorSite) -> Finding | None:
    """``exercise {``, ``break``, ``break "water"``, ``wait for coach``."""
    before = m.before
    if before is None or before.type not in ("EXERCISE", "BREAK", "COACH"):
        return None
    if before.type == "EXERCISE" and m.token.type == "LBRACE":
        block = f'exercise "Depth" {{ send {_a_feed(m)} after 5 s }}'
        return _says(m, "an exercise has a title", f"write `{block}`")
    if before.type == "BREAK" and m.token.type not in ("NUMBER", "NAME"):
        words = str(m.token) if m.token.type == "STRING" else '"water"'
        return _says(m, "a break has its time", f"write `break 3 min {words}`")
    if before.type == "COACH" and _ends_with(m, "FOR", "COACH"):
        message = "everyone is told what the lesson waits for"
        return _says(m, message, 'write `wait for coach "look at the grip"`', back=3)
    return None


def late_note(m: ErrorSite) -> Finding | None:
    """``aim "…"`` in the lesson itself, or behind the first step of an exercise."""
    if m.token.type != "STRING" or m.before is None or m.before.lower() not in _NOTES:
        return None
    feed = f"send {_a_feed(m)} after 5 s"
    message = f"`{m.before}` stands at the head of an exercise, before its steps"
    help_text = f'write `exercise "Depth" {{ {m.before} {m.token}  {feed} }}`'
    return _says(m, message, help_text)


def counted_players(m: ErrorSite) -> Finding | None:
    """``4 players "Ana", "Ben"``, and ``players 4``."""
    if m.token.type == "STRING" and _ends_with(m, "NUMBER", "PLAYERS"):
        names = re.compile(r'"[^"\n]*"(?:\s*,\s*"[^"\n]*")*').match(m.text, m.start)
        report = m.report(
            pages.UNEXPECTED,
            "the names say already how many players there are",
            f"write `players {names[0] if names else m.token}`",
            start=m.seen[-2].start_pos,
            end=names.end() if names else m.end,
        )
        return Finding(report, DropStatement())
    if m.token.type == "NUMBER" and _ends_with(m, "PLAYERS"):
        message = "the number of players stands before the word"
        return _says(m, message, f"write `{m.token} players`")
    return None


def whole_group(m: ErrorSite) -> Finding | None:
    """``for every player { … }`` and ``for all players { … }``."""
    found = re.compile(r"for\s+(?:every|all)(?:\s+the)?\s+players?\b", re.IGNORECASE)
    at = next((one for one in reversed(m.seen[-3:]) if one.type == "FOR"), None)
    words = None if at is None else found.match(m.text, at.start_pos)
    if at is None or words is None or m.start > words.end():
        return None
    report = m.report(
        pages.UNEXPECTED,
        f"`{words[0]}` is not understood",
        "write `for each player`",
        start=at.start_pos,
        end=words.end(),
    )
    return Finding(report, DropStatement())


def spin_line(m: ErrorSite) -> Finding | None:
    """``topspin 1200 rpm`` and ``slice 1200 rpm`` in a feed."""
    line = re.compile(r"(topspin|backspin|sidespin|slice|underspin)\s+([\d.]+\s*rpm)\b", re.I)
    at = m.token if m.token.type == "NAME" else m.before
    found = None if at is None else line.match(m.text, at.start_pos)
    if (
        at is None
        or found is None
        or m.stack.takes("SPIN_WORD")
        or not m.stack.at_level().takes("SPIN")
    ):
        return None
    way = {"topspin": "top", "sidespin": "side ad"}.get(found[1].lower(), "back")
    report = m.report(
        pages.UNKNOWN_PROPERTY,
        f"`{at}` is no line of `feed`",
        f"write `spin {way} {found[2]}`",
        start=at.start_pos,
        end=found.end(),
    )
    return Finding(report, DropStatement())


NEWCOMERS = (
    counted_players,
    whole_group,
    spin_line,
    several_feeds,
    serve,
    so_many_balls,
    station_alone,
    on_request,
    own_target,
    late_goal,
    left_out,
    late_note,
)
