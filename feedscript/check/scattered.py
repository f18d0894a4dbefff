"""What every ball of a feed does within the stated scatter, for expectations that ask it."""

from __future__ import annotations

import math

import msgspec
import numpy as np

from feedscript.flight.contact import at_player
from feedscript.flight.launches import Launches
from feedscript.flight.models import Array
from feedscript.launcher.scatter import MOUTH_QUANTITIES, mouth_sigmas
from feedscript.plan.aiming.flying import conditions_for, surface_for
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.hazards.strays import throw_of_feed

#: Speed and elevation stray together over a disc of these rings and turns: a ball that rises again
#: from its bounce is highest somewhere within its scatter, not at an end of it.
_RINGS = (0.25, 0.5, 0.75, 1.0)
_TURNS = 24
_DISC = len(_RINGS) * _TURNS


class Scattered(msgspec.Struct, frozen=True):
    """The balls of a plan's feeds within the stated scatter."""

    facts: PlanFacts

    @property
    def sigma(self) -> float:
        return self.facts.sigma

    def net_room_m(self, feed: int) -> float:
        """The least room between the ball's lower edge and the cord."""
        return self.facts.recomputed[feed].net_room_m

    def heights_m(self, feed: int) -> tuple[float, float]:
        """Least and greatest height of the ball's middle at its receiver.

        NaN where a ball does not get there before its second bounce, or the bounce is not known.
        """
        plan = self.facts.plan
        aimed, surface = plan.feeds[feed], surface_for(plan.court)
        if aimed.receiver_m is None or isinstance(surface, str):
            return math.nan, math.nan
        conditions = conditions_for(plan.court, plan.balls, self.facts.profile(aimed))
        met = at_player(self._strayed(feed), aimed.receiver_m[1], conditions, surface)
        middle, disc, others = np.split(met.place_m[2], [1, 1 + _DISC])
        rises = others.reshape(-1, 2) - middle
        up = _together((disc - middle).max(), rises.max(axis=1))
        down = _together((middle - disc).max(), (-rises).max(axis=1))
        return float(middle[0]) - down, float(middle[0]) + up

    def _strayed(self, feed: int) -> Launches:
        """The ball as it is aimed; over the disc; and each other quantity up and down."""
        plan, sigma = self.facts.plan, self.facts.sigma
        aimed = plan.feeds[feed]
        throw = throw_of_feed(aimed)
        centre = np.array([getattr(throw, name) for name in MOUTH_QUANTITIES])
        units = np.zeros((1 + _DISC + 2 * (len(MOUTH_QUANTITIES) - 2), len(MOUTH_QUANTITIES)))
        turns = 2 * np.pi * np.arange(_TURNS) / _TURNS
        units[1 : 1 + _DISC, 0] = np.outer(_RINGS, np.cos(turns)).ravel()
        units[1 : 1 + _DISC, 1] = np.outer(_RINGS, np.sin(turns)).ravel()
        for number in range(2, len(MOUTH_QUANTITIES)):
            row = 1 + _DISC + 2 * (number - 2)
            units[row : row + 2, number] = (1.0, -1.0)
        mouth = centre + sigma * mouth_sigmas(self.facts.profile(aimed), throw) * units
        speed, elevation, azimuth, top, side = mouth.T
        x_m, y_m, z_m = plan.launchers[aimed.launcher].mouth_m
        return Launches.of(
            np.maximum(speed, 0.1),  # a ball never flies backwards
            elevation,
            azimuth,
            top_rpm=top,
            side_rpm=side,
            x_m=x_m,
            y_m=y_m,
            z_m=z_m,
        ).thrown_by_wheels()


def _together(main: float, others: Array) -> float:
    """The root of the squares' sum of moves that do not hang together; none counts below zero."""
    moves = np.maximum(np.array([main, *others]), 0.0)
    return float(np.sqrt(np.sum(moves**2)))
