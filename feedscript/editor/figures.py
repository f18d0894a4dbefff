"""A figure of a feed made another one, by a slider: its speed, its spin, the time before it.

Only that value changes, or a line is added that says it. A feed that is made of another one gets a
line of its own. Where the value is written by a name, both ways are offered: the number here, or
another value for the name.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from enum import StrEnum
from typing import TypeVar

import msgspec

from feedscript.editor.document import Document
from feedscript.editor.fixes import Change
from feedscript.editor.moves import written_feed
from feedscript.editor.wanted import Choice, Moved
from feedscript.language.parse import tree as t
from feedscript.language.resolve.feed_lines import SETTLERS
from feedscript.units import UNITS, Dimension

K = TypeVar("K", bound=t.SyntaxNode)


class Figure(StrEnum):
    """What has a slider."""

    SPEED = "speed"
    TOP = "top"  # topspin; backspin is negative
    SIDE = "side"  # positive curves to the ad side
    GAP = "gap"  # from the ball before


DIMENSIONS = {
    Figure.SPEED: Dimension.SPEED,
    Figure.TOP: Dimension.SPIN,
    Figure.SIDE: Dimension.SPIN,
    Figure.GAP: Dimension.TIME,
}


class FigureWanted(msgspec.Struct, frozen=True, kw_only=True):
    """What shall be how much, in ``unit``. ``part``: of a gap, which of the feed's sends."""

    figure: Figure
    name: str
    part: int = 0
    value: float
    unit: str


def figured(document: Document, wanted: FigureWanted) -> Moved:
    """How the words change so that a feed has this figure. Never raises."""
    program = document.verdict.program
    if program is None:
        return Moved(refused="mend the words first: as they are, nobody knows what they mean")
    unit = UNITS.get(wanted.unit)
    if unit is None or unit.dimension is not DIMENSIONS[wanted.figure]:
        return Moved(refused=f"{wanted.unit} is no unit of a {DIMENSIONS[wanted.figure]}")
    signed = wanted.figure in (Figure.TOP, Figure.SIDE)
    if not math.isfinite(wanted.value) or (wanted.value <= 0 and not signed):
        return Moved(refused=f"a {wanted.figure} of {wanted.value:g} is none")
    name, mirrored, note = written_feed(wanted.name)
    if wanted.figure is Figure.GAP:
        return _gap(document, wanted)
    feed = document.scope.defined(t.Feed).get(name)
    if feed is None:
        return Moved(refused=f"`{name}` is written in another file: copy it here to change it")
    if wanted.figure is Figure.SPEED:
        choices = _speed(document, feed, wanted)
    else:
        value = -wanted.value if mirrored and wanted.figure is Figure.SIDE else wanted.value
        choices = _spin(document, feed, msgspec.structs.replace(wanted, value=value))
    noted = (msgspec.structs.replace(one, title=note) if note else one for one in choices)
    return Moved(tuple(noted), asks=f"Its {wanted.figure} is written by a name.")


def in_words(wanted: FigureWanted) -> str:
    """The value without its sign, as it is written."""
    return f"{abs(wanted.value):g} {wanted.unit}"


def written_here(document: Document, name: str) -> bool:
    """Whether a feed's words are in this text."""
    return written_feed(name)[0] in document.scope.defined(t.Feed)


def written_unit(document: Document, name: str, figure: Figure) -> str:
    """The unit that a feed's own line says this figure in; the usual one where there is none."""
    usual = {Figure.SPEED: "km/h", Figure.GAP: "s"}.get(figure, "rpm")
    feed = document.scope.defined(t.Feed).get(written_feed(name)[0])
    own = None if feed is None else _own(feed, figure.value)
    value = None if own is None else own.parts[0]
    unit = value.unit if isinstance(value, t.Quantity) else None
    return str(unit) if unit in UNITS else usual


# --- lines of a feed


def _own(feed: t.Feed, word: str) -> t.Property | None:
    return next((one for one in reversed(feed.properties) if one.word.lower() == word), None)


