"""Manual control of a launcher: one typed line at a time, within every limit of its profile.

Pure: a line and what is wished so far give the next wish, something to do, or a diagnostic.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TypeAlias

import msgspec

from feedscript.diagnostics import Diagnostic, Page
from feedscript.flight.written import read_spin
from feedscript.launcher.kinematics import setting_for
from feedscript.launcher.profile.model import Profile, Range
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw
from feedscript.units import Dimension, UnitError, parse_quantity

JOG = Page(
    slug="jog-line",
    title="A line of manual control that cannot be done",
    why=(
        "Manual control obeys the same limits as a program: those of the profile here, and the "
        "launcher's own beyond it. What lies outside is refused, not trimmed to fit."
    ),
)


class JogAct(StrEnum):
    """What a line asks for beyond a wish."""

    ARM = "arm"
    MOVE = "move"  # turn and run up to what is wished
    FEED = "feed"  # one ball, a moment from now
    HOLD = "hold"
    GO_ON = "go on"
    STOP = "stop"
    EMERGENCY = "emergency"
    STATUS = "status"
    QUIT = "quit"


class Wish(msgspec.Struct, frozen=True):
    """What the launcher shall be set to. Angles are those of the ball, pan from straight ahead."""

    speed_mps: float
    top_rpm: float = 0.0
    side_rpm: float = 0.0
    pan_deg: float = 0.0
    tilt_deg: float = 5.0


Step: TypeAlias = Wish | JogAct | Diagnostic

HELP = "speed 60 km/h, spin top 800 rpm, pan 3 deg, tilt 8 deg: what is wished; then " + ", ".join(
    do.value for do in JogAct
)


def first_wish(profile: Profile) -> Wish:
    """The slowest ball of the launcher, straight ahead."""
    limits = profile.limits
    return Wish(limits.speed_mps.least, tilt_deg=limits.elevation_deg.nearest(5.0))


def read_line(line: str, wish: Wish) -> Step:
    """What one typed line means after the wish so far."""
    text = " ".join(line.split()).lower()
    if text in set(JogAct):
        return JogAct(text)
    word, _, rest = text.partition(" ")
    try:
        match word:
            case "speed":
                return msgspec.structs.replace(
                    wish, speed_mps=parse_quantity(rest, Dimension.SPEED)
                )
            case "pan":
                return msgspec.structs.replace(wish, pan_deg=parse_quantity(rest, Dimension.ANGLE))
            case "tilt":
                return msgspec.structs.replace(wish, tilt_deg=parse_quantity(rest, Dimension.ANGLE))
            case "spin":
                spin = read_spin(rest)
                return msgspec.structs.replace(wish, top_rpm=spin.top_rpm, side_rpm=spin.side_rpm)
    except UnitError as error:
        return JOG.report(str(error), help=HELP)
    return JOG.report(f"{line.strip()!r} is not understood", help=HELP)


def setting_of(profile: Profile, wish: Wish) -> Setting | Diagnostic:
    """The setting for a wish, if every limit of the profile allows it."""
    limits = profile.limits
    for name, value, allowed, unit in (
        ("speed", wish.speed_mps, limits.speed_mps, "m/s"),
        ("top spin", wish.top_rpm, limits.spin_rpm, "rpm"),
        ("side spin", wish.side_rpm, limits.side_rpm, "rpm"),
        ("pan", wish.pan_deg, limits.azimuth_deg, "degrees"),
        ("tilt", wish.tilt_deg, limits.elevation_deg, "degrees"),
    ):
        if not allowed.holds(value):
            return _outside(name, value, allowed, unit)
    throw = Throw(
        speed_mps=wish.speed_mps,
        elevation_deg=wish.tilt_deg,
        azimuth_deg=wish.pan_deg,
        top_rpm=wish.top_rpm,
        side_rpm=wish.side_rpm,
    )
    return setting_for(profile, throw)


def _outside(name: str, value: float, allowed: Range, unit: str) -> Diagnostic:
    return JOG.report(
        f"{name} {value:g} {unit} is outside this launcher's limits",
        help=f"{allowed.least:g} to {allowed.most:g} {unit}",
    )
