"""What may be expected of a lesson with a fault, and judging it by what the launchers saw.

Nothing here asks the host but ``written down``, which holds what the host wrote against what the
launchers saw.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable, Iterator, Sequence

import msgspec

from feedscript.launcher.port import LauncherState, Outcome
from feedscript.launcher.trials.far_end import Kind, Seen
from feedscript.launcher.trials.trial import Trial
from feedscript.plan.model import Plan
from feedscript.session.rehearsal.rehearse import Rehearsal

S = LauncherState
#: In these no ball leaves, and a person arms before the next one does.
_STOPPED = (S.SAFE, S.STOPPING, S.STOPPED, S.FAULT)
#: A ball that has passed the gate when it shuts still leaves, so long after at most. Design value.
PASSED_S = 0.3
#: Drives may be faster than they were asked to be by this share: a regulator's play. Design value.
PLAY = 0.02
_HAIR_S = 1e-6


class Case(msgspec.Struct, frozen=True, kw_only=True):
    """One program's lesson with one fault in it."""

    trial: Trial
    plan: Plan
    rehearsal: Rehearsal

    @property
    def struck_s(self) -> list[float]:
        """When the fault struck, each time."""
        rows = [*self.rehearsal.acts, *(row for seen in self.rehearsal.seen for row in seen)]
        name = self.trial.name
        return sorted(row.at_s for row in rows if row.kind is Kind.STRUCK and row.fault == name)

    @property
    def seen(self) -> tuple[Seen, ...]:
        """By the launcher that the fault is about."""
        return self.rehearsal.seen[self.trial.launcher - 1]

    def left(self) -> Iterator[tuple[int, Seen]]:
        """Every ball that left, with its launcher's place in the plan."""
        for launcher, seen in enumerate(self.rehearsal.seen):
            yield from ((launcher, row) for row in seen if row.kind is Kind.LEFT)


class Judged(msgspec.Struct, frozen=True):
    """Whether one expectation holds, and what was found."""

    words: str
    holds: bool
    figure: str


#: Judges a case, with the number of seconds that the words have, if any.
Judge = Callable[[Case, float], tuple[bool, str]]


def _state_rows(seen: Sequence[Seen]) -> list[Seen]:
    return [row for row in seen if row.kind is Kind.STATE]


def _state_at(seen: Sequence[Seen], at_s: float) -> LauncherState:
    rows = _state_rows(seen)
    before = bisect_right([row.at_s for row in rows], at_s - _HAIR_S)
    return rows[before - 1].state if before else S.SAFE


def _reached_after_s(
    seen: Sequence[Seen], struck_s: float, states: Sequence[LauncherState]
) -> float | None:
    """How long after the fault it was in one of these states; None: never again."""
    if _state_at(seen, struck_s) in states:
        return 0.0
    later = [row for row in _state_rows(seen) if row.at_s >= struck_s - _HAIR_S]
    return next((max(0.0, row.at_s - struck_s) for row in later if row.state in states), None)


def _stray(seen: Sequence[Seen], from_s: float, *, held: bool = False) -> Seen | None:
    """A ball that left after a moment and before a person armed the launcher after it; where it is
    held, before it was told to go on."""
    for row in seen:
        if row.at_s <= from_s + _HAIR_S:
            continue
        if row.kind is Kind.STATE and row.state is S.ARMED and (held or row.by_person):
            return None
        if row.kind is Kind.LEFT:
            return row
    return None


def _stopped(seen: Sequence[Seen], struck: Sequence[float], within_s: float) -> tuple[bool, str]:
    longest = 0.0
    for at_s in struck:
        after_s = _reached_after_s(seen, at_s, _STOPPED)
        if after_s is None:
            return False, "it never stopped"
        stray = _stray(seen, at_s + within_s)
        if stray is not None:
            return False, f"a ball left {stray.at_s - at_s:.2f} s after"
        longest = max(longest, after_s)
    return longest <= within_s + _HAIR_S, f"after {longest:.2f} s"


def _stopped_within(case: Case, within_s: float) -> tuple[bool, str]:
    return _stopped(case.seen, case.struck_s, within_s)


def _all_stopped_within(case: Case, within_s: float) -> tuple[bool, str]:
    found = [_stopped(seen, case.struck_s, within_s) for seen in case.rehearsal.seen]
    return all(held for held, _ in found), next((why for held, why in found if not held), "all")


def _held_within(case: Case, within_s: float) -> tuple[bool, str]:
    longest = 0.0
    for seen in case.rehearsal.seen:
        for at_s in case.struck_s:
            after_s = _reached_after_s(seen, at_s, (S.HELD, *_STOPPED))
            if after_s is None:
                return False, "it was never held"
            stray = _stray(seen, at_s + max(within_s, PASSED_S), held=True)
            if stray is not None:
                return False, f"a ball left {stray.at_s - at_s:.2f} s after"
            longest = max(longest, after_s)
    return longest <= within_s + _HAIR_S, f"after {longest:.2f} s"


