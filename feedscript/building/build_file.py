"""The build file: what a builder knows of a launcher beside its profile."""

# No postponed annotations here: the file's keys are made from these types as they stand.

from pathlib import Path
from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from feedscript.diagnostics import Page
from feedscript.shipped import shipped_folder
from feedscript.toml_file import TomlReading, read_toml

BUILD_FILE = Page(
    slug="build-file",
    title="A build file that cannot be used",
    why=(
        "The build file gives what a builder knows of a launcher beside its profile: the mass of "
        "a wheel, the supply, a motor's winding. Parts are rated from these numbers, so none is "
        "assumed where it is missing, and a key that nobody knows is refused. Each key carries its "
        "unit."
    ),
)
_MOST_BYTES = 20_000


def _from(least: float, most: float, description: str) -> Meta:
    return Meta(ge=least, le=most, description=description)


class Build(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a builder knows of a launcher beside its profile: the whole file. No number has a
    default."""

    format: Annotated[Literal[1], Meta(description="the number of the format of the file")] = 1
    supply_v: Annotated[float, _from(5.0, 60.0, "the battery, full, V")]
    wheel_mass_kg: Annotated[float, _from(0.02, 20.0, "one wheel with tyre and hub, kg")]
    wheel_shape: Annotated[float, _from(0.3, 1.0, "inertia over m r²: disc 0.5, thin rim 1")]
    wheel_rpm_at_full_duty: Annotated[float, _from(100.0, 15000.0, "wheel at full duty, rpm")]
    motor_resistance_ohm: Annotated[float, _from(0.002, 50.0, "winding and its leads, ohm")]
    friction_nm: Annotated[float, _from(0.0, 5.0, "bearings and air at one wheel, N m")]
    felt_friction: Annotated[float, _from(0.1, 1.5, "coefficient, felt on the tyre")]
    wire_m: Annotated[float, _from(0.1, 20.0, "one way from battery to motor, m")]
    pwm_hz: Annotated[float, _from(100.0, 100_000.0, "switching of the motor drivers, Hz")]
    ripple_v: Annotated[float, _from(0.05, 5.0, "ripple of the motors' supply, V")]
    brake_v: Annotated[float, _from(5.0, 90.0, "where a brake resistor is switched in, V")]
    servos_gate_a: Annotated[float, _from(0.0, 50.0, "all but the motors, at the supply, A")]
    hours: Annotated[float, _from(0.1, 24.0, "that one charge must last, h")]
    usable_share: Annotated[float, _from(0.1, 1.0, "share of the battery's charge")]
    chute_deg: Annotated[float, _from(2.0, 45.0, "slope of the chute, degrees")]
    hopper_fill: Annotated[float, _from(0.3, 0.74, "share of the hopper that balls fill")]
    plate_mm: Annotated[float, _from(2.0, 40.0, "thickness of the head's plates, mm")]
    finger_mm: Annotated[float, _from(2.0, 20.0, "thickness of the gate's fingers, mm")]
    mesh_mm: Annotated[float, _from(0.5, 60.0, "square openings of the guard, mm")]
    guard_mm: Annotated[float, _from(2.0, 1000.0, "from the guard to the wheels, mm")]
    tunnel_mm: Annotated[float, _from(20.0, 1500.0, "from the mouth back to the wheels, mm")]


def example_file() -> Path:
    """The invented example that comes with feedscript."""
    return shipped_folder() / "launchers" / "building" / "garage.toml"


def read_build(path: Path) -> TomlReading[Build]:
    """Read a build file. Never raises for what a file may hold."""
    return read_toml(path, Build, BUILD_FILE, _MOST_BYTES)
