"""What the hour will hold: play, change-overs, collecting, what people do at launchers, breaks.

The plan knows its own time to the millisecond. What people take is reckoned from the design values
below, which stand here alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import msgspec

from feedscript.diagnostics import Diagnostic, Page, Severity, Span
from feedscript.plan.interpreter.actions import (
    Action,
    Ask,
    BeginExercise,
    EndExercise,
    PickUp,
    Reply,
    SendBall,
    TakeTurn,
    WatchSpeed,
)
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Exercise, Plan
from feedscript.units import spoken_time

# Design values, none of them measured: a person bends for a ball and brings it to a basket, walks
# over the court with the basket, looks over the list and arms, watches one ball from the side.
PICK_UP_S = 3.0
WALK_MPS = 1.2
ARM_S = 30.0
WATCH_S = 20.0
#: More people than this stand in each other's way. Design value.
MOST_PICKERS = 6

#: A lesson that is longer than planned by more than this share is noted. Design value.
OVER = 0.1

LONG_HOUR = Page(
    slug="long-hour",
    title="The lesson is longer than the time meant for it",
    why="""`lesson of 60 min { … }` says how long the lesson should be. The check adds up play,
change-overs, collecting, arming and breaks, and says when that is over by more than a
tenth, with what could go. What people take is reckoned from design values: a warning,
which refuses nothing.""",
    severity=Severity.WARNING,
    wrong="""feedscript 1
feed deep { land 2 m inside baseline, on centre line  speed 66 km/h }
lesson of 10 min {
    show speed of deep
    exercise "Depth" { repeat 10 { repeat 6 { send deep after 5 s }  rest 30 s } }
    exercise "Again" { repeat 3 { repeat 6 { send deep after 5 s }  rest 30 s } }
}
""",
    corrected="""feedscript 1
feed deep { land 2 m inside baseline, on centre line  speed 66 km/h }
lesson of 10 min {
    show speed of deep
    exercise "Depth" { repeat 6 { repeat 6 { send deep after 5 s }  rest 30 s } }
}
""",
)


class OwnCollects(msgspec.Struct, frozen=True):
    """How long a coach's own collects took: the median share of what is reckoned, of so many."""

    share: float
    count: int


class Part(msgspec.Struct, frozen=True, kw_only=True):
    """An exercise: how long it takes with its collects, and how long it is meant to take."""

    title: str
    takes_s: float
    planned_s: float | None


