"""What is known of a feed before one looks: how the ball should leave, and how far it may stray."""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.bounce import SURFACES, Surface
from feedscript.flight.models import Array
from feedscript.flight.motion.conditions import DEFAULT_CONDITIONS, Conditions

#: What a flight is described by, in this order; units as in ``Expected``. ``drag``, ``lift``:
#: factors on the model's; ``rise``, ``keep``: on what the surface leaves of the speed upwards and
#: along the ground; ``kick_deg``: by how much the bounce turns the ball to its right;
#: ``wind_along_mps``, ``wind_right_mps``: how the air moves; ``push_right``, ``push_up``: what
#: pushes the ball across its way beside spin and wind, as coefficients like drag's: its seam, or a
#: side worn more than the other; ``then_right``, ``then_up``: the same after the bounce, from which
#: it flies on turned another way.
UNKNOWNS = (
    *("speed_mps", "elevation_deg", "azimuth_deg", "top_rpm", "side_rpm", "left_s"),
    *("x_m", "y_m", "z_m", "drag", "lift", "rise", "keep", "kick_deg"),
    *("wind_along_mps", "wind_right_mps", "push_right", "push_up", "then_right", "then_up"),
)
AT = {name: index for index, name in enumerate(UNKNOWNS)}


class Scatter(msgspec.Struct, frozen=True, kw_only=True):
    """Standard deviations of what a ball does from what is expected of it, same units.

    Of the launch they are the launcher's own. The others are ours, no source: used and new balls,
    warm and cold air, wind, seams, a clean or a dirty court.
    """

    speed_mps: float = 0.6
    elevation_deg: float = 0.6
    azimuth_deg: float = 0.7
    top_rpm: float = 150.0
    side_rpm: float = 120.0
    left_s: float = 0.02
    place_m: float = 0.02
    drag: float = 0.12
    lift: float = 0.2
    rise: float = 0.08
    keep: float = 0.12
    kick_deg: float = 1.5
    wind_mps: float = 0.8
    push: float = 0.015


class Expected(msgspec.Struct, frozen=True, kw_only=True):
    """One feed as it was asked for, in court axes; ``left_s`` is the video's time at which the
    ball should have left the mouth, which is at ``mouth_m``."""

    number: int
    left_s: float
    mouth_m: tuple[float, float, float]
    speed_mps: float
    elevation_deg: float
    azimuth_deg: float
    top_rpm: float = 0.0
    side_rpm: float = 0.0
    scatter: Scatter = Scatter()
    conditions: Conditions = DEFAULT_CONDITIONS
    surface: Surface = SURFACES["hard"]

    @property
    def middle(self) -> Array:
        """The expected value of every one of ``UNKNOWNS``; shape (20,)."""
        launch = (self.speed_mps, self.elevation_deg, self.azimuth_deg, self.top_rpm, self.side_rpm)
        return np.array([*launch, self.left_s, *self.mouth_m, 1.0, 1.0, 1.0, 1.0, *[0.0] * 7])

    @property
    def spread(self) -> Array:
        """The standard deviation of every one of ``UNKNOWNS``; shape (20,)."""
        at = self.scatter
        launch = (at.speed_mps, at.elevation_deg, at.azimuth_deg, at.top_rpm, at.side_rpm)
        rest = (at.drag, at.lift, at.rise, at.keep, at.kick_deg)
        air = (at.wind_mps, at.wind_mps, at.push, at.push, at.push, at.push)
        return np.array([*launch, at.left_s, *[at.place_m] * 3, *rest, *air])

    def drawn(self, count: int, random: np.random.Generator, wider: float = 1.0) -> Array:
        """Balls as they may fly, shape (count, 20), the expected one first."""
        drawn = self.middle + wider * self.spread * random.standard_normal((count, len(UNKNOWNS)))
        drawn[0] = self.middle
        return drawn
