"""Balls that are only tried: what the launcher can do, what the receiver would meet, and what the
rules say."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec
import numpy as np

from feedscript.check.check_program import Verdict
from feedscript.court.lines import COURTS
from feedscript.flight.bounce import Surface
from feedscript.flight.motion.tracks import Tracks
from feedscript.language.program import FeedWish
from feedscript.launcher.able import able
from feedscript.memo import Memo, content
from feedscript.plan.aiming.aimed import aimed, unplaced
from feedscript.plan.aiming.flying import conditions_for, surface_for
from feedscript.plan.aiming.shots import Shot
from feedscript.plan.aiming.solved import BetweenSteps, Miss, Outside, Solved, Stand
from feedscript.plan.aiming.solving import by_speed, kind, solve
from feedscript.plan.aiming.sweeping import faced
from feedscript.plan.model import AimedFeed, Plan
from feedscript.safety.among_others import refused_among_others
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.tries import with_forms
from feedscript.safety.of_one_ball import refused
from feedscript.tongues.text import _

Place = tuple[float, float, float]

#: Points of a way that is flown to find where it is met; and of one that is drawn.
_FLOWN, _POINTS, _POINTS_AFTER = 48, 20, 14


class Meets(msgspec.Struct, frozen=True, kw_only=True):
    """The ball where it is nearest to its receiver; without one, as it comes down."""

    height_m: float
    time_s: float
    speed_kmh: float
    at_receiver: bool


class Try(msgspec.Struct, frozen=True, kw_only=True):
    """One ball that was tried. ``why``: what stands against it; ``can``: the launcher does not."""

    can: bool
    why: str = ""
    net_m: float | None = None
    meets: Meets | None = None
    path_m: tuple[Place, ...] = ()
    after_m: tuple[Place, ...] = ()


def tried(verdict: Verdict, index: int, wishes: Sequence[FeedWish], memo: Memo) -> list[Try]:
    """What becomes of the feed ``index`` of the plan with each of these wishes for its own.

    Given up with the ``memo``, which is of earlier tries too.
    """
    plan = verdict.plan or verdict.draft
    assert plan is not None
    stand = _stand(verdict, plan, plan.feeds[index].launcher)
    shots = [faced(Shot(one.name, one, stand.launcher, 0), stand) for one in wishes]
    forms = _forms(shots, stand, memo)
    can = [one for one in forms if isinstance(one, AimedFeed)]
    alone = PlanFacts(with_forms(plan, index, can), verdict.profiles, memo)
    among = refused_among_others(PlanFacts(plan, verdict.profiles, memo), index, can)
    judged = iter(_judged(alone, among)) if can else iter(())
    return [Try(can=False, why=one) if isinstance(one, str) else next(judged) for one in forms]


def _stand(verdict: Verdict, plan: Plan, launcher: int) -> Stand:
    profile = verdict.profiles[launcher]
    return Stand(
        launcher=launcher,
        placed=plan.launchers[launcher],
        profile=profile,
        conditions=conditions_for(plan.court, plan.balls, profile),
        lines=COURTS[plan.court.kind],
        surface=surface_for(plan.court),
        receiver_m=None if verdict.program is None else verdict.program.group.receiver_m,
    )


def _forms(shots: Sequence[Shot], stand: Stand, memo: Memo) -> list[AimedFeed | str]:
    """Each shot as it would be thrown, or why it cannot be; wherever it is written."""
    bare, where = [unplaced(shot) for shot in shots], content(stand)
    keys = [(where, content(shot)) for shot in bare]
    return memo.each(
        "tried",
        keys,
        lambda rows: list(_formed([bare[row] for row in rows], stand, memo)),
    )


def _formed(shots: Sequence[Shot], stand: Stand, memo: Memo) -> Iterator[AimedFeed | str]:
    for solved in _solved(shots, stand, memo):
        memo.go_on()
        yield _form(solved, stand)


def _solved(shots: Sequence[Shot], stand: Stand, memo: Memo) -> list[Solved]:
    """The throws; for one that misses no other speed is looked for."""
    if all(kind(shot) == "speed" for shot in shots):
        return by_speed(shots, stand, seek_speed=False, go_on=memo.go_on)
    return solve(shots, stand, memo.go_on)


def _form(solved: Solved, stand: Stand) -> AimedFeed | str:
    """The feed as it would be thrown, or why it cannot be."""
    missed = solved.missed
    if isinstance(missed, Miss):
        off = abs(missed.short_m)
        if missed.short_m > 0:
            return _("it lands at best {n:.1f} m short of its place", n=off)
        return _("it lands at best {n:.1f} m past its place", n=off)
    if isinstance(missed, Outside):
        return _("no throw to that place does this")
    if isinstance(missed, BetweenSteps):
        return _("it lies between two steps of the launcher")
    found = aimed(solved, stand) if missed is None else None
    if found is None or found.feed is None:
        return _("where it is met is not known")
    if found.diagnostics:
        return found.diagnostics[0].message
    if not able(stand.profile, solved.throw, stand.placed.heading_deg):
        return _("it is past what the launcher does")
    return found.feed


def _judged(facts: PlanFacts, among: Sequence[str]) -> list[Try]:
    """What is known of each feed of a plan of tries; ``among``: what its other balls have against
    it."""
    flown = dict(_flown(facts))
    each = zip(facts.plan.feeds, refused(facts), among, strict=True)
    return [
        msgspec.structs.replace(
            flown[index], why=why or other, net_m=round(feed.net_clearance_m, 2)
        )
        for index, (feed, why, other) in enumerate(each)
    ]


def _flown(facts: PlanFacts) -> Iterator[tuple[int, Try]]:
    """Each feed's way, and how its receiver meets it."""
    known = surface_for(facts.plan.court)
    surface = known if isinstance(known, Surface) else None
    for throws in (batch.throws for batch in facts.batches):
        facts.memo.go_on()
        before = throws.before(_FLOWN, surface)
        after = None if surface is None else throws.after(surface, _FLOWN)
        for row, index in enumerate(throws.feeds):
            ways = [_Way(before, row)]
            if after is not None and np.isfinite(after.place_m[row]).all():
                ways.append(_Way(after, row, float(throws.flight_s[row])))
            yield (
                index,
                Try(
                    can=True,
                    meets=_meets(facts.plan.feeds[index].receiver_m, ways),
                    path_m=_drawn(ways[0], _POINTS),
                    after_m=_drawn(ways[1], _POINTS_AFTER) if len(ways) > 1 else (),
                ),
            )


class _Way(msgspec.Struct, frozen=True, eq=False):
    """One row of a track, that begins so late."""

    track: Tracks
    row: int
    after_s: float = 0.0


def _meets(receiver_m: tuple[float, float] | None, ways: Sequence[_Way]) -> Meets:
    place = np.concatenate([way.track.place_m[way.row] for way in ways])
    velocity = np.concatenate([way.track.velocity_mps[way.row] for way in ways])
    time = np.concatenate([way.track.time_s[way.row] + way.after_s for way in ways])
    at = _FLOWN - 1
    if receiver_m is not None:
        at = int(np.argmin(np.hypot(*(place[:, :2] - np.array(receiver_m)).T)))
    return Meets(
        height_m=round(float(place[at, 2]), 2),
        time_s=round(float(time[at]), 2),
        speed_kmh=round(float(np.sqrt(np.sum(velocity[at] ** 2))) * 3.6, 1),
        at_receiver=receiver_m is not None,
    )


def _drawn(way: _Way, points: int) -> tuple[Place, ...]:
    path = way.track.place_m[way.row]
    rows = np.unique(np.linspace(0, len(path) - 1, points).astype(int))
    return tuple((float(x), float(y), float(z)) for x, y, z in np.round(path[rows], 2))