def _speed(document: Document, feed: t.Feed, wanted: FigureWanted) -> Iterator[Choice]:
    words = in_words(wanted)
    own = _own(feed, "speed")
    if own is not None:
        yield from _values(document, own.parts[0], words)
        return
    settled = next((line for word in SETTLERS if (line := _own(feed, word)) is not None), None)
    if settled is not None:
        title = f"its speed is said now, and its {settled.word.lower()} follows from that"
        yield Choice(title, (Change(settled.start, settled.end, f"speed {words}"),))
    else:
        yield Choice("move it", (_added(document, feed, f"speed {words}"),))


def _spin(document: Document, feed: t.Feed, wanted: FigureWanted) -> Iterator[Choice]:
    own, words = _own(feed, "spin"), spin_in_words(wanted)
    if own is None:
        other = _inherited(document, feed, wanted)
        line = ", ".join(one for one in (words, other) if one)
        yield Choice("move it", (_added(document, feed, f"spin {line}"),))
        return
    parts: Sequence[t.Spin] = own.parts
    axis = [one for one in parts if _axis(one) in (wanted.figure, None)]
    if not axis:
        yield Choice("move it", (Change(parts[-1].end, parts[-1].end, f", {words}"),))
    elif axis[0].value is not None and _says(axis[0], words):
        yield from _values(document, axis[0].value, in_words(wanted))
    else:
        yield Choice("move it", (Change(axis[0].start, axis[0].end, words),))


def spin_in_words(wanted: FigureWanted) -> str:
    """One part of a spin, its way before its size."""
    ways = {Figure.TOP: ("top", "back"), Figure.SIDE: ("side ad", "side deuce")}[wanted.figure]
    return f"{ways[wanted.value < 0]} {in_words(wanted)}"


def _axis(spin: t.Spin) -> Figure | None:
    """Which figure a part of a spin is; None for `flat`, which is both."""
    if spin.value is None:
        return None
    return Figure.SIDE if spin.words[0].lower().startswith("side") else Figure.TOP


def _says(spin: t.Spin, words: str) -> bool:
    """Whether a part of a spin goes the way that the new words do."""
    said = " ".join(spin.words).lower().replace("spin", "")
    return words.startswith(said)


def _inherited(document: Document, feed: t.Feed, wanted: FigureWanted) -> str:
    """The other part of the spin that a feed takes over: a line of its own must say it too."""
    assert document.verdict.program is not None
    wish = document.verdict.program.feeds.get(str(feed.name))
    other = Figure.SIDE if wanted.figure is Figure.TOP else Figure.TOP
    rpm = 0.0 if wish is None else wish.side_rpm if other is Figure.SIDE else wish.top_rpm
    if not rpm:
        return ""
    return spin_in_words(
        msgspec.structs.replace(wanted, figure=other, value=round(rpm, 2), unit="rpm")
    )


def _added(document: Document, feed: t.Feed, line: str) -> Change:
    """A line of the feed's own: the last of its block, or in a block that is made for it."""
    text = document.text
    brace = text.find("{", feed.name.end_pos, feed.end)
    if brace < 0:
        at = len(text[: feed.end].rstrip())
        return Change(at, at, f" with {{ {line} }}")
    if not feed.properties:
        return Change(brace + 1, brace + 1, f" {line} ")
    last = feed.properties[-1]
    if "\n" not in text[brace : feed.end]:
        return Change(last.end, last.end, f"  {line}")
    indent = text[: last.start].rpartition("\n")[2]
    indent = indent if not indent.strip() else "    "
    line_end = text.find("\n", last.end, feed.end)  # behind a remark on the last line
    at = line_end if line_end >= 0 else last.end
    return Change(at, at, f"\n{indent}{line}")


# --- values, by number or by name


def _values(
    document: Document, node: t.Value, words: str, pattern: t.Pattern | None = None
) -> Iterator[Choice]:
    """The number in place of the value; and another value for a name that it is written by."""
    here = (Change(node.start, node.end, words),)
    if isinstance(node, t.Quantity):
        yield Choice("move it", here)
        return
    written = document.text[node.start : node.end]
    yield Choice(f"write the number here, for {' '.join(written.split())}", here)
    if not isinstance(node, t.Name) or node.file is not None:
        return
    if pattern is not None and node.text in {str(param.name) for param in pattern.params}:
        yield from _by_parameter(document, pattern, node.text, words)
        return
    value = document.scope.defined(t.Let).get(node.text)
    if value is not None:
        yield _everywhere(value, words)


