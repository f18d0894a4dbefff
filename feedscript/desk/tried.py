"""What becomes of a lesson when a ball jams in the middle of it: rehearsed, and told in words.

The rehearsal is the whole one, through engine, driver and wire, so it takes some seconds.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from feedscript.check.check_program import Verdict
from feedscript.launcher.port import Outcome
from feedscript.session.operator.phase_words import PHASES
from feedscript.session.operator.phases import Phase
from feedscript.session.rehearsal.rehearse import Rehearsal, Rehearsed, Said, rehearse

#: So many lines before the first trouble are told, so that one sees where it falls.
_BEFORE = 2

_OUTCOMES = {
    Outcome.LEFT: "leaves",
    Outcome.NOT_SENT: "does not leave",
    Outcome.UNKNOWN: "may have left or not",
}


class TriedLine(msgspec.Struct, frozen=True, array_like=True):
    """Something that happened, in words; ``at_s`` from the first ball, people's time included."""

    at_s: float
    words: str


class Tried(msgspec.Struct, frozen=True, kw_only=True):
    """The lesson around the jam, from shortly before it until balls leave again."""

    version: str
    finished: bool
    balls_left: int
    lines: tuple[TriedLine, ...]


def jammed(verdict: Verdict, version: str) -> Tried:
    """A lesson that passed, with its middle ball jammed. LauncherError where none can be played."""
    plan = verdict.plan
    assert plan is not None
    middle = max(2, plan.bounds.balls[1] // 2)
    rehearsal = rehearse(plan, verdict.profiles, "desk", faults=(f"jam={middle}",))
    return Tried(
        version=version,
        finished=rehearsal.ending.finished,
        balls_left=sum(ball.outcome is Outcome.LEFT for ball in rehearsal.balls),
        lines=_around_trouble(rehearsal),
    )


def _around_trouble(rehearsal: Rehearsal) -> tuple[TriedLine, ...]:
    happened = sorted(_in_order(rehearsal), key=lambda one: one[0])
    troubles = [index for index, (_, one) in enumerate(happened) if _is_trouble(one)]
    if not troubles:
        return ()
    leaves = [index for index, (_, one) in enumerate(happened) if _leaves(one)]
    first, last = troubles[0], troubles[-1]
    end = next((index for index in leaves if index > last), len(happened) - 1)
    told = happened[max(0, first - _BEFORE) : end + 1]
    return tuple(TriedLine(at_s, words) for at_s, one in told if (words := _words(one)))


def _in_order(rehearsal: Rehearsal) -> Iterator[tuple[float, Rehearsed | Said]]:
    """With when it happened: what was asked for ahead of other balls was due after them."""
    moment_s = 0.0
    for ball in sorted(rehearsal.balls, key=lambda ball: ball.feed_id):
        moment_s = max(moment_s, ball.at_s)
        yield moment_s, ball
    for said in rehearsal.said:
        yield said.at_s, said


def _leaves(one: Rehearsed | Said) -> bool:
    return isinstance(one, Rehearsed) and one.outcome is Outcome.LEFT


def _is_trouble(one: Rehearsed | Said) -> bool:
    if isinstance(one, Rehearsed):
        return not _leaves(one)
    return one.phase and one.text in (Phase.STOPPED, Phase.ASKING, Phase.HELD)


def _words(one: Rehearsed | Said) -> str:
    if isinstance(one, Said):
        return PHASES[Phase(one.text)].reported if one.phase else f"“{one.text}”"
    whose = "" if one.player is None else f" for {one.player}"
    # Who answered is no news here: it is the rehearsal's own person.
    why = f": {one.reason.removesuffix(' (script)')}" if one.reason else ""
    return f"a ball of {one.feed}{whose} {_OUTCOMES[one.outcome]}{why}"
