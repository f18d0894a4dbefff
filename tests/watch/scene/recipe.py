"""What a scene is made of: everything that its picture depends on, and nothing drawn later.

The same recipe gives the same frames and the same truth, byte for byte.
"""

from __future__ import annotations

import msgspec

from tests.watch.scene.court import GROUNDS, Ground, built
from tests.watch.scene.flying import Air, Flight
from tests.watch.scene.lens import Lens
from tests.watch.scene.people import Bird, Person

Colour = tuple[float, float, float]  # red, green, blue, 0 to 255, in full light


CLOUD_S = 11.0


class Look(msgspec.Struct, frozen=True, kw_only=True):
    """What is painted and what light falls on it."""

    court: Colour = (64, 92, 138)
    around: Colour = (72, 112, 78)
    line: Colour = (226, 228, 224)
    fence: Colour = (38, 58, 44)
    sky: Colour = (182, 204, 228)
    ball: Colour = (206, 226, 92)
    grain: float = 5.0  # standard deviation of the ground's own unevenness, in grey steps
    dusty: float = 0.0  # share of a line that is worn or covered
    marks: int = 0  # old marks of balls on the ground
    light: float = 1.0
    veil: float = 0.0  # grey steps that light in the lens adds, most of them towards the sun
    sun_deg: tuple[float, float] | None = (215.0, 50.0)  # bearing from +y to +x, and height
    shadows: tuple[tuple[float, float, float, float], ...] = ()  # x, y, half widths: trees' shade
    shade: float = 0.45  # light that is left in a shadow
    flicker: float = 0.0  # depth of the light's swing, 100 times a second
    cloud: float = 0.0  # light that a passing cloud takes, once in CLOUD_S
    soft_ground: bool = False  # every bounce leaves a mark
    striped_m: float = 0.0  # mown stripes of this width


class Shooting(msgspec.Struct, frozen=True, kw_only=True):
    """How the camera takes its pictures."""

    lens: Lens
    rate_hz: float = 60.0
    exposure_s: float = 1 / 250
    row_time_s: float = 0.0  # by how much each row begins later than the one above it
    noise: float = 3.0  # standard deviation, grey steps
    soft_px: float = 0.6  # standard deviation of the lens's own blur
    shake_px: float = 0.0  # a hand: standard deviation of the picture's place
    drift_px_per_min: tuple[float, float] = (0.0, 0.0)  # a tripod that settles
    knock_s: float | None = None
    knock_px: tuple[float, float, float] = (0.0, 0.0, 0.0)  # across, down, and at the edge by roll
    uneven_s: float = 0.0  # standard deviation of the time between pictures (variable rate)


class Hit(msgspec.Struct, frozen=True):
    """A racket meets a ball."""

    at_s: float
    place_m: tuple[float, float, float]


class Scene(msgspec.Struct, frozen=True, kw_only=True):
    """A film to be made."""

    shooting: Shooting
    flights: tuple[Flight, ...]
    duration_s: float
    others: tuple[Flight, ...] = ()  # balls that are not the lesson's: next court, lying about
    people: tuple[Person, ...] = ()
    birds: tuple[Bird, ...] = ()
    claps_s: tuple[float, ...] = ()  # a clapper, heard
    hits: tuple[Hit, ...] = ()  # rackets, heard
    look: Look = Look()
    court: str = "full"
    built: int | None = None  # None: to the millimetre by the rules; or as builders leave it
    air: Air = Air()
    seed: int = 0

    @property
    def ground(self) -> Ground:
        ground = GROUNDS[self.court]
        return ground if self.built is None else built(ground, self.built)
