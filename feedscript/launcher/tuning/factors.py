"""What tuning may change in a profile, factor by factor."""

from __future__ import annotations

import msgspec
import msgspec.inspect

from feedscript.launcher.profile.drives import (
    Air,
    Arm,
    Drive,
    OneWheel,
    Spring,
    ThreeWheels,
    TwoWheels,
    Valve,
)
from feedscript.launcher.profile.model import Calibration, Profile


class Factor(msgspec.Struct, frozen=True):
    """One number of a profile that landings can tell something about.

    ``table`` and ``key`` say where it stands in the file. ``typical`` is a change that matters;
    a factor whose confidence interval reaches further than ``useful`` to either side has not been
    determined. ``least`` and ``most`` are the profile's own bounds.
    """

    key: str
    table: str
    words: str
    unit: str
    typical: float
    useful: float
    least: float
    most: float

    def of(self, profile: Profile) -> float:
        """Its value in a profile."""
        return float(getattr(getattr(profile, self.table), self.key))

    def put(self, profile: Profile, value: float) -> Profile:
        """The profile with another value."""
        table = msgspec.structs.replace(getattr(profile, self.table), **{self.key: value})
        return msgspec.structs.replace(profile, **{self.table: table})


_Row = tuple[str, str, str, float, float]

#: Key, words, unit, typical change, useful half interval.
_CALIBRATION: tuple[_Row, ...] = (
    ("elevation_offset_deg", "elevation less tilt", "degrees", 0.3, 1.0),
    ("azimuth_offset_deg", "azimuth less pan", "degrees", 0.3, 1.0),
    ("drag_factor", "drag over the model's", "", 0.05, 0.15),
)
_SPEED: _Row = ("slip", "ball speed over the speed without slip", "", 0.02, 0.06)
_BY_SPEED: _Row = ("slip_power", "power of the rims' speed in the slip", "", 0.05, 0.15)
_SQUEEZE: _Row = ("squeeze", "lever arm of the spin over half the gap", "", 0.05, 0.30)
_SPIN_SHARE: _Row = ("spin_share", "spin over speed / radius", "", 0.03, 0.15)
_DRIVES: dict[type[Drive], tuple[_Row, ...]] = {
    TwoWheels: (_SPEED, _SQUEEZE),
    ThreeWheels: (_SPEED, _SQUEEZE),
    OneWheel: (_SPEED, ("rolling_share", "spin over that of rolling", "", 0.05, 0.30)),
    Arm: (_SPEED, _SPIN_SHARE),
    Spring: (
        ("efficiency", "energy of all that moves over the spring's", "", 0.02, 0.10),
        _SPIN_SHARE,
    ),
    Air: (("efficiency", "energy of the ball over work of the air", "", 0.02, 0.10),),
    Valve: (("speed_factor", "ball speed over the table's", "", 0.02, 0.06),),
}


_AZIMUTH = "azimuth_offset_deg"
#: The factor that is taken in only where the landings ask for it.
BY_SPEED = _BY_SPEED[0]


def factors_of(profile: Profile, *, by_speed: bool = False) -> tuple[Factor, ...]:
    """Every factor that landings of this launcher can determine.

    Whether slip goes with the wheels' speed is one of them where the profile says so already, or
    ``by_speed`` asks for it of a launcher with wheels.

    Where a launcher points that swings by itself is not among them.

    The model's lift is not among them: landings see the product of lift and spin alone, so what
    the spin does not give the ball is put down to the squeeze.
    """
    rows = _DRIVES[type(profile.drive)]
    if has_wheels(profile) and (by_speed or getattr(profile.drive, BY_SPEED) != 0):
        rows = (*rows, _BY_SPEED)
    drive = _factors(profile.drive, "drive", rows)
    found = drive + _factors(profile.calibration, "calibration", _CALIBRATION)
    if profile.sweep is None:
        return found
    return tuple(one for one in found if one.key != _AZIMUTH)


def has_wheels(profile: Profile) -> bool:
    """Whether its slip may go with a speed of wheels."""
    return isinstance(profile.drive, TwoWheels | ThreeWheels | OneWheel)


def _factors(struct: Drive | Calibration, table: str, rows: tuple[_Row, ...]) -> tuple[Factor, ...]:
    bounds = _bounds(type(struct))
    return tuple(
        Factor(key, table, words, unit, typical, useful, *bounds[key])
        for key, words, unit, typical, useful in rows
    )


def _bounds(struct: type[msgspec.Struct]) -> dict[str, tuple[float, float]]:
    found = {}
    for field in msgspec.inspect.type_info(struct).fields:  # type: ignore[attr-defined]
        plain = getattr(field.type, "type", field.type)  # a description wraps the type
        ge, le = getattr(plain, "ge", None), getattr(plain, "le", None)
        if ge is not None and le is not None:
            found[field.name] = (float(ge), float(le))
    return found
