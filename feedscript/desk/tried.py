"""What becomes of a lesson when something goes wrong in the middle of it: rehearsed, told in words.

The rehearsal is the whole one, through engine, driver and wire, so it takes some seconds.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from enum import StrEnum

import msgspec

from feedscript.check.check_program import Verdict
from feedscript.launcher.port import Outcome
from feedscript.plan.model import Plan
from feedscript.session.operator.phase_words import PHASES
from feedscript.session.operator.phases import Phase
from feedscript.session.rehearsal.late import Late
from feedscript.session.rehearsal.rehearse import Rehearsal, Rehearsed, rehearse
from feedscript.session.rehearsal.said import Said
from feedscript.tongues import terms
from feedscript.tongues.text import Text, _, joined, n_

#: So many lines before the first trouble are told, so that one sees where it falls.
_BEFORE = 2


def _ball_of(feed: str, outcome: Outcome) -> Text:
    if outcome is Outcome.LEFT:
        return _("a ball of {feed} leaves", feed=feed)
    if outcome is Outcome.NOT_SENT:
        return _("a ball of {feed} does not leave", feed=feed)
    return _("a ball of {feed} may have left or not", feed=feed)


class Trial(StrEnum):
    """What may go wrong."""

    JAM = "jam"  # the middle ball jams
    LINK = "link"  # the line is cut as the middle ball leaves
    EMPTY = "empty"  # half of the balls that are needed lie in the hopper at first
    LATE = "late"  # a player comes in the middle


class TriedLine(msgspec.Struct, frozen=True, array_like=True):
    """Something that happened, in words; ``at_s`` from the first ball, people's time included."""

    at_s: float
    words: str


class Tried(msgspec.Struct, frozen=True, kw_only=True):
    """The lesson around the trouble, from shortly before it until balls leave again."""

    version: str
    finished: bool
    balls_left: int
    words: str  # what comes of it, in a sentence
    lines: tuple[TriedLine, ...]


def tried(verdict: Verdict, version: str, trial: Trial, late: int = 0) -> Tried:
    """A lesson that passed, with this trouble; ``late``: which player, by number, comes late.

    LauncherError where none can be played.
    """
    plan = verdict.plan
    assert plan is not None
    middle = max(2, plan.bounds.balls[1] // 2)
    if trial is Trial.LATE:
        player = plan.group.players[min(late, len(plan.group.players) - 1)].name
        return _late(verdict, plan, version, Late(player, middle))
    rehearsal = rehearse(plan, verdict.profiles, "desk", faults=(_fault(verdict, trial, middle),))
    left = _left(rehearsal)
    if rehearsal.ending.finished:
        found = joined("; ", (one.message for one in rehearsal.ending.diagnostics[-1:]))
        goes = _("The lesson goes on after it, and {n} balls leave in all.", n=left)
        words = _("{found}. {goes}", found=found, goes=goes) if found else goes
    else:
        cause = rehearsal.ending.cause
        words = _("The lesson does not come to its end: {cause}.", cause=cause)
    return Tried(
        version=version,
        finished=rehearsal.ending.finished,
        balls_left=left,
        words=_("{words} With people's time, as rehearsed:", words=words),
        lines=(*_around_trouble(rehearsal), *_advice(rehearsal)),
    )


def _fault(verdict: Verdict, trial: Trial, middle: int) -> str:
    """The trouble as the simulated launcher is told of it."""
    if trial is Trial.EMPTY:
        clauses = () if verdict.certificate is None else verdict.certificate.clauses
        needed = next((one.worst for one in clauses if one.rule == "short-of-balls"), None)
        return f"loaded={max(1, int(needed or middle) // 2)}"
    return f"jam={middle}" if trial is Trial.JAM else f"cut={middle}"


def _left(rehearsal: Rehearsal) -> int:
    return sum(map(_leaves, rehearsal.balls))


# --- trouble at the launcher


def _around_trouble(rehearsal: Rehearsal) -> Iterator[TriedLine]:
    happened = sorted(_in_order(rehearsal), key=lambda one: one[0])
    troubles = [index for index, (_, one) in enumerate(happened) if _is_trouble(one)]
    if not troubles:
        return
    leaves = [index for index, (_, one) in enumerate(happened) if _leaves(one)]
    first, last = troubles[0], troubles[-1]
    end = next((index for index in leaves if index > last), len(happened) - 1)
    for at_s, one in happened[max(0, first - _BEFORE) : end + 1]:
        if words := _words(one):
            yield TriedLine(at_s, words)


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
    return one.phase and one.text in (Phase.STOPPED, Phase.ASKING, Phase.HELD, Phase.BROKEN_OFF)


def _words(one: Rehearsed | Said) -> str:
    if isinstance(one, Said):
        return PHASES[Phase(one.text)].reported if one.phase else f"“{one.text}”"
    feed = terms.feed(one.feed)
    if one.player is not None:
        feed = _("{feed} for {player}", feed=feed, player=one.player)
    ball = _ball_of(feed, one.outcome)
    # Who answered is no news here: it is the rehearsal's own person.
    why = one.reason.removesuffix(" (script)")
    return _("{ball}: {why}", ball=ball, why=why) if why else ball


def _advice(rehearsal: Rehearsal) -> Iterator[TriedLine]:
    """What a person is told to do about a lesson that did not come to its end."""
    end_s = max((said.at_s for said in rehearsal.said), default=0.0)
    for one in rehearsal.ending.diagnostics[-1:] if not rehearsal.ending.finished else ():
        if one.help:
            yield TriedLine(end_s, _("what to do: {advice}", advice=one.help))


# --- a player who comes late


def _late(verdict: Verdict, plan: Plan, version: str, late: Late) -> Tried:
    rehearsal = rehearse(plan, verdict.profiles, "desk", late=late)
    balls = Counter(ball.player for ball in rehearsal.balls if _leaves(ball) and not ball.shown)
    others = [balls[one.name] for one in plan.group.players if one.name != late.player]
    finished = rehearsal.ending.finished
    lesson = _("The lesson comes to its end") if finished else _("The lesson ends early")
    own = n_(
        "{n} ball for {player}", "{n} balls for {player}", balls[late.player], player=late.player
    )
    theirs = _("{balls} for each of the others", balls=_range(others)) if others else ""
    return Tried(
        version=version,
        finished=finished,
        balls_left=_left(rehearsal),
        words=_(
            "{lesson}: {balls}. As rehearsed:", lesson=lesson, balls=joined(", ", [own, theirs])
        ),
        lines=tuple(_about(rehearsal, late.player)),
    )


def _range(counts: Sequence[int]) -> str:
    least, most = min(counts), max(counts)
    return f"{least}" if least == most else _("{least} to {most}", least=least, most=most)


def _about(rehearsal: Rehearsal, name: str) -> Iterator[TriedLine]:
    """Who is there, and the first ball after each change for the one who was not."""
    happened = sorted(_in_order(rehearsal), key=lambda one: one[0])
    told = True
    for at_s, one in happened:
        if isinstance(one, Said) and one.group:
            told = False
            yield TriedLine(at_s, one.text)
        elif isinstance(one, Rehearsed) and not told and one.player == name:
            told = True
            feed = terms.feed(one.feed)
            yield TriedLine(at_s, _("the first ball for {player}: {feed}", player=name, feed=feed))