class Hour(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson as long as it can be, in parts that add up; every part in seconds."""

    planned_s: float | None
    play_s: float
    change_overs_s: float  # from the last ball's landing to the first of the next turn
    collecting_s: float
    people_s: float  # arming, and watching speeds
    breaks_s: float
    spare_s: float  # of exercises' planned minutes that their balls do not fill
    exercises: tuple[Part, ...]
    own_collects: OwnCollects | None = None  # by which collecting is reckoned, where known

    @property
    def whole_s(self) -> float:
        """All of it."""
        play = self.play_s + self.change_overs_s + self.breaks_s
        return play + self.collecting_s + self.people_s + self.spare_s


def speaks_of_time(plan: Plan) -> bool:
    """Whether a coach wants to know of the hour: it has a length, or exercises."""
    return plan.planned_s is not None or any(isinstance(one, Exercise) for one in plan.steps)


def hour_of(plan: Plan, own: OwnCollects | None = None) -> Hour:
    """What the lesson will hold: the run of its own seed, stretched to the longest there can be."""
    share = own.share if own is not None else 1.0
    actions = list(run_through(plan, not_yet))
    breaks_s = sum(one.break_s or 0.0 for one in actions if isinstance(one, PickUp))
    changes_s = _change_overs_s(actions)
    parts = tuple(_parts(plan, actions, share))
    planned = ((part.planned_s or 0.0) - part.takes_s for part in parts)
    return Hour(
        planned_s=plan.planned_s,
        play_s=max(0.0, plan.bounds.time_s[1] - breaks_s - changes_s),
        change_overs_s=changes_s,
        collecting_s=_collecting_s(plan, actions, share, at_end=True),
        own_collects=own,
        people_s=_people_s(actions),
        breaks_s=breaks_s,
        spare_s=sum(spare for spare in planned if spare > 0.0),
        exercises=parts,
    )


def not_yet(action: Action) -> Reply:
    """No row of hits ends a series early."""
    return False if isinstance(action, Ask) else None


def collect_s(plan: Plan, balls: int) -> float:
    """How long it takes this group to pick up so many balls and bring them to the launcher."""
    if not balls:
        return 0.0
    people = min(MOST_PICKERS, len(plan.group.players) + 1)
    far_m = max(
        math.dist(feed.landing_m, plan.launchers[feed.launcher].mouth_m[:2]) for feed in plan.feeds
    )
    return math.ceil(balls / people) * PICK_UP_S + 2 * far_m / WALK_MPS


def _collecting_s(plan: Plan, actions: Sequence[Action], share: float, *, at_end: bool) -> float:
    """At every collect what has left since the one before; a break's own time comes off."""
    total_s, lying = 0.0, 0
    for action in actions:
        if isinstance(action, SendBall | WatchSpeed):
            lying += 1
        elif isinstance(action, PickUp):
            total_s += max(0.0, share * collect_s(plan, lying) - (action.break_s or 0.0))
            lying = 0
    return total_s + (share * collect_s(plan, lying) if at_end else 0.0)


def _people_s(actions: Sequence[Action]) -> float:
    shown = sum(isinstance(one, WatchSpeed) for one in actions)
    return ARM_S * (1 + sum(isinstance(one, PickUp) for one in actions)) + WATCH_S * shown


def _change_overs_s(actions: Sequence[Action]) -> float:
    """Of stations side by side, those of the one at which they take longest."""
    called: dict[str, float] = {}
    took: dict[str, float] = {}
    balls = False
    for action in actions:
        if isinstance(action, TakeTurn) and balls:
            called[action.station] = action.called_s
        elif isinstance(action, PickUp):
            called.clear()
        elif isinstance(action, SendBall):
            balls = True
            since = called.pop(action.station, None)
            if since is not None:
                change_s = max(0.0, action.at_s - since)  # it may leave while one is in the air
                took[action.station] = took.get(action.station, 0.0) + change_s
    alone = took.pop("", 0.0)
    return alone + max(took.values(), default=0.0)


def _parts(plan: Plan, actions: Sequence[Action], share: float) -> Iterable[Part]:
    exercises = [step for step in plan.steps if isinstance(step, Exercise)]
    inside: list[Action] = []
    begun_s = 0.0
    for action in actions:
        if isinstance(action, BeginExercise):
            inside, begun_s = [], action.at_s
        elif isinstance(action, EndExercise):
            collects = sum(isinstance(one, PickUp) for one in inside)
            takes_s = action.at_s - begun_s + ARM_S * collects
            takes_s += _collecting_s(plan, inside, share, at_end=False)
            exercise = exercises[action.number - 1]
            yield Part(title=exercise.title, takes_s=takes_s, planned_s=exercise.planned_s)
        else:
            inside.append(action)


def over_time(hour: Hour, span: Span | None) -> Diagnostic | None:
    """The lesson is longer than planned by more than a tenth, and what could go."""
    if hour.planned_s is None or hour.whole_s <= (1 + OVER) * hour.planned_s:
        return None
    over_s = hour.whole_s - hour.planned_s
    whole, planned, over = (spoken_time(s) for s in (hour.whole_s, hour.planned_s, over_s))
    return LONG_HOUR.report(
        f"the lesson comes to {whole}, and {planned} are meant for it: {over} too long",
        help=_what_could_go(hour, over_s),
        span=span,
    )


def _what_could_go(hour: Hour, over_s: float) -> str:
    if not hour.exercises:
        return f"leave out {spoken_time(over_s)}: repeat less, or shorten the rests"
    longest_first = sorted(hour.exercises, key=lambda part: -_whole_s(part))
    enough = [part for part in longest_first if _whole_s(part) >= over_s]
    parts = enough[-1:] or longest_first[:2]
    named = " and ".join(f'"{part.title}" ({spoken_time(_whole_s(part))})' for part in parts)
    return f"what could go: {named}; or shorten others"


def _whole_s(part: Part) -> float:
    return max(part.takes_s, part.planned_s or 0.0)


def in_words(hour: Hour) -> list[str]:
    """The hour in a few lines, for a person."""
    planned = "" if hour.planned_s is None else f" of {spoken_time(hour.planned_s)} planned"
    parts = (
        ("play", hour.play_s),
        ("change-overs", hour.change_overs_s),
        ("collecting", hour.collecting_s),
        ("arming and watching", hour.people_s),
        ("breaks", hour.breaks_s),
        ("to spare in exercises", hour.spare_s),
    )
    said = ", ".join(f"{word} {spoken_time(seconds)}" for word, seconds in parts if seconds >= 0.5)
    lines = [f"The hour holds about {spoken_time(hour.whole_s)}{planned}: {said}."]
    if hour.own_collects is not None:
        own = hour.own_collects
        lines.append(
            f"  Collecting as your own last {own.count} collects took: {own.share:.0%} of what is "
            "reckoned without them."
        )
    for number, part in enumerate(hour.exercises, 1):
        meant = "" if part.planned_s is None else f", planned {spoken_time(part.planned_s)}"
        lines.append(f"  {number}. {part.title}: {spoken_time(part.takes_s)}{meant}")
    return lines
