"""What is said of one feed's ball: measured, or not seen and why."""

from __future__ import annotations

from enum import Enum

import msgspec

from feedscript.flight.models import Array


class Why(Enum):
    """Why a ball is not measured."""

    NO_PICTURES = "the video does not show the time of this feed"
    CAMERA_MOVED = "the court's lines are not where they were: the camera was moved or blocked"
    NOT_IN_VIEW = "its track is not in the picture"
    NOTHING_SEEN = "nothing was seen along its track"
    TOO_FEW = "it was seen in too few pictures"
    BOUNCE_OUTSIDE = "it bounced outside the picture"
    BOUNCE_UNSEEN = "it was not seen both before and after its bounce"
    NO_BALL = "what was seen there is thinner than the ball, or jumps about"
    NOT_LIKELY = "what was seen there flies unlike the feed"
    TWO_WAYS = "two flights fit what was seen, and land in different places"
    NOT_SURE = "its landing is not known well enough"


class NotSeen(msgspec.Struct, frozen=True, kw_only=True):
    """A ball that is not measured; nothing is guessed of it."""

    number: int
    why: Why


class Value(msgspec.Struct, frozen=True):
    """A figure and its standard deviation."""

    value: float
    sd: float


class Measured(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """One feed's ball. Places in court axes, times of the video.

    ``covariance_m2`` is the landing's, (x, y) before (x, y), the camera's uncertainty in it; 95 of
    100 landings lie in its ellipse of 5.99. ``unknowns`` are the fitted flight's, for
    ``seek.paths``; spin is known no better than what it was asked for where its sd says so.
    """

    number: int
    landing_m: tuple[float, float]
    covariance_m2: tuple[tuple[float, float], tuple[float, float]]
    left_s: Value  # at the mouth
    bounce_s: Value
    flight_s: Value  # from the mouth to the bounce
    speed_mps: Value  # at the mouth
    elevation_deg: Value
    azimuth_deg: Value
    top_rpm: Value
    side_rpm: Value
    seen: int  # pictures that it was measured in
    shown: int  # pictures in which it should have been
    scatter_px: float  # of those, about the flight
    unknowns: Array