def _without_power_within(case: Case, within_s: float) -> tuple[bool, str]:
    rows = [row for row in case.seen if row.kind is Kind.POWER]
    longest = 0.0
    for at_s in case.struck_s:
        powered = next((row.powered for row in reversed(rows) if row.at_s < at_s - _HAIR_S), False)
        off = [row.at_s for row in rows if row.at_s >= at_s - _HAIR_S and not row.powered]
        if powered and not off:
            return False, "its drives kept their power"
        longest = max(longest, off[0] - at_s if powered else 0.0)
    return longest <= within_s + _HAIR_S, f"after {longest:.2f} s"


def _nothing_twice(case: Case, _: float) -> tuple[bool, str]:
    counts = Counter((launcher, row.session, row.feed_id) for launcher, row in case.left())
    twice = [feed for (_, _, feed), count in counts.items() if count > 1 and feed]
    return not twice, f"ball {twice[0]} left again" if twice else f"{len(counts)} balls"


def _armed_by_a_person(case: Case, _: float) -> tuple[bool, str]:
    acts = 0
    for seen in case.rehearsal.seen:
        armed, since_s = False, float("-inf")
        for row in seen:
            if row.kind is Kind.STATE and row.state is S.ARMED and row.by_person:
                armed, acts = True, acts + 1
            elif row.kind is Kind.STATE and row.state in _STOPPED:
                armed, since_s = False, row.at_s if armed else since_s
            elif row.kind is Kind.LEFT and not armed and row.at_s > since_s + PASSED_S:
                return False, f"ball {row.feed_id} left a launcher that nobody had armed"
    return True, f"armed {acts} times"


def _goes_on(case: Case, _: float) -> tuple[bool, str]:
    last_s = max(case.struck_s, default=0.0)
    after = sum(row.at_s > last_s + _HAIR_S for _, row in case.left())
    return after > 0, f"{after} balls left after it"


def _no_ball_after(case: Case, _: float) -> tuple[bool, str]:
    last_s = max(case.struck_s, default=0.0)
    after = sum(row.at_s > last_s + _HAIR_S for row in case.seen if row.kind is Kind.LEFT)
    return after == 0, f"{after} balls left after it"


def _written_down(case: Case, _: float) -> tuple[bool, str]:
    left = {(launcher, row.feed_id) for launcher, row in case.left() if row.feed_id}
    wrote: dict[Outcome, set[tuple[int, int]]] = {outcome: set() for outcome in Outcome}
    for ball in case.rehearsal.balls:
        wrote[ball.outcome].add((ball.launcher, ball.feed_id))
    missing = left - wrote[Outcome.LEFT] - wrote[Outcome.UNKNOWN]
    if missing:
        return False, f"ball {min(missing)[1]} left, and is not written down so"
    invented = wrote[Outcome.LEFT] - left
    if invented:
        return False, f"ball {min(invented)[1]} is written down, and did not leave"
    return True, f"all {len(left)} balls"


def _none_too_fast(case: Case, _: float) -> tuple[bool, str]:
    for launcher, row in case.left():
        asked = [feed.setting.drives for feed in case.plan.feeds if feed.launcher == launcher]
        for number, drive in enumerate(row.drives):
            most = max((abs(drives[number]) for drives in asked if number < len(drives)), default=0)
            if abs(drive) > most * (1 + PLAY) + 1.0:
                return False, f"drive {number + 1} at {drive:.0f}, {most:.0f} at most are certified"
    return True, "all as certified"


#: Every expectation: its words, with `N` for a number of seconds, and what they mean.
WORDS: dict[str, tuple[Judge, str]] = {
    "stopped within N s": (
        _stopped_within,
        "the fault's launcher stops, and no ball leaves it after so long until a person arms it",
    ),
    "all stopped within N s": (_all_stopped_within, "the same of every launcher"),
    "held within N s": (_held_within, "every launcher holds or stops"),
    "without power within N s": (_without_power_within, "its drives lose their power"),
    "nothing twice": (_nothing_twice, "no feed leaves a second time"),
    "armed by a person": (
        _armed_by_a_person,
        "no ball leaves after a stop, a fault or a power cut before a person armed the launcher",
    ),
    "written down": (_written_down, "what the host wrote of each ball is what became of it"),
    "none too fast": (_none_too_fast, "no drive is faster than the certified plan's fastest"),
    "goes on": (_goes_on, "balls leave after it"),
    "no ball after": (_no_ball_after, "no ball leaves the fault's launcher after it"),
}

_NUMBER = re.compile(r"\d+(?:\.\d+)?")


def shape_of(words: str) -> str:
    """Words with `N` for their number."""
    return _NUMBER.sub("N", " ".join(words.split()))


def judge(words: str, case: Case) -> Judged:
    """Whether a known expectation holds of a case in which the fault struck."""
    found = _NUMBER.search(words)
    holds, figure = WORDS[shape_of(words)][0](case, float(found[0]) if found else 0.0)
    return Judged(words, holds, figure)
