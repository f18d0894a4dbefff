"""The profile of a launcher: what it is, what it can do, and how far it strays."""

from __future__ import annotations

from enum import StrEnum

import msgspec


class Kind(StrEnum):
    """How a launcher throws."""

    TWO_WHEELS = "two-wheels"
    THREE_WHEELS = "three-wheels"
    ONE_WHEEL = "one-wheel"
    AIR = "air"
    ARM = "arm"


class Range(msgspec.Struct, frozen=True):
    """A closed interval of what may be asked for."""

    least: float
    most: float


class Limits(msgspec.Struct, frozen=True, kw_only=True):
    """What the launcher may be asked for. No field is optional: an unknown limit is an error."""

    speed_mps: Range
    spin_rpm: Range  # topspin positive, backspin negative
    elevation_deg: Range
    azimuth_deg: Range  # relative to where the launcher is turned; right is positive
    elevation_rate_dps: float
    azimuth_rate_dps: float
    least_interval_s: float
    hopper_balls: int


class Dispersion(msgspec.Struct, frozen=True, kw_only=True):
    """One standard deviation of each quantity at the mouth, ball to ball."""

    speed_share: float
    spin_rpm: float
    elevation_deg: float
    azimuth_deg: float


class Profile(msgspec.Struct, frozen=True, kw_only=True):
    """A launcher as the house knows it. Read from TOML; hashed over its canonical JSON."""

    name: str
    kind: Kind
    mouth_height_m: float
    limits: Limits
    dispersion: Dispersion
