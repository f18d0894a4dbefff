"""How long a launcher needs between two balls, and which of its parts is the slowest.

The clock starts as a ball passes the mouth. From then on every part moves at once towards the next
setting; when the last has arrived the launcher waits until things are steady, opens the gate, and
the next ball passes the mouth one gate lead later.
"""

from __future__ import annotations

import math

import msgspec

from feedscript.launcher import air, arm, spring
from feedscript.launcher.kinematics import drive_names
from feedscript.launcher.profile.drives import (
    Air,
    Arm,
    Drive,
    MeasuredRates,
    OneWheel,
    Range,
    Response,
    Spring,
    ThreeWheels,
    TwoWheels,
    Valve,
)
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.wheels import RPM_PER_RADPS

#: Heaviest ball of the ITF Rules of Tennis (Appendix I), for the most a wheel can be slowed.
_HEAVIEST_BALL_KG = 0.0594
#: The part that is the profile's own figure, whatever changes.
LEAST_INTERVAL = "the launcher's least interval"


class Part(msgspec.Struct, frozen=True):
    """One thing that must be done before the next ball, and how long it takes."""

    name: str
    seconds: float


class ChangeTime(msgspec.Struct, frozen=True):
    """The least time between two balls, and everything that was weighed."""

    seconds: float
    parts: tuple[Part, ...]


def change_time(profile: Profile, before: Setting | None, after: Setting) -> ChangeTime:
    """The least time from a ball at ``before`` to a ball at ``after``.

    ``before`` None: from standing still, drives at zero and every axis anywhere in its range.
    """
    limits, feeder = profile.limits, profile.feeder
    tail_s = feeder.settle_s + feeder.gate_lead_s
    parts = (
        *(Part(part.name, part.seconds + tail_s) for part in _moving(profile, before, after)),
        Part("the gate's cycle", feeder.gate_cycle_s),
        Part(LEAST_INTERVAL, limits.least_interval_s),
    )
    return ChangeTime(max(part.seconds for part in parts), parts)


def moving_s(profile: Profile, before: Setting | None, after: Setting) -> float:
    """From being told of a setting until every part is there and steady, in seconds.

    ``before`` None: from standing still. The gate may be opened from then on.
    """
    slowest_s = max(part.seconds for part in _moving(profile, before, after))
    return slowest_s + profile.feeder.settle_s


def head_from_rest_s(profile: Profile) -> float:
    """The least time to any first ball from standing still, for the head alone."""
    anywhere = Setting(drives=(), pan_deg=0.0, tilt_deg=0.0)
    parts = (
        *_panning(profile, None, anywhere),
        _tilting(profile, None, anywhere),
        *_rolling(profile, None, anywhere),
    )
    tail_s = profile.feeder.settle_s + profile.feeder.gate_lead_s
    return max(part.seconds for part in parts) + tail_s


def _moving(profile: Profile, before: Setting | None, after: Setting) -> list[Part]:
    return [
        *_drive_parts(profile, _drives_of(before, after), after.drives),
        *_panning(profile, before, after),
        _tilting(profile, before, after),
        *_rolling(profile, before, after),
    ]


def _drives_of(before: Setting | None, after: Setting) -> tuple[float, ...]:
    return (0.0,) * len(after.drives) if before is None else before.drives


def _turn_deg(before_deg: float | None, after_deg: float, ends: Range) -> float:
    """How far an axis turns; from an unknown place its whole range.

    Hands may have turned the head while it had no power. A servo runs at once to where it is told:
    nobody knows from where. An axis that looks for home has found it before the launcher is armed,
    and home lies in its range.
    """
    return ends.most - ends.least if before_deg is None else abs(after_deg - before_deg)


def _turned(name: str, before: Setting | None, seconds: float) -> Part:
    return Part(f"{name} from wherever the head stands" if before is None else name, seconds)


def turning_s(turn_deg: float, rate_dps: float, gain_dps2: float) -> float:
    """From standing to standing over so many degrees, gaining and losing speed evenly, in seconds.

    A gain of 0 stands for one that is not limited. Where the way is too short for the rate, half of
    it gains and half loses.
    """
    if gain_dps2 <= 0:
        return turn_deg / rate_dps
    if turn_deg < rate_dps**2 / gain_dps2:
        return 2 * math.sqrt(turn_deg / gain_dps2)
    return turn_deg / rate_dps + rate_dps / gain_dps2


def change_s(profile: Profile, before: Setting | None, after: Setting) -> float:
    """``change_time`` in seconds alone."""
    return change_time(profile, before, after).seconds


def wheel_rates(response: Response) -> tuple[float, float]:
    """(speeding up, slowing down) in rpm per second, both positive.

    From a motor: (torque * gearing -+ friction) / (wheel + gearing^2 * rotor inertia).
    """
    if isinstance(response, MeasuredRates):
        return response.run_up_rpm_per_s, response.run_down_rpm_per_s
    inertia = response.wheel_inertia_kgm2 + response.gearing**2 * response.rotor_inertia_kgm2
    push = response.torque_nm * response.gearing - response.friction_torque_nm
    brake = response.brake_torque_nm * response.gearing + response.friction_torque_nm
    return (
        max(push, 0.0) / inertia * RPM_PER_RADPS,
        max(brake, 0.0) / inertia * RPM_PER_RADPS,
    )


