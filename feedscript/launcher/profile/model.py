"""The profile of a launcher: what it is, what it can do, and how far it strays."""

# No postponed annotations here: reading a profile walks these types as they stand.

import hashlib
from enum import StrEnum
from typing import Annotated, Literal, TypeAlias

import msgspec
from msgspec import Meta

from feedscript.launcher.profile.drives import Drive, Range, within

__all__ = [
    "PROFILE_FORMAT",
    "Calibration",
    "Dispersion",
    "Feeder",
    "Guard",
    "Kind",
    "Limits",
    "Link",
    "Profile",
    "Range",
    "Sweep",
    "profile_hash",
]

PROFILE_FORMAT = 1

#: What a launcher may lack that is not reached by the wire; the words are in ``guarantees``.
Lacking: TypeAlias = Literal[
    "person-arms",
    "leaving-time",
    "feed-id-in-device",
    "latched-emergency-stop",
    "watchdog",
    "ball-told",
    "stops",
    "keyed-link",
    "spoilt-noticed",
]


class Kind(StrEnum):
    """How a launcher throws."""

    TWO_WHEELS = "two-wheels"
    THREE_WHEELS = "three-wheels"
    ONE_WHEEL = "one-wheel"
    AIR = "air"
    VALVE = "valve"
    ARM = "arm"
    SPRING = "spring"


#: Of an axis on a stepping motor; a servo is taken to be at its rate at once.
Gain: TypeAlias = Annotated[
    float, Meta(ge=1.0, le=10000.0, description="how fast it gains that rate, degrees per s2")
]
#: Of the same: it can stand only at whole ones.
StepSize: TypeAlias = Annotated[
    float, Meta(ge=0.001, le=2.0, description="one step of its motor, degrees")
]


