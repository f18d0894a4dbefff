"""How long a step of the lesson is, as its words say it, and other numbers in their place.

Minutes, seconds, balls and rounds: each stands where the step says it, or in the arguments of the
pattern that it calls. Only that number changes. Where it is written by a name, there are two ways
to have it, and both are offered; what is worked out from others is for a person to change.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import msgspec

from feedscript.editor.fixes import Change
from feedscript.editor.order import lesson_in
from feedscript.editor.wanted import Choice, Moved
from feedscript.language.parse import tree as t
from feedscript.language.resolve.scope import Scope
from feedscript.units import UNITS, Dimension

#: More than this no lesson has of anything; beyond it, it is a slip of the hand. Design value.
MOST = 10_000
#: Seconds go in steps of five from here on. Design value.
_LONG_S = 20.0
#: The number of the lesson itself, whose steps count from 0.
WHOLE = -1

#: The field of each step that has a number of its own, and the words before and behind it.
_OWN: Mapping[type, tuple[str, str, str]] = {
    t.Lesson: ("planned", "lesson of", ""),
    t.ExerciseSyntax: ("planned", "planned for", ""),
    t.BreakSyntax: ("value", "break", ""),
    t.RestSyntax: ("value", "rest", ""),
    t.RepeatSyntax: ("times", "repeat", "times"),
    t.UntilSyntax: ("most", "at most", "times"),
    t.ForTimeSyntax: ("value", "for", ""),
    t.RotateSyntax: ("every", "a turn every", ""),
    t.RotateStationsSyntax: ("every", "stations change every", ""),
    t.WorkSyntax: ("time", "work for", ""),
    t.WorkTimeSyntax: ("time", "work for", ""),
}


class Length(msgspec.Struct, frozen=True, kw_only=True):
    """A number that says how long something is, with the words around it.

    ``value`` is in its own ``unit`` ("" of a count), None where it is worked out from others; it
    goes by ``step``. ``start`` and ``end``: its words in this text; the same where there are none.
    """

    before: str
    after: str
    written: str
    value: float | None
    unit: str
    step: float
    start: int
    end: int


class _Found(msgspec.Struct, frozen=True, kw_only=True):
    """Where a number stands: its node, in the file of ``home``.

    Where this text has none, ``put_in`` says where one goes, and what is written before it.
    """

    node: t.Value
    before: str
    after: str = ""
    home: Scope
    put_in: tuple[int, str] | None = None


def lengths_of(scope: Scope, step: int) -> tuple[Length, ...]:
    """Every length in the lesson's step of this number, its own first; ``WHOLE``: the lesson's."""
    return tuple(_length(one) for one in _of_step(scope, step))


def stretched(scope: Scope, step: int, number: int, to: float) -> Moved:
    """How the words change so that a length of a step is another, in its own unit. Never raises.

    ``number``: which of ``lengths_of`` that step.
    """
    found = list(_of_step(scope, step))
    if not 0 <= number < len(found):
        return Moved(refused="there is no such number here any more")
    one, length = found[number], _length(found[number])
    if length.value is None:
        said = f"`{length.written}` is worked out from others"
        return Moved(refused=f"{said}: change it in the words")
    least = 0.01 if length.unit else 1.0
    whole = length.unit or to == round(to)
    if not (least <= to <= MOST and whole):
        return Moved(refused=f"it is from {least:g} to {MOST}{'' if length.unit else ', whole'}")
    return Moved(tuple(_choices(scope, one, length, f"{round(to, 2):g}")))


def _of_step(scope: Scope, step: int) -> Iterator[_Found]:
    lesson = lesson_in(scope)
    if lesson is not None and step == WHOLE:
        yield from _own(scope, lesson)
    elif lesson is not None and 0 <= step < len(lesson.body.steps):
        yield from _found(scope, lesson.body.steps[step])


# --- where numbers stand


def _found(scope: Scope, step: t.SyntaxNode) -> Iterator[_Found]:
    if isinstance(step, t.CallSyntax):
        yield from _of_call(scope, step)
        return
    yield from _own(scope, step)
    for inner in _inside(step):
        yield from _found(scope, inner)


def _own(scope: Scope, step: t.SyntaxNode) -> Iterator[_Found]:
    if isinstance(step, t.SendSyntax) and step.request is not None:
        for limit in step.request.limits:
            if not limit.gap:
                yield _Found(node=limit.value, before="at most", after="balls", home=scope)
    field, before, after = _OWN.get(type(step), ("", "", ""))
    node = getattr(step, field) if field else None
    if node is not None:
        balls = isinstance(step, t.RotateSyntax) and step.balls
        yield _Found(node=node, before=before, after="balls" if balls else after, home=scope)


def _inside(step: t.SyntaxNode) -> Iterator[t.SyntaxNode]:
    """The steps straight inside, in the order of the text."""
    for field in type(step).__struct_fields__[2:]:
        value = getattr(step, field)
        for one in value if isinstance(value, tuple) else (value,):
            if isinstance(one, t.Block):
                yield from one.steps
            elif isinstance(one, t.OptionSyntax | t.StationSyntax):
                yield from one.body.steps


def _of_call(scope: Scope, call: t.CallSyntax) -> Iterator[_Found]:
    """The counts and times that a pattern takes: as given, or as it has them by itself."""
    home = scope if call.pattern.file is None else scope.files.get(call.pattern.file)
    pattern = None if home is None else home.defined(t.Pattern).get(call.pattern.text)
    if home is None or pattern is None:
        return
    given = _given(call, pattern)
    end = call.start + len(scope.source.text[call.start : call.end].rstrip()) - 1
    for param in pattern.params:
        name = str(param.name)
        if str(param.kind).lower() not in ("count", "time"):
            continue
        if name in given:
            yield _Found(node=given[name], before=name, home=scope)
        elif param.default is not None:
            put_in = end, f"{', ' if call.slots else ''}{name} = "
            yield _Found(node=param.default, before=name, home=home, put_in=put_in)


def _given(call: t.CallSyntax, pattern: t.Pattern) -> dict[str, Any]:
    """The arguments by the parameters' names."""
    names = [str(param.name) for param in pattern.params]
    found = {}
    for place, slot in enumerate(call.slots):
        name = str(slot.name) if slot.name is not None else "".join(names[place : place + 1])
        found[name] = slot.value
    return found


