"""From a throw to a launcher's setting and back, for every kind of launcher.

A setting lies on the grid of the wire: drives in whole units (rpm, hPa, ms), angles in hundredths
of a degree. ``exact_setting`` is the same without the grid.
"""

from __future__ import annotations

import math

from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher import air, arm, spring, wheels
from feedscript.launcher.profile.drives import (
    Air,
    Arm,
    Drive,
    OneWheel,
    Range,
    Spring,
    ThreeWheels,
    TwoWheels,
    Valve,
)
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw, across_rpm, side_rpm

#: How far a wished spin may lie from the one a launcher cannot help giving.
SPIN_TOLERANCE_RPM = 25.0

_PROGRAM = """feedscript 1
title "A curve"
court {{ surface hard }}
balls {{ type 2  load 60 }}
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
feed curve {{ land 2 m inside baseline, on centre line  speed 90 km/h  spin {spin} }}
lesson {{ show speed of curve   send curve after 5 s }}
"""

CANNOT_THROW = Page(
    slug="cannot-throw",
    title="A spin that this kind of launcher cannot give",
    why="""What spin a ball can have depends on how it is thrown. Two wheels turn it about the one
axis that lies along both axles; to tilt that axis the head must roll. A single wheel, a throwing
arm and a spring give a spin that follows from the speed. Compressed air gives none. A wish outside
is refused: flown without the spin that was asked for, the ball would land elsewhere.""",
    wrong=_PROGRAM.format(spin="top 600 rpm, side ad 300 rpm"),
    corrected=_PROGRAM.format(spin="top 600 rpm"),
)


def exact_setting(profile: Profile, throw: Throw, facing_deg: float = 0.0) -> Setting | Diagnostic:
    """The setting for a throw, off the grid; a diagnostic where no setting gives its spin.

    Limits are not looked at here: a setting past them comes back for the rules to name.
    """
    drives = _drives_for(profile.drive, throw)
    if isinstance(drives, Diagnostic):
        return drives
    values, roll_deg = drives
    calibration = profile.calibration
    return Setting(
        drives=values,
        pan_deg=_pan(profile, throw.azimuth_deg - facing_deg - calibration.azimuth_offset_deg),
        tilt_deg=throw.elevation_deg - calibration.elevation_offset_deg,
        roll_deg=roll_deg,
    )


def setting_for(profile: Profile, throw: Throw, facing_deg: float = 0.0) -> Setting | Diagnostic:
    """The setting for a throw on the grid of the wire, or why there is none."""
    exact = exact_setting(profile, throw, facing_deg)
    return exact if isinstance(exact, Diagnostic) else on_grid(exact)


def on_grid(setting: Setting) -> Setting:
    """The nearest setting that the wire can carry."""
    return Setting(
        drives=tuple(float(round(drive)) for drive in setting.drives),
        pan_deg=round(setting.pan_deg, 2) + 0.0,
        tilt_deg=round(setting.tilt_deg, 2) + 0.0,
        roll_deg=round(setting.roll_deg, 2) + 0.0,
    )


def throw_of(profile: Profile, setting: Setting, facing_deg: float = 0.0) -> Throw:
    """The throw that a setting gives. Inverse of ``exact_setting`` wherever that has one.

    Of a launcher that swings by itself: the throw when it points to where it faces.
    """
    calibration = profile.calibration
    elevation_deg = setting.tilt_deg + calibration.elevation_offset_deg
    speed_mps, top, across = _ball_from(profile.drive, setting)
    return Throw(
        speed_mps=speed_mps,
        elevation_deg=elevation_deg,
        azimuth_deg=_half_turn(setting.pan_deg + facing_deg + calibration.azimuth_offset_deg),
        top_rpm=top,
        side_rpm=side_rpm(across, elevation_deg),
    )


def natural_spin(drive: Drive, speed_mps: float) -> tuple[float, float] | None:
    """(top, across) rpm that follow from the speed, or None where the spin can be chosen."""
    if isinstance(drive, OneWheel):
        spin = wheels.rolling_spin_rpm(drive, speed_mps)
        turn = math.radians(drive.wheel_deg)
        return spin * math.cos(turn), -spin * math.sin(turn)
    if isinstance(drive, Arm):
        return arm.ball_top_rpm(drive, speed_mps), 0.0
    if isinstance(drive, Spring):
        return spring.ball_top_rpm(drive, speed_mps), 0.0
    if isinstance(drive, Air | Valve):
        return 0.0, 0.0
    return None


def drive_names(drive: Drive) -> tuple[str, ...]:
    """What each drive of a setting is called."""
    if isinstance(drive, TwoWheels):
        return ("top wheel", "bottom wheel")
    if isinstance(drive, ThreeWheels):
        return ("first wheel", "second wheel", "third wheel")
    if isinstance(drive, OneWheel):
        return ("wheel",)
    if isinstance(drive, Spring):
        return ("spring",)
    if isinstance(drive, Valve):
        return ("valve",)
    return ("arm",) if isinstance(drive, Arm) else ("tank",)