def recovery_s(response: Response, diameter_m: float, wheels: int, rpm: float) -> float:
    """How long a wheel needs to come back after one ball.

    From a motor, the momentum form: the ball slips until it moves with the rims, so the wheels keep
    1 / (1 + m r^2 / (n I)) of their speed, n wheels sharing the work.
    """
    if isinstance(response, MeasuredRates):
        return response.recovery_s
    inertia = response.wheel_inertia_kgm2 + response.gearing**2 * response.rotor_inertia_kgm2
    load = _HEAVIEST_BALL_KG * (diameter_m / 2) ** 2 / (max(wheels, 2) * inertia)
    return _over(rpm * load / (1 + load), wheel_rates(response)[0])


def largest_wheel_m(drive: TwoWheels | ThreeWheels | OneWheel) -> float:
    """The diameter of the wheel that a ball slows most."""
    other = drive.bottom_wheel_diameter_m if isinstance(drive, TwoWheels) else 0.0
    return max(drive.wheel_diameter_m, other)


def recovers_s(drive: Drive, value: float) -> float:
    """How long the drives need after one ball until they are at ``value`` again.

    An arm's way back is part of its swing.
    """
    match drive:
        case Air():
            return air.drop_hpa(drive, value) / drive.fill_hpa_per_s
        case Spring():
            return spring.drawing_s(drive, value)
        case Valve():
            return drive.refill_s
        case Arm():
            return 0.0
        case _:
            wheels = len(drive_names(drive))
            return recovery_s(drive.response, largest_wheel_m(drive), wheels, value)


def _over(amount: float, rate: float) -> float:
    """Time for an amount at a rate; a rate of zero never gets there."""
    if amount <= 0:
        return 0.0
    return amount / rate if rate > 0 else math.inf


def _drive_parts(
    profile: Profile, before: tuple[float, ...], after: tuple[float, ...]
) -> list[Part]:
    drive = profile.drive
    if isinstance(drive, Arm):
        return [Part("the arm", drive.wind_back_s + arm.swing_s(drive, after[0]))]
    if isinstance(drive, Air):
        return [_tank(drive, before[0], after[0])]
    if isinstance(drive, Valve):
        return [Part("filling the tank", drive.refill_s)]
    if isinstance(drive, Spring):
        return [Part("drawing the spring", spring.drawing_s(drive, after[0]))]
    up, down = wheel_rates(drive.response)
    parts = []
    for name, old, new in zip(drive_names(drive), before, after, strict=True):
        recovery = recovers_s(drive, old)
        turning = _over(new - old, up) if new > old else _over(old - new, down)
        way = "up" if new > old else "down"
        what = f"{name} {way} from {old:.0f} to {new:.0f} rpm" if new != old else name
        parts.append(Part(what, turning + recovery))
    return parts


def _panning(profile: Profile, before: Setting | None, after: Setting) -> list[Part]:
    """None of a launcher that swings by itself: it is never waited for."""
    if profile.sweep is not None:
        return []
    limits = profile.limits
    before_deg = None if before is None else before.pan_deg
    turn_deg = _turn_deg(before_deg, after.pan_deg, limits.azimuth_deg)
    turning = turning_s(turn_deg, limits.azimuth_rate_dps, limits.azimuth_gain_dps2)
    return [_turned("panning", before, turning)]


def _tilting(profile: Profile, before: Setting | None, after: Setting) -> Part:
    limits = profile.limits
    before_deg = None if before is None else before.tilt_deg
    turn_deg = _turn_deg(before_deg, after.tilt_deg, limits.elevation_deg)
    turning = turning_s(turn_deg, limits.elevation_rate_dps, limits.elevation_gain_dps2)
    return _turned("tilting", before, turning)


def _rolling(profile: Profile, before: Setting | None, after: Setting) -> list[Part]:
    drive = profile.drive
    if not isinstance(drive, TwoWheels):
        return []
    before_deg = None if before is None else before.roll_deg
    turn_deg = _turn_deg(before_deg, after.roll_deg, drive.roll_deg)
    if turn_deg == 0:
        return []
    return [_turned("rolling", before, _over(turn_deg, drive.roll_rate_dps))]


def _tank(drive: Air, old: float, new: float) -> Part:
    """Filling or venting, whichever takes longer: a shot takes at most its whole drop."""
    filling = _over(new - old + air.drop_hpa(drive, old), drive.fill_hpa_per_s)
    venting = _over(old - new, drive.vent_hpa_per_s)
    if venting > filling:
        return Part("venting the tank", venting)
    return Part("filling the tank", filling)
