"""Which balls tell most: a set of settings to measure, chosen before anything is thrown.

Greedy D-optimal design (Fedorov 1972, Theory of Optimal Experiments; from memory): from a grid over
what the launcher can do, the setting that most enlarges the determinant of the information on all
factors is taken, again and again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec
import numpy as np

from feedscript.diagnostics import Diagnostic
from feedscript.flight.motion.conditions import Conditions
from feedscript.launcher.kinematics import drive_range, natural_spin, setting_for, throw_of
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.steps import step_balls
from feedscript.launcher.throw import Throw, side_rpm
from feedscript.launcher.tuning.factors import Factor
from feedscript.launcher.tuning.fit import information
from feedscript.launcher.tuning.shots import BY_HAND, Array, Shots, Tape, predicted

#: Where a landing can be marked and measured: how far from the launcher, in metres.
MEASURABLE_M = (3.0, 28.0)
#: Steeper throws scatter more than they tell, and leave a covered court.
_STEEPEST_DEG = 25.0
#: Every other proposal is turned so far to the right, so that mirrored sides show.
_PAN_DEG = 8.0
#: Share by which speeds keep inside the limits, so that the wire's grid takes none across.
_INSIDE = 0.005
_SPEEDS, _ELEVATIONS, _SPINS = 5, 5, 3


class Proposal(msgspec.Struct, frozen=True):
    """One setting to throw ``balls`` times, and where they should land as the profile stands."""

    setting: Setting
    throw: Throw
    balls: int
    along_m: float
    right_m: float


class Design(msgspec.Struct, frozen=True):
    """What to measure, and half the confidence interval that each factor may then expect."""

    proposals: tuple[Proposal, ...]
    expected: tuple[tuple[Factor, float], ...]


def design(
    profile: Profile,
    base: Conditions,
    tape: Tape = BY_HAND,
    *,
    settings: int = 8,
    balls: int = 4,
    held: Sequence[str] = (),
    known: Array | None = None,
    among: Sequence[Proposal] | None = None,
) -> Design | None:
    """The most telling settings; None for a launcher that can throw nothing measurable.

    ``known`` is information already at hand, (factors, factors), from balls measured before.
    ``among`` are the settings to choose from; without it, all that can be measured.
    """
    candidates = measurable(profile, base) if among is None else among
    if not candidates:
        return None
    nowhere = np.tile([1.0, 1.0, np.nan, np.nan], (len(candidates), 1))
    shots = Shots(tuple(c.setting for c in candidates), nowhere, (0,) * len(candidates))
    free, told = information(profile, shots, base, tape, held)
    useful = np.array([factor.useful / factor.typical for factor in free])
    total = np.diag(1 / (3 * useful) ** 2) + (0 if known is None else known)
    chosen: list[int] = []
    for _ in range(min(settings, len(candidates))):
        gains = np.linalg.slogdet(total + balls * told)[1]
        gains[chosen] = -np.inf
        best = int(np.argmax(gains))
        chosen.append(best)
        total = total + balls * told[best]
    halves = 1.96 * np.sqrt(np.diag(np.linalg.inv(total)))
    expected = tuple(
        (factor, float(half * factor.typical)) for factor, half in zip(free, halves, strict=True)
    )
    picked = sorted((candidates[i] for i in chosen), key=lambda c: (c.setting.drives, c.along_m))
    return Design(_proposed(profile, base, [c.setting for c in picked], balls), expected)


def _proposed(
    profile: Profile, base: Conditions, settings: Sequence[Setting], balls: int
) -> tuple[Proposal, ...]:
    """The settings as they are to be thrown: every other one to the side, where the head pans."""
    turned = [
        to_the_side(profile, setting) if index % 2 else setting
        for index, setting in enumerate(settings)
    ]
    landings = predicted(profile, turned, base)
    return tuple(
        Proposal(setting, throw_of(profile, setting), balls, float(along), float(right))
        for setting, (along, right, *_) in zip(turned, landings, strict=True)
    )


def to_the_side(profile: Profile, setting: Setting) -> Setting:
    """The setting panned as every other proposal is, where the launcher can be pointed."""
    if profile.sweep is not None:
        return setting
    least, most = profile.limits.azimuth_deg.least, profile.limits.azimuth_deg.most
    pan_deg = min(_PAN_DEG, most) if most > 0 else max(-_PAN_DEG, least)
    return msgspec.structs.replace(setting, pan_deg=pan_deg)


def measurable(profile: Profile, base: Conditions, finer: int = 1) -> list[Proposal]:
    """Settings over all that the launcher can do, in steps ``finer`` times as fine as usual."""
    throws = _throws(profile, finer)
    settings = [setting_for(profile, throw) for throw in throws]
    able = [s for s in settings if not isinstance(s, Diagnostic) and _within(profile, s)]
    if not able:
        return []
    landings = predicted(profile, able, base)
    return [
        Proposal(setting, throw_of(profile, setting), 0, float(along), float(right))
        for setting, (along, right, *_) in zip(able, landings, strict=True)
        if MEASURABLE_M[0] <= along <= MEASURABLE_M[1]
    ]


def _within(profile: Profile, setting: Setting) -> bool:
    allowed, limits = drive_range(profile.drive), profile.limits
    thrown = throw_of(profile, setting)
    return (
        all(allowed.holds(drive) for drive in setting.drives)
        and limits.elevation_deg.holds(setting.tilt_deg)
        and limits.elevation_deg.holds(thrown.elevation_deg)
        and limits.speed_mps.holds(thrown.speed_mps)
        and limits.spin_rpm.holds(thrown.top_rpm)
    )


def _throws(profile: Profile, finer: int) -> list[Throw]:
    """Balls over all that the launcher can do, at elevations over all that can be marked."""
    limits = profile.limits
    steepest = min(limits.elevation_deg.most, _STEEPEST_DEG)
    flattest = max(limits.elevation_deg.least, 0.0)
    elevations = np.linspace(flattest, steepest, finer * (_ELEVATIONS - 1) + 1)
    balls = _step_balls(profile) if profile.drive.steps else _balls(profile, finer)
    return [
        Throw(
            speed_mps=speed,
            elevation_deg=elevation,
            azimuth_deg=0.0,
            top_rpm=top,
            side_rpm=side_rpm(across, elevation),
        )
        for speed, top, across in balls
        for elevation in map(float, elevations)
    ]


def _balls(profile: Profile, finer: int) -> Iterator[tuple[float, float, float]]:
    """Speed, top spin and spin across; the spins where they can be chosen."""
    limits = profile.limits
    ends = limits.speed_mps.least * (1 + _INSIDE), limits.speed_mps.most * (1 - _INSIDE)
    tops = np.linspace(0.6 * limits.spin_rpm.least, 0.6 * limits.spin_rpm.most, _SPINS)
    for speed in map(float, np.linspace(*ends, finer * (_SPEEDS - 1) + 1)):
        natural = natural_spin(profile.drive, speed)
        if natural is not None:
            yield speed, *natural
            continue
        yield from ((speed, top, 0.0) for top in {*map(float, tops), 0.0})


def _step_balls(profile: Profile) -> Iterator[tuple[float, float, float]]:
    """The same of a launcher in steps: what its steps give."""
    level = Throw(speed_mps=profile.limits.speed_mps.most, elevation_deg=0.0, azimuth_deg=0.0)
    for ball in step_balls(profile, level):
        yield ball.speed_mps, ball.top_rpm, ball.side_rpm