def drive_unit(drive: Drive) -> str:
    """The unit of the drives of a setting."""
    if isinstance(drive, Spring):
        return "mm"
    if isinstance(drive, Valve):
        return "ms"
    return "hPa" if isinstance(drive, Air) else "rpm"


def drive_range(drive: Drive) -> Range:
    """What each drive may be set to; an arm no faster than its torque swings it."""
    if isinstance(drive, Air):
        return drive.pressure_hpa
    if isinstance(drive, Spring):
        return drive.draw_mm
    if isinstance(drive, Valve):
        return air.openings_ms(drive)
    if isinstance(drive, Arm):
        return Range(drive.arm_rpm.least, min(drive.arm_rpm.most, arm.fastest_rpm(drive)))
    return drive.wheel_rpm


def _pan(profile: Profile, turn_deg: float) -> float:
    """How far to pan; of a launcher that swings by itself nothing is asked inside its band."""
    pan_deg = _half_turn(turn_deg)
    swings = profile.sweep is not None and profile.sweep.band_deg.holds(pan_deg, slack=1e-6)
    return 0.0 if swings else pan_deg


def _half_turn(angle_deg: float) -> float:
    """The same direction between -180 and 180 degrees."""
    return angle_deg if -180 <= angle_deg <= 180 else math.remainder(angle_deg, 360.0)


def _drives_for(drive: Drive, throw: Throw) -> tuple[tuple[float, ...], float] | Diagnostic:
    speed_mps, top = throw.speed_mps, throw.top_rpm
    across = across_rpm(throw.side_rpm, throw.elevation_deg)
    if isinstance(drive, ThreeWheels):
        return wheels.wheels_for(drive, speed_mps, top, across, 0.0), 0.0
    if isinstance(drive, TwoWheels):
        roll_deg = wheels.roll_for(drive, top, across)
        if roll_deg is None:
            return _head_does_not_roll(drive, top, across)
        return wheels.wheels_for(drive, speed_mps, top, across, roll_deg), roll_deg
    natural = natural_spin(drive, speed_mps)
    assert natural is not None
    if math.hypot(top - natural[0], across - natural[1]) > SPIN_TOLERANCE_RPM:
        return _spin_follows(speed_mps, natural)
    if isinstance(drive, OneWheel):
        return (wheels.pad_wheel_rpm(drive, speed_mps),), 0.0
    if isinstance(drive, Arm):
        return (arm.arm_rpm(drive, speed_mps),), 0.0
    if isinstance(drive, Spring):
        return (spring.draw_mm(drive, speed_mps),), 0.0
    if isinstance(drive, Valve):
        return (air.opening_ms(drive, speed_mps),), 0.0
    return (air.pressure_hpa(drive, speed_mps),), 0.0


def _ball_from(drive: Drive, setting: Setting) -> tuple[float, float, float]:
    if isinstance(drive, TwoWheels | ThreeWheels):
        return wheels.ball_from(drive, setting.drives, setting.roll_deg)
    value = setting.drives[0]
    if isinstance(drive, OneWheel):
        speed_mps = wheels.pad_ball_mps(drive, value)
    elif isinstance(drive, Arm):
        speed_mps = arm.ball_mps(drive, value)
    elif isinstance(drive, Spring):
        speed_mps = spring.ball_mps(drive, value)
    elif isinstance(drive, Valve):
        speed_mps = air.valve_mps(drive, value)
    else:
        speed_mps = air.ball_mps(drive, value)
    top, across = natural_spin(drive, speed_mps) or (0.0, 0.0)
    return speed_mps, top, across


def _head_does_not_roll(drive: TwoWheels, top: float, across: float) -> Diagnostic:
    axis = math.degrees(math.atan2(-across, top))
    least, most = drive.roll_deg.least, drive.roll_deg.most
    held = f"stands at {least:g}" if least == most else f"rolls from {least:g} to {most:g}"
    return CANNOT_THROW.report(
        f"top {top:.0f} rpm with side {across:.0f} rpm needs the head rolled to {axis:.0f} "
        f"degrees, and it {held} degrees",
        help="leave the side spin out, or use a launcher whose head rolls or has three wheels",
    )


def _spin_follows(speed_mps: float, natural: tuple[float, float]) -> Diagnostic:
    top, across = natural
    parts = [f"top {top:.0f} rpm" if top >= 0 else f"back {-top:.0f} rpm"] if abs(top) > 1 else []
    parts += [f"side {across:.0f} rpm"] if abs(across) > 1 else []
    return CANNOT_THROW.report(
        f"at {speed_mps:.1f} m/s this launcher gives {', '.join(parts) or 'no spin'}, "
        "whatever is asked",
        help=f"write `spin {', '.join(parts)}`" if parts else "leave the spin out",
    )
