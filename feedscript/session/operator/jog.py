"""Manual control of a launcher: one typed line at a time, within every limit of its profile.

Pure: a line and what is wished so far give the next wish, something to do, or a diagnostic.
"""

from __future__ import annotations

import math
from enum import StrEnum
from typing import TypeAlias

import msgspec

from feedscript.diagnostics import Diagnostic, Page
from feedscript.flight.written import read_spin
from feedscript.launcher.kinematics import (
    drive_names,
    drive_range,
    drive_unit,
    on_grid,
    setting_for,
    throw_of,
)
from feedscript.launcher.profile.drives import TwoWheels
from feedscript.launcher.profile.model import Profile, Range
from feedscript.launcher.setting import Setting
from feedscript.launcher.steps import off_steps, step_ball, steps_in_words
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
    """What the launcher shall be set to. Angles are those of the ball, pan from straight ahead.

    A ``raw`` setting, as tuning proposes them, takes the place of all the rest.
    """

    speed_mps: float
    top_rpm: float = 0.0
    side_rpm: float = 0.0
    pan_deg: float = 0.0
    tilt_deg: float = 5.0
    raw: Setting | None = None


Step: TypeAlias = Wish | JogAct | Diagnostic

HELP = (
    "speed 60 km/h, spin top 800 rpm, pan 3 deg, tilt 8 deg: what is wished "
    "(or set 1500 1700 tilt 8 pan 3: each drive itself, as tune --propose gives them); then "
) + ", ".join(do.value for do in JogAct)


def first_wish(profile: Profile) -> Wish:
    """The slowest ball of the launcher, straight ahead."""
    limits = profile.limits
    return Wish(limits.speed_mps.least, tilt_deg=limits.elevation_deg.nearest(5.0))


def act_in(line: str) -> JogAct | None:
    """What a line asks for beyond a wish; None for a wish, or what is none."""
    text = _bare(line)
    return JogAct(text) if text in set(JogAct) else None


def _bare(line: str) -> str:
    return " ".join(line.split()).lower()


def read_line(line: str, wish: Wish) -> Step:
    """What one typed line means after the wish so far."""
    act, text = act_in(line), _bare(line)
    if act is not None:
        return act
    word, _, rest = text.partition(" ")
    if word == "set":
        raw = _raw(rest)
        return raw if isinstance(raw, Diagnostic) else msgspec.structs.replace(wish, raw=raw)
    wish = msgspec.structs.replace(wish, raw=None)
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


def _raw(text: str) -> Setting | Diagnostic:
    """Drives in the launcher's own unit, then ``tilt`` and ``pan`` and ``roll`` of the head."""
    drives: list[float] = []
    head = {"tilt": 0.0, "pan": 0.0, "roll": 0.0}
    words = iter(text.split())
    for word in words:
        number = next(words, "") if word in head else word
        try:
            value = float(number)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            return JOG.report(f"{number!r} in a raw setting is no number", help=HELP)
        if word in head:
            head[word] = value
        else:
            drives.append(value)
    return on_grid(
        Setting(
            drives=tuple(drives),
            pan_deg=head["pan"],
            tilt_deg=head["tilt"],
            roll_deg=head["roll"],
        )
    )


def taken_back(line: str, act: JogAct) -> Diagnostic:
    """A line that waited, and is not done any more, for what came after it."""
    return JOG.report(
        f"{line.strip()!r} was not done: {act.value!r} came",
        help="type it again if it is still meant",
    )


def setting_of(profile: Profile, wish: Wish) -> Setting | Diagnostic:
    """The setting for a wish, if every limit of the profile allows it."""
    if wish.raw is not None:
        return _raw_within(profile, wish.raw)
    throw = Throw(
        speed_mps=wish.speed_mps,
        elevation_deg=wish.tilt_deg,
        azimuth_deg=wish.pan_deg,
        top_rpm=wish.top_rpm,
        side_rpm=wish.side_rpm,
    )
    if profile.drive.steps:
        throw = step_ball(profile, throw) or throw
    found = _past(profile, throw, wish.pan_deg) or setting_for(profile, throw)
    between = off_steps(profile.drive, found.drives) if isinstance(found, Setting) else None
    return found if between is None else _off_steps(profile, between)


def _off_steps(profile: Profile, value: float) -> Diagnostic:
    steps = steps_in_words(profile.drive.steps)
    unit = drive_unit(profile.drive)
    return JOG.report(
        f"that needs {value:g} {unit}, which is none of this launcher's steps",
        help=f"its steps: {steps} {unit}; give the drives themselves",
    )


def _raw_within(profile: Profile, raw: Setting) -> Setting | Diagnostic:
    """The raw setting, if its drives, its head and the ball it throws keep within every limit."""
    names, allowed = drive_names(profile.drive), drive_range(profile.drive)
    if len(raw.drives) != len(names):
        return JOG.report(
            f"{len(raw.drives)} drives are given and this launcher has {len(names)}",
            help=f"in this order: {', '.join(names)}",
        )
    for name, drive in zip(names, raw.drives, strict=True):
        if not allowed.holds(drive):
            return _outside(name, drive, allowed, drive_unit(profile.drive))
    between = off_steps(profile.drive, raw.drives)
    if between is not None:
        return _off_steps(profile, between)
    rolls = profile.drive.roll_deg if isinstance(profile.drive, TwoWheels) else Range(0.0, 0.0)
    if not rolls.holds(raw.roll_deg):
        return _outside("roll", raw.roll_deg, rolls, "degrees")
    return _past(profile, throw_of(profile, raw), raw.pan_deg) or raw


def _past(profile: Profile, throw: Throw, pan_deg: float) -> Diagnostic | None:
    """The first limit that a throw is past."""
    limits = profile.limits
    for name, value, allowed, unit in (
        ("speed", throw.speed_mps, limits.speed_mps, "m/s"),
        ("top spin", throw.top_rpm, limits.spin_rpm, "rpm"),
        ("side spin", throw.side_rpm, limits.side_rpm, "rpm"),
        ("pan", pan_deg, limits.azimuth_deg, "degrees"),
        ("tilt", throw.elevation_deg, limits.elevation_deg, "degrees"),
    ):
        if not allowed.holds(value):
            return _outside(name, value, allowed, unit)
    return None


def _outside(name: str, value: float, allowed: Range, unit: str) -> Diagnostic:
    if unit == "m/s":  # told as most speeds are typed
        value, unit = value * 3.6, "km/h"
        allowed = Range(
            math.ceil(round(allowed.least * 36, 6)) / 10,
            math.floor(round(allowed.most * 36, 6)) / 10,
        )
    return JOG.report(
        f"{name} {value:g} {unit} is outside this launcher's limits",
        help=f"{allowed.least:g} to {allowed.most:g} {unit}",
    )
