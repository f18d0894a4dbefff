"""How far over the net a throw stays with its scatter, for throws that are only being tried.

The safety rules ask this of every feed of a plan; here it keeps what they would refuse from
being offered.
"""

from __future__ import annotations

import numpy as np

from feedscript.flight.launches import Launches
from feedscript.flight.motion.flights import fly
from feedscript.launcher.scatter import MOUTH_QUANTITIES, mouth_sigmas
from feedscript.launcher.throw import Throw
from feedscript.plan.aiming.solved import Stand

#: The scatter that every rule allows for unless a program asks for more.
_SIGMA = 3.0


def net_room_m(throw: Throw, stand: Stand) -> float:
    """Underside of the ball over the cord at the low end of its scatter; nan if it may not cross.

    What each quantity at the mouth costs alone, combined as the root of the sum of squares.
    """
    centre = np.array([getattr(throw, name) for name in MOUTH_QUANTITIES])
    step = np.diag(_SIGMA * mouth_sigmas(stand.profile, throw))
    speed, elevation, azimuth, top, side = np.vstack([centre, centre + step, centre - step]).T
    x, y, z = stand.placed.mouth_m
    launches = Launches.of(
        speed, elevation, azimuth, top_rpm=top, side_rpm=side, x_m=x, y_m=y, z_m=z
    ).thrown_by_wheels()
    flights = fly(launches, stand.conditions)
    cord = stand.lines.net.heights_m(flights.net_x_m)
    room = flights.net_height_m - stand.conditions.ball.radius_m - cord
    lost = np.maximum(room[0] - room[1:], 0.0).reshape(2, -1).max(axis=0)
    return float(room[0] - np.sqrt(np.sum(lost**2)))
