"""A setting in the device's own numbers, and how far they are from what was meant."""

from __future__ import annotations

import bisect

import msgspec

from feedscript.launcher.kinematics import SPIN_TOLERANCE_RPM, natural_spin, throw_of
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw
from feedscript_drivers.mapped.description.keys import Mapping, Quantity

#: The grid of a setting: half of it is no stray.
_HALF_RPM, _HALF_DEG, _HALF_MPS = 0.5, 0.005, 0.005


class OutOfRangeError(ValueError):
    """A setting that the device has no number for; the text names the quantity."""


def numbers_of(mapping: Mapping, setting: Setting, profile: Profile) -> dict[str, float]:
    """Each described quantity of a setting as the device's number.

    Raises OutOfRangeError where the device has none, where it has no such part, and where its
    nearest number strays further from what was meant than the profile says that balls scatter
    (one standard deviation): steps of the device are scatter, and the checker must know of them.
    """
    values = values_of(setting, profile)
    _parts_there(mapping, setting, profile, values)
    numbers = {
        name: _number(name, quantity, values[name]) for name, quantity in mapping.quantities.items()
    }
    got = {name: value_of(mapping.quantities[name], number) for name, number in numbers.items()}
    _near(setting, profile, values, got)
    return numbers


def values_of(setting: Setting, profile: Profile) -> dict[str, float]:
    """What may be told to a device of a setting: its own parts, and the ball that it gives."""
    throw = throw_of(profile, setting)
    values = {f"drive_{number}": drive for number, drive in enumerate(setting.drives, start=1)}
    return {
        **values,
        "pan_deg": setting.pan_deg,
        "tilt_deg": setting.tilt_deg,
        "roll_deg": setting.roll_deg,
        "speed_mps": throw.speed_mps,
        "speed_kmh": throw.speed_mps * 3.6,
        "top_rpm": throw.top_rpm,
        "side_rpm": throw.side_rpm,
    }


def _parts_there(
    mapping: Mapping, setting: Setting, profile: Profile, values: dict[str, float]
) -> None:
    told = set(mapping.quantities)
    for name in told - set(values):
        raise OutOfRangeError(f"the device asks for {name}, and this launcher has no such drive")
    drives = [f"drive_{number}" for number in range(1, len(setting.drives) + 1)]
    by_ball = bool(told & {"speed_mps", "speed_kmh"})
    needed = ["pan_deg", "tilt_deg"]
    if by_ball:
        natural = natural_spin(profile.drive, values["speed_mps"]) or (0.0, 0.0)
        spins = {"top_rpm": natural[0], "side_rpm": natural[1]}
        for name, given in spins.items():
            if name not in told and abs(values[name] - given) > SPIN_TOLERANCE_RPM:
                raise OutOfRangeError(f"{name} {values[name]:.0f}, and the device is told no spin")
    else:
        needed += [*drives, "roll_deg"]
    for name in needed:
        if values[name] and name not in told:
            raise OutOfRangeError(f"{name} {values[name]:g}, and the device has no such part")


def _number(name: str, quantity: Quantity, value: float) -> float:
    exact = _by_table(name, quantity, value) if quantity.table else None
    if exact is None:
        exact = value * quantity.scale + quantity.offset
    number = _on_its_grid(quantity, exact)
    if not quantity.least <= number <= quantity.most:
        raise OutOfRangeError(
            f"{name} {value:g} is {number:g} in the device's terms, outside "
            f"{quantity.least:g} to {quantity.most:g}"
        )
    return number


def _on_its_grid(quantity: Quantity, number: float) -> float:
    """The nearest number that can be spelled."""
    if quantity.spelled == "float32":
        return number
    return round(number, quantity.decimals) + 0.0


def _by_table(name: str, quantity: Quantity, value: float) -> float:
    numbers = [number for number, _ in quantity.table]
    values = [known for _, known in quantity.table]
    if quantity.table_is == "levels":
        return min(quantity.table, key=lambda pair: abs(pair[1] - value))[0]
    if not values[0] <= value <= values[-1]:
        raise OutOfRangeError(
            f"{name} {value:g} is outside what was measured, {values[0]:g} to {values[-1]:g}"
        )
    return _between(values, numbers, value)


def _between(keys: list[float], results: list[float], key: float) -> float:
    """Along the straight line between the two that are nearest."""
    place = min(max(bisect.bisect_left(keys, key), 1), len(keys) - 1) if len(keys) > 1 else 0
    if place == 0:
        return results[0]
    low, high = keys[place - 1], keys[place]
    return results[place - 1] + (results[place] - results[place - 1]) * (key - low) / (high - low)


def value_of(quantity: Quantity, number: float) -> float:
    """What the device makes of its number."""
    if not quantity.table:
        return (number - quantity.offset) / quantity.scale
    if quantity.table_is == "levels":
        return dict(quantity.table)[number]
    pairs = sorted(quantity.table)
    return _between([one for one, _ in pairs], [value for _, value in pairs], number)


def _near(
    setting: Setting, profile: Profile, meant: dict[str, float], got: dict[str, float]
) -> None:
    """Raise OutOfRangeError when the device would throw another ball than was meant."""
    drives = tuple(
        got.get(f"drive_{number}", drive) for number, drive in enumerate(setting.drives, start=1)
    )
    moved = msgspec.structs.replace(setting, drives=drives)
    before, after = throw_of(profile, setting), throw_of(profile, moved)
    scatter = profile.dispersion
    speed_mps = got.get("speed_mps", got.get("speed_kmh", 3.6 * after.speed_mps) / 3.6)
    allowed = {
        "the ball's speed, m/s": (
            speed_mps - before.speed_mps,
            max(scatter.speed_share * before.speed_mps, _step_mps(setting, profile, before)),
        ),
        "top spin, rpm": (
            got.get("top_rpm", after.top_rpm) - before.top_rpm,
            max(scatter.spin_rpm, _HALF_RPM),
        ),
        "side spin, rpm": (
            got.get("side_rpm", after.side_rpm) - before.side_rpm,
            max(scatter.spin_rpm, _HALF_RPM),
        ),
        "pan, degrees": (
            got.get("pan_deg", 0.0) - meant["pan_deg"],
            max(scatter.azimuth_deg, _HALF_DEG),
        ),
        "tilt, degrees": (
            got.get("tilt_deg", 0.0) - meant["tilt_deg"],
            max(scatter.elevation_deg, _HALF_DEG),
        ),
        "roll, degrees": (
            got.get("roll_deg", 0.0) - meant["roll_deg"] if "roll_deg" in got else 0.0,
            max(scatter.elevation_deg, _HALF_DEG),
        ),
    }
    for what, (off, most) in allowed.items():
        if abs(off) > most * (1 + 1e-9):
            raise OutOfRangeError(
                f"the device's nearest step is {off:+.3g} off in {what}; the profile's scatter "
                f"allows {most:.3g}: use a feed on a step, or state in [dispersion] how far the "
                "device's steps stray"
            )


def _step_mps(setting: Setting, profile: Profile, before: Throw) -> float:
    """What half a unit of the drives makes: no setting is finer."""
    nudged = tuple(drive + _HALF_RPM for drive in setting.drives)
    faster = throw_of(profile, msgspec.structs.replace(setting, drives=nudged))
    return max(_HALF_MPS, abs(faster.speed_mps - before.speed_mps))
