"""Shots of a launcher whose drives have steps: each takes the ball of a step, or is refused.

A shot that says its speed takes the nearest ball, if one is near. A shot that leaves its speed open
is tried with every step and takes the one that comes nearest to what it is given by.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec
import numpy as np

from feedscript.diagnostics import Diagnostic
from feedscript.flight.bounce import Surface
from feedscript.flight.contact import behind_bounce
from feedscript.launcher.kinematics import exact_setting, natural_spin
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.steps import apart, spins_alike, step_ball, step_balls
from feedscript.launcher.throw import Throw, signed_spin_rpm
from feedscript.plan.aiming.shots import Shot
from feedscript.plan.aiming.solved import BetweenSteps, Solved, Stand

Aimer = Callable[[Sequence[Shot]], list[Solved]]

#: How near a step must come to a wished apex (m), time of flight (s) or height at contact (m).
#: Design values.
NEAR = {"apex": 0.20, "flight": 0.10, "contact": 0.15}
#: Rounds in which side spin about the vertical and the elevation find each other.
_ROUNDS = 4


def on_steps(shots: Sequence[Shot], stand: Stand, aimer: Aimer) -> list[Solved]:
    """Shots that say their speed, each with the ball of the nearest step."""
    solved = aimer(shots)
    for _ in range(_ROUNDS):
        balls = [step_ball(stand.profile, one.throw) for one in solved]
        stepped = [
            shot if ball is None else _with_ball(shot, ball)
            for shot, ball in zip(shots, balls, strict=True)
        ]
        if list(shots) == stepped:
            break
        shots, solved = stepped, aimer(stepped)
    return [_held(one, stand.profile) for one in solved]


def _with_ball(shot: Shot, ball: Throw) -> Shot:
    wish = msgspec.structs.replace(
        shot.wish, speed_mps=ball.speed_mps, top_rpm=ball.top_rpm, side_rpm=ball.side_rpm
    )
    return msgspec.structs.replace(shot, wish=wish)


def _held(solved: Solved, profile: Profile) -> Solved:
    """The same, refused where its ball is none of the steps'."""
    throw = solved.throw
    if step_ball(profile, throw) is not None or isinstance(
        exact_setting(profile, throw), Diagnostic
    ):
        return solved
    speeds = tuple(sorted({ball.speed_mps for ball in balls_for(profile, throw)}))
    others = () if speeds else _balls(profile, throw)
    missed = BetweenSteps("speed", throw.speed_mps, speeds, others)
    return msgspec.structs.replace(solved, missed=missed)


def _balls(profile: Profile, throw: Throw) -> tuple[Throw, ...]:
    """The steps' balls inside the launcher's limits of speed and spin, the nearest first."""
    limits = profile.limits
    balls = [
        ball
        for ball in step_balls(profile, throw)
        if limits.speed_mps.holds(ball.speed_mps)
        and limits.spin_rpm.holds(signed_spin_rpm(ball.top_rpm, ball.side_rpm))
    ]
    return tuple(sorted(balls, key=lambda ball: apart(ball, throw)))


def balls_for(profile: Profile, throw: Throw) -> list[Throw]:
    """The steps' balls that spin like this throw, inside the launcher's limits of speed.

    Where the spin follows from the speed, all of them.
    """
    follows = natural_spin(profile.drive, throw.speed_mps) is not None
    return [ball for ball in _balls(profile, throw) if follows or spins_alike(ball, throw)]


def with_any_step(
    shots: Sequence[Shot], wished: Sequence[float], part: str, stand: Stand, aimer: Aimer
) -> list[Solved]:
    """Shots that leave their speed open, each with the step that comes nearest to its ``part``."""
    tried = [_tries(shot, stand.profile) for shot in shots]
    solved = iter(aimer([one for each in tried for one in each]))
    found = []
    for shot, wish, each in zip(shots, wished, tried, strict=True):
        able = [one for one in (next(solved) for _ in each) if one.missed is None]
        found.append(_nearest(shot, wish, part, able, stand))
    return found


def _tries(shot: Shot, profile: Profile) -> list[Shot]:
    """The shot with the ball of every step, by the low and the high arc."""
    balls = balls_for(profile, _level(shot, profile))
    return [_with_ball(_arc(shot, high), ball) for ball in balls for high in (False, True)]


def _level(shot: Shot, profile: Profile) -> Throw:
    """A level throw with the shot's spin."""
    return Throw(
        speed_mps=profile.limits.speed_mps.most,
        elevation_deg=0.0,
        azimuth_deg=0.0,
        top_rpm=shot.wish.top_rpm,
        side_rpm=shot.wish.side_rpm,
    )


def _arc(shot: Shot, high: bool) -> Shot:
    wish = msgspec.structs.replace(shot.wish, high_arc=high)
    return msgspec.structs.replace(shot, wish=wish)


def _nearest(shot: Shot, wished: float, part: str, able: list[Solved], stand: Stand) -> Solved:
    values = [_value(one, part, stand) for one in able]
    had = tuple(sorted({round(value, 2) for value in values}))
    if not able:
        spins = (
            ()
            if _tries(shot, stand.profile)
            else _balls(stand.profile, _level(shot, stand.profile))
        )
        return Solved(shot, None, 0, BetweenSteps(part, wished, (), spins))
    best = min(range(len(able)), key=lambda row: abs(values[row] - wished))
    if abs(values[best] - wished) <= NEAR[part]:
        return able[best]
    return msgspec.structs.replace(able[best], missed=BetweenSteps(part, wished, had))


def _value(solved: Solved, part: str, stand: Stand) -> float:
    """What the shot's throw gives of what it is given by."""
    assert solved.aims is not None
    flights, row = solved.aims.flights, solved.row
    if part == "apex":
        return float(flights.apex_m[row])
    if part == "flight":
        return float(flights.flight_s[row])
    contact, surface = solved.shot.wish.contact, stand.surface
    assert contact is not None
    assert isinstance(surface, Surface)
    behind_m = np.full(len(flights.flight_s), contact.behind_bounce_m)
    return float(behind_bounce(flights, behind_m, stand.conditions, surface).place_m[2, row])