# --- what they are


def _length(one: _Found) -> Length:
    quantity = _quantity(one.home, one.node)
    unit = "" if quantity is None or quantity.unit is None else str(quantity.unit)
    known = quantity is not None and quantity.number.good
    value = float(quantity.number.raw) if known and quantity is not None else None
    start, end = (one.node.start, one.node.end) if one.put_in is None else 2 * (one.put_in[0],)
    return Length(
        before=one.before,
        after=one.after,
        written=one.home.written(one.node),
        value=value,
        unit=unit,
        step=_step(unit, value or 0.0),
        start=start,
        end=end,
    )


def _quantity(home: Scope, node: t.Value) -> t.Quantity | None:
    """The number with its unit; that of the name, where a name of the file stands for it."""
    for _ in range(len(home.names) + 1):
        if isinstance(node, t.Name) and node.file is None and (let := _let(home, node)):
            node = let.value
    return node if isinstance(node, t.Quantity) else None


def _let(home: Scope, name: t.Name) -> t.Let | None:
    return home.defined(t.Let).get(name.text)


def _step(unit: str, value: float) -> float:
    """Counts and minutes go by one, long times in seconds by five."""
    known = UNITS.get(unit)
    if known is None or known.dimension is not Dimension.TIME or known.factor == 60.0:
        return 1.0
    if known.factor > 60.0:
        return 0.25
    return 5.0 if known.factor == 1.0 and value >= _LONG_S else 1.0


# --- the words of another one


def _choices(scope: Scope, one: _Found, length: Length, number: str) -> Iterator[Choice]:
    words = f"{number} {length.unit}".rstrip()
    if one.put_in is not None:
        at, before = one.put_in
        yield Choice("change it", (Change(at, at, before + words),))
        return
    if isinstance(one.node, t.Quantity):
        yield Choice("change it", (_number(one.node, number),))
        return
    yield Choice("write the number here", (Change(one.node.start, one.node.end, words),))
    quantity = _quantity(scope, one.node)
    if isinstance(one.node, t.Name) and quantity is not None:
        let = _let(scope, one.node)
        name = one.node.text if let is not None and let.value is quantity else _last(scope, one)
        yield Choice(f"change {name} wherever it is used", (_number(quantity, number),))


def _last(scope: Scope, one: _Found) -> str:
    """The name at the end of a chain of names, which has the number."""
    node: t.Value = one.node
    name = ""
    while isinstance(node, t.Name) and (let := _let(scope, node)):
        name, node = node.text, let.value
    return name


def _number(quantity: t.Quantity, number: str) -> Change:
    """Only the number: its unit stays as it is written."""
    return Change(quantity.number.start, quantity.number.end, number)
