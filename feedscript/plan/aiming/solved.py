"""What is worked out of each shot: how it is thrown, or how it misses."""

from __future__ import annotations

from typing import TypeAlias

import msgspec
import numpy as np

from feedscript.court.lines import Court
from feedscript.flight.aim.aiming import Aims
from feedscript.flight.bounce import Surface
from feedscript.flight.motion.conditions import Conditions
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.throw import Throw
from feedscript.plan.aiming.shots import Shot
from feedscript.plan.scene import PlacedLauncher


class Stand(msgspec.Struct, frozen=True):
    """A launcher on a court: all that the aim of its shots depends on."""

    launcher: int
    placed: PlacedLauncher
    profile: Profile
    conditions: Conditions
    lines: Court
    surface: Surface | str  # or why it is not known
    receiver_m: tuple[float, float] | None = None  # of a feed that does not say

    @property
    def elevations_deg(self) -> tuple[float, float]:
        """How far down and up the launcher points."""
        held = self.profile.limits.elevation_deg
        return held.least, held.most


class Miss(msgspec.Struct, frozen=True):
    """How a shot misses: ``short_m`` positive when it falls short, negative when it flies past."""

    speed_mps: float
    short_m: float
    speed_needed_mps: float  # nan: no speed does


class Outside(msgspec.Struct, frozen=True):
    """A shot to whose place no throw has the wished apex, time or height at contact.

    ``least`` and ``most`` are what throws to that place can have; nan where none lands there.
    """

    wished: float
    least: float
    most: float


class NoBounce(msgspec.Struct, frozen=True):
    """A shot that is given by its contact after a bounce that is not known, and why not."""

    why: str


class BetweenSteps(msgspec.Struct, frozen=True):
    """A shot whose ball is none of those that its launcher's steps give.

    ``had`` are what the steps give of ``part`` ("speed", "apex", ...) with a spin like the wished
    one, rising. Where no step's ball spins like it, ``spins`` are the balls that there are.
    """

    part: str
    wished: float
    had: tuple[float, ...]
    spins: tuple[Throw, ...] = ()


Missed: TypeAlias = Miss | Outside | NoBounce | BetweenSteps


class Solved(msgspec.Struct, frozen=True):
    """A shot's throw: row ``row`` of ``aims``; None where there is no throw at all.

    One that ``missed`` is aimed as near as can be, or not at all.
    """

    shot: Shot
    aims: Aims | None
    row: int
    missed: Missed | None = None

    @property
    def throw(self) -> Throw:
        """How the ball leaves; only of a shot that has ``aims``."""
        assert self.aims is not None
        return Throw(
            speed_mps=float(self.aims.launches.speed_mps[self.row]),
            elevation_deg=float(self.aims.elevation_deg[self.row]),
            azimuth_deg=float(self.aims.azimuth_deg[self.row]),
            top_rpm=self.shot.wish.top_rpm,
            side_rpm=self.shot.wish.side_rpm,
        )

    def net_clearance_m(self, stand: Stand) -> float:
        """Underside of the ball over the cord as it crosses; less than none if it does not."""
        assert self.aims is not None
        flights, net = self.aims.flights, stand.lines.net
        height, x_m = float(flights.net_height_m[self.row]), float(flights.net_x_m[self.row])
        if np.isnan(height):
            return -net.centre_m
        return height - stand.conditions.ball.radius_m - net.height_m(x_m)
