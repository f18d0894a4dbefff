"""Drives that can be set in steps only: which balls there are, and the one nearest to a wish."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import product

import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.launcher.kinematics import drive_names, exact_setting, natural_spin, throw_of
from feedscript.launcher.profile.drives import Drive
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.throw import Throw, side_rpm

#: How near a wished ball must be to one of the steps to be taken for it: a share of its speed, and
#: rpm of its spin. Design values.
NEAR_SPEED_SHARE = 0.02
NEAR_SPIN_RPM = 100.0


def off_steps(drive: Drive, values: Iterable[float]) -> float | None:
    """The first of these values that is none of the drive's steps; None where all may be set."""
    if not drive.steps:
        return None
    return next((value for value in values if value not in drive.steps), None)


def steps_in_words(steps: Sequence[float]) -> str:
    """The steps in rising order, short where they are whole numbers without a gap."""
    if len(steps) > 2 and list(steps) == [steps[0] + k for k in range(len(steps))]:
        return f"whole numbers from {steps[0]:g} to {steps[-1]:g}"
    return ", ".join(f"{step:g}" for step in steps)


def step_balls(profile: Profile, throw: Throw) -> tuple[Throw, ...]:
    """Every ball of the steps that turns about the axis of this throw, pointed as it is.

    Only of a launcher whose drives have steps; none where it cannot give that axis. A spin that
    follows from the speed is what it is, whatever the throw has.
    """
    drive = profile.drive
    own = natural_spin(drive, throw.speed_mps)
    if own is not None:
        throw = msgspec.structs.replace(
            throw, top_rpm=own[0], side_rpm=side_rpm(own[1], throw.elevation_deg)
        )
    exact = exact_setting(profile, throw)
    if isinstance(exact, Diagnostic):
        return ()
    return tuple(
        throw_of(profile, msgspec.structs.replace(exact, drives=drives))
        for drives in product(drive.steps, repeat=len(drive_names(drive)))
    )


def step_ball(profile: Profile, throw: Throw) -> Throw | None:
    """The ball of the steps that is nearest to this throw; None where none is near enough."""
    balls = step_balls(profile, throw)
    ball = min(balls, key=lambda ball: apart(ball, throw), default=None)
    return ball if ball is not None and apart(ball, throw) <= 1 else None


def spins_alike(ball: Throw, throw: Throw) -> bool:
    """Whether a ball's spin is near enough to a throw's."""
    return _spin_apart(ball, throw) <= 1


def apart(ball: Throw, throw: Throw) -> float:
    """How far apart two balls are, 1 being the most that is near."""
    speed = abs(ball.speed_mps - throw.speed_mps) / (NEAR_SPEED_SHARE * throw.speed_mps)
    return max(speed, _spin_apart(ball, throw))


def _spin_apart(ball: Throw, throw: Throw) -> float:
    return max(abs(ball.top_rpm - throw.top_rpm), abs(ball.side_rpm - throw.side_rpm)) / (
        NEAR_SPIN_RPM
    )