class Limits(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What the launcher may be asked for. No limit is optional: an unknown limit is an error."""

    speed_mps: Annotated[Range, within(0.0, 70.0, "ball at the mouth, least and most, m/s")]
    spin_rpm: Annotated[Range, within(-9000.0, 9000.0, "least (backspin negative) and most, rpm")]
    side_rpm: Annotated[Range, within(-9000.0, 9000.0, "least (curves to -x) and most, rpm")]
    elevation_deg: Annotated[Range, within(-45.0, 90.0, "least and most above level, degrees")]
    azimuth_deg: Annotated[Range, within(-180.0, 180.0, "least (left) and most (right), degrees")]
    elevation_rate_dps: Annotated[
        float, Meta(ge=0.01, le=720.0, description="tilting, degrees per second")
    ]
    azimuth_rate_dps: Annotated[
        float, Meta(ge=0.01, le=720.0, description="panning, degrees per second")
    ]
    least_interval_s: Annotated[
        float, Meta(ge=0.2, le=60.0, description="shortest time between two balls, s")
    ]
    hopper_balls: Annotated[int, Meta(ge=1, le=1000, description="balls the hopper holds")]
    elevation_gain_dps2: Gain = 0.0  # may be left out: at its rate at once
    azimuth_gain_dps2: Gain = 0.0  # may be left out: at its rate at once
    elevation_step_deg: StepSize = 0.0  # may be left out: any hundredth of a degree
    azimuth_step_deg: StepSize = 0.0  # may be left out: any hundredth of a degree


class Feeder(msgspec.Struct, frozen=True, kw_only=True):
    """The gate that lets one ball go, and the pause for things to settle before it does."""

    gate_cycle_s: Annotated[float, Meta(ge=0.05, le=30.0, description="one turn of the gate, s")]
    gate_lead_s: Annotated[
        float, Meta(ge=0.0, le=5.0, description="from opening the gate to the ball's leaving, s")
    ]
    settle_s: Annotated[
        float, Meta(ge=0.0, le=5.0, description="steady at the setting before a ball goes, s")
    ]


class Guard(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """How the launcher protects people by itself."""

    watchdog_s: Annotated[
        float, Meta(ge=0.1, le=2.0, description="silence after which it stops by itself, s")
    ]
    hold_limit_s: Annotated[
        float, Meta(ge=1.0, le=300.0, description="a hold longer than this is a stop, s")
    ]
    lacks: Annotated[
        tuple[Lacking, ...],
        Meta(description="guarantees of the wire that it does not keep; a mapped device's"),
    ] = ()  # may be left out: it keeps them all


class Sweep(msgspec.Struct, frozen=True, kw_only=True):
    """How the launcher swings from side to side by itself, for as long as it is armed.

    When a ball leaves it points anywhere in the band: nobody can ask for a direction.
    """

    band_deg: Annotated[
        Range, within(-60.0, 60.0, "furthest left and right of where it faces, degrees")
    ]
    period_s: Annotated[
        float, Meta(ge=0.5, le=120.0, description="from one end of the band and back to it, s")
    ]


class Dispersion(msgspec.Struct, frozen=True, kw_only=True):
    """One standard deviation of each quantity at the mouth, ball to ball."""

    speed_share: Annotated[
        float, Meta(ge=0.0, le=0.3, description="of the speed, as a share of it")
    ]
    spin_rpm: Annotated[float, Meta(ge=0.0, le=2000.0, description="of the spin, rpm")]
    elevation_deg: Annotated[float, Meta(ge=0.0, le=10.0, description="of the elevation, degrees")]
    azimuth_deg: Annotated[float, Meta(ge=0.0, le=10.0, description="of the azimuth, degrees")]


class Calibration(msgspec.Struct, frozen=True, kw_only=True):
    """What tuning found: the ball leaves at tilt + offset and flies with these factors."""

    elevation_offset_deg: Annotated[
        float, Meta(ge=-10.0, le=10.0, description="ball's elevation less the tilt, degrees")
    ]
    azimuth_offset_deg: Annotated[
        float, Meta(ge=-10.0, le=10.0, description="ball's azimuth less the pan, degrees")
    ]
    drag_factor: Annotated[
        float, Meta(ge=0.5, le=1.5, description="drag over that of the flight model")
    ]
    lift_factor: Annotated[
        float, Meta(ge=0.3, le=2.0, description="lift over that of the flight model")
    ]


class Link(msgspec.Struct, frozen=True, kw_only=True):
    """How its board behaves on a serial line."""

    baud: Annotated[int, Meta(ge=9600, le=4_000_000, description="bits per second")]
    resets_on_open: Annotated[
        bool, Meta(description="whether opening the port (DTR) resets the board")
    ]


class Profile(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A launcher as the project knows it. Read from TOML; hashed over its canonical JSON."""

    name: Annotated[str, Meta(min_length=1, max_length=60, description="what people call it")]
    serial: Annotated[str, Meta(max_length=40, description="which one of its kind")]
    note: Annotated[str, Meta(max_length=2000, description="anything worth knowing")]
    mouth_height_m: Annotated[
        float, Meta(ge=0.1, le=3.0, description="middle of the ball at the mouth, m above ground")
    ]
    drive: Drive
    limits: Limits
    feeder: Feeder
    guard: Guard
    dispersion: Dispersion
    calibration: Calibration
    link: Link
    sweep: Sweep | None = None  # may be left out: it points where it is told to

    @property
    def kind(self) -> Kind:
        """How it throws."""
        return Kind(str(self.drive.__struct_config__.tag))


def canonical_json(profile: Profile) -> bytes:
    """The profile's facts in one spelling: keys sorted, shortest floats, the note left out."""
    bare = msgspec.structs.replace(profile, note="")
    return msgspec.json.encode(bare, order="sorted")


def profile_hash(profile: Profile) -> str:
    """SHA-256 of the canonical JSON, 64 hex digits. Comments and the note do not change it."""
    return hashlib.sha256(canonical_json(profile)).hexdigest()
