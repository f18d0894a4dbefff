"""Launchers that swing by themselves: a ball leaves anywhere in a band of directions.

Where in its swing the launcher is when a ball leaves, nobody knows or decides. So nothing is known
of a ball's direction but the band, and whatever must hold of a feed must hold of every direction in
it. The band is laid out in directions at most ``APART_DEG`` apart; what lies between two of them is
added to the scatter of each.
"""

from __future__ import annotations

import math

from feedscript.launcher.profile.model import Profile

#: How far apart the directions are at most, that stand for a band. Design value: 0.17 m at 20 m.
APART_DEG = 0.5
#: The least scatter, in standard deviations, that a rule allows for.
_LEAST_SIGMAS = 2.0


def directions_deg(profile: Profile) -> tuple[float, ...]:
    """Directions that stand for the band, from where the launcher faces: straight ahead, or the
    nearest to it, first; then from left to right. (0.0,) for a launcher that does not swing."""
    if profile.sweep is None:
        return (0.0,)
    band = profile.sweep.band_deg
    count = 1 + math.ceil((band.most - band.least) / APART_DEG - 1e-9)
    step = (band.most - band.least) / max(count - 1, 1)
    ahead = band.nearest(0.0)
    laid = (band.least + step * number for number in range(count))
    return (ahead, *(each for each in laid if abs(each - ahead) > 1e-9))


def unsure_deg(profile: Profile) -> float:
    """What is added to the standard deviation of the azimuth for what lies between two directions
    of ``directions_deg``: half their distance at the least scatter that is allowed for."""
    return 0.0 if profile.sweep is None else APART_DEG / 2 / _LEAST_SIGMAS