def _everywhere(let: t.Let, words: str) -> Choice:
    change = Change(let.value.start, let.value.end, words)
    return Choice(f"change {let.name} wherever it is used", (change,))


#: So many calls are offered one by one. Design value: more are not looked through.
_MOST_CALLS = 3


def _by_parameter(
    document: Document, pattern: t.Pattern, name: str, words: str
) -> Iterator[Choice]:
    """The same by what a call gives for a parameter, or by what it is where a call does not say."""
    calls = [one for one in _calls(document) if one.pattern.text == str(pattern.name)]
    given = [(call, slot) for call in calls if (slot := _slot(pattern, call, name)) is not None]
    for call, slot in given[:_MOST_CALLS]:
        line = document.scope.span(call).line
        change = Change(slot.value.start, slot.value.end, words)
        yield Choice(f"change it in the call on line {line}", (change,))
    if len(given) == len(calls) and calls:
        return
    default = next(one.default for one in pattern.params if str(one.name) == name)
    if isinstance(default, t.Name) and default.file is None:
        let = document.scope.defined(t.Let).get(default.text)
        if let is not None:
            yield _everywhere(let, words)
    if default is not None:
        change = Change(default.start, default.end, words)
        yield Choice(f"change {name} wherever {pattern.name} is called without it", (change,))


def _slot(pattern: t.Pattern, call: t.CallSyntax, name: str) -> t.Slot | None:
    """What a call says for a parameter."""
    names = [str(param.name) for param in pattern.params]
    for index, slot in enumerate(call.slots):
        if (names[index] if slot.name is None else str(slot.name)) == name:
            return slot
    return None


# --- the time before a ball


class SentAt(msgspec.Struct, frozen=True):
    """A step that sends a feed, and the value of its gap where it says one."""

    step: t.SendSyntax
    gap: t.Value | None
    pattern: t.Pattern | None  # in which it stands


def sends_of(document: Document, name: str) -> tuple[SentAt, ...]:
    """Every step of this text that sends a feed of this name, in order."""
    found = []
    for item in document.scope.tree.items:
        pattern = item if isinstance(item, t.Pattern) else None
        for step in _within(item, t.SendSyntax):
            feeds = (step.feed, *(one.feed for one in step.feeds))
            if name in {_called(feed) for feed in feeds if feed is not None}:
                found.append(SentAt(step, _gap_of(step), pattern))
    return tuple(sorted(found, key=lambda one: one.step.start))


def _gap_of(step: t.SendSyntax) -> t.Value | None:
    limits = () if step.request is None else step.request.limits
    return next((one.value for one in limits if one.gap), step.after)


def _called(feed: t.FeedRef) -> str:
    return f"mirror {feed.name.written}" if isinstance(feed, t.Mirrored) else feed.written


def _within(item: object, kind: type[K]) -> Iterator[K]:
    stack = [item]
    while stack:
        node = stack.pop()
        if isinstance(node, kind):
            yield node
        if isinstance(node, tuple):
            stack.extend(node)
        elif isinstance(node, t.SyntaxNode):
            stack.extend(getattr(node, name) for name in type(node).__struct_fields__[2:])


def _calls(document: Document) -> list[t.CallSyntax]:
    found = [
        one for one in _within(document.scope.tree.items, t.CallSyntax) if not one.pattern.file
    ]
    return sorted(found, key=lambda one: one.start)


def _gap(document: Document, wanted: FigureWanted) -> Moved:
    sends = sends_of(document, wanted.name.removesuffix(" (left-hander)"))
    if not 0 <= wanted.part < len(sends):
        return Moved(refused=f"no step here sends {wanted.name}: what does is in another file")
    sent, words = sends[wanted.part], in_words(wanted)
    asks = "The time before it is written by a name."
    if sent.gap is not None:
        return Moved(tuple(_values(document, sent.gap, words, sent.pattern)), asks=asks)
    if sent.step.request is not None:
        return Moved(refused="it is sent when the coach taps")
    end = sent.step.end if sent.step.feed is None else sent.step.feed.end
    return Moved((Choice("move it", (Change(end, end, f" after {words}"),)),))
