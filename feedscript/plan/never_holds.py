"""Questions to the record that no run can answer with yes: fewer balls come before than they need.

A ``when`` looks at its turn so far, or at all balls of a player; most balls are counted that can
have been fed by then as the program is written, every repeat of an exercise used. There is none
that always holds: what is recorded, and whether anything is, is a person's matter.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from feedscript.diagnostics import Diagnostic, Page
from feedscript.plan.bodies import bodies, within
from feedscript.plan.model import (
    Choose,
    Condition,
    Exercise,
    OnRequest,
    Plan,
    Repeat,
    Send,
    Shuffle,
    Step,
    Together,
    Turns,
    Until,
    When,
)
from feedscript.plan.places import Places

_ASKED = """feedscript 1
group {{ players "Ana", "Ben" }}
feed deep {{ land 2 m inside baseline, on centre line  speed 66 km/h }}
lesson {{
    show speed of deep
    for each player {{
        repeat {balls} {{ send deep after 5 s }}
        when 70 % in of last 10 {{ say "Closer to the line now." }}
        rest 12 s
    }}
}}
"""

NEVER_HOLDS = Page(
    slug="never-holds",
    title="A question that no run can answer with yes",
    why="""`when` looks at the balls of the turn so far, and `when "Ana" has` at all that Ana has
had in the lesson. Where fewer come before it than it needs, what stands in it is never done.""",
    wrong=_ASKED.format(balls=6),
    corrected=_ASKED.format(balls=10),
)


class _Part(msgspec.Struct, frozen=True):
    """Steps that come before a place so many times; who is there, and whether one is on turn."""

    steps: Sequence[Step]
    times: int
    here: tuple[int, ...]
    on: bool


class _Place(msgspec.Struct, frozen=True):
    """Where a question may stand: what comes before it, and from where on that is its own turn,
    station or lesson."""

    before: tuple[_Part, ...]
    since: int
    launcher: int
    here: tuple[int, ...]
    on: bool

    def after(self, steps: Sequence[Step], times: int = 1) -> _Place:
        part = _Part(steps, times, self.here, self.on)
        return msgspec.structs.replace(self, before=(*self.before, part))


def never_holding(plan: Plan, places: Places) -> tuple[Diagnostic, ...]:
    """Every such question, at its place."""
    if not any(isinstance(step, When) for step in within(plan.steps)):
        return ()
    everyone = tuple(range(len(plan.group.players)))
    start = _Place((), 0, 0, everyone, len(everyone) < 2)
    return tuple(
        _report(plan, places, question, place)
        for question, place in _questions(plan.steps, start)
        if _most_before(plan, question.condition, place) < question.condition.at_least
    )


def _questions(steps: Sequence[Step], place: _Place) -> Iterator[tuple[When, _Place]]:
    """Each question with its place; what is done again comes before itself."""
    for step in steps:
        if isinstance(step, When):
            yield step, place
        for body, inner in _inside(step, place):
            yield from _questions(body, inner)
        place = place.after((step,))


def _inside(step: Step, place: _Place) -> Iterator[tuple[Sequence[Step], _Place]]:
    """The bodies of a step, each with the place at which its last pass begins."""
    if isinstance(step, Turns):
        turns = place.after((step,))
        turn = msgspec.structs.replace(turns, since=len(turns.before), on=True)
        yield step.body, turn.after(step.body, step.passes - 1)
    elif isinstance(step, Together):
        for station in step.stations:
            yield (
                station.body,
                msgspec.structs.replace(
                    place,
                    since=len(place.before),
                    launcher=station.counted,
                    here=station.players,
                    on=len(station.players) == 1,
                ),
            )
    else:
        again = _times(step) - 1
        for body in bodies(step):
            yield body, place.after(body, again)


def _times(step: Step) -> int:
    """How often a body is done at most."""
    match step:
        case Repeat():
            return step.times
        case Until() | OnRequest():
            return step.at_most
        case Exercise():
            return 1 + step.repeats
        case _:
            return 1


def _most_before(plan: Plan, asked: Condition, place: _Place) -> int:
    parts = place.before[0 if asked.player is not None else place.since :]
    return sum(
        part.times * _balls(plan, asked, place.launcher, part.steps, part.here, on=part.on)
        for part in parts
    )


def _balls(
    plan: Plan,
    asked: Condition,
    launcher: int,
    steps: Sequence[Step],
    here: tuple[int, ...],
    *,
    on: bool,
) -> int:
    """The most balls in these steps that the question looks at; ``on``: they are the player's."""

    def inside(body: Sequence[Step], there: tuple[int, ...] = here, its: bool = on) -> int:
        return _balls(plan, asked, launcher, body, there, on=its)

    total = 0
    for step in steps:
        if isinstance(step, Send):
            total += _counts(plan, asked, launcher, step) and (asked.player is None or on)
        elif isinstance(step, Turns):
            of = here if step.players is None else step.players
            turns = [of[slot % len(of)] for slot in range(step.slots)] if of else []
            slots = step.slots if asked.player is None else turns.count(asked.player)
            total += slots * step.passes * inside(step.body, here, True)
        elif isinstance(step, Together):
            for one in step.stations:
                if asked.player is None or asked.player in one.players:
                    total += inside(one.body, one.players, len(one.players) == 1)
        elif isinstance(step, Choose | When):
            total += max(map(inside, bodies(step)), default=0)
        elif isinstance(step, Shuffle):
            total += sum(map(inside, step.items))
        else:
            total += _times(step) * sum(map(inside, bodies(step)))
    return total


def _counts(plan: Plan, asked: Condition, launcher: int, step: Send) -> bool:
    """Whether a ball of this step may be one that is looked at."""
    feeds = step.all_feeds()
    here = asked.player is not None or plan.feeds[feeds[0]].launcher == launcher
    return here and (asked.feeds is None or not set(feeds).isdisjoint(asked.feeds))


def _report(plan: Plan, places: Places, question: When, place: _Place) -> Diagnostic:
    asked = question.condition
    most = _most_before(plan, asked, place)
    whose = "" if asked.player is None else f" of {plan.group.players[asked.player].name}"
    count = f"{most} ball comes" if most == 1 else f"{most} balls come"
    return NEVER_HOLDS.report(
        f"this needs {asked.at_least} balls, and at most {count} before it{whose}",
        help="ask for fewer, or put it behind the balls that it is about, in the same turn",
        span=places.step(question.line),
    )
