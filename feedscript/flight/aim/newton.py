"""Newton's steps in speed and elevation, from a guess to the throw that is wished."""

from __future__ import annotations

import numpy as np

from feedscript.flight.aim.family import Family
from feedscript.flight.models import Array, Lanes, Mask

_CLOSE_M = 2e-5
_CLOSE_VALUE = 2e-6  # m or s
_NEWTON_ROUNDS = 14
_NUDGE_LOG, _NUDGE_DEG = 2e-3, 0.1


def newton(family: Family, lanes: Lanes, start: Array) -> tuple[Array, Mask]:
    """Speed, elevation and azimuth from a start near enough, and whether they settled."""
    state, settled = start.copy(), np.zeros(len(lanes), dtype=bool)
    low, high = family.elevations_deg
    here = np.arange(len(lanes))
    for _ in range(_NEWTON_ROUNDS):
        log_speed, elevation, azimuth = state[:, here]
        past, right, over, jacobian = _linearised(family, lanes[here], state[:, here])
        good = (np.abs(past) < _CLOSE_M) & (np.abs(over) < _CLOSE_VALUE)
        if not family.conditions.still:
            reach = family.targets.distance_m[lanes[here]]
            good &= np.abs(np.radians(right)) * reach < _CLOSE_M
        settled[here] = good
        (a, b), (c, d) = jacobian
        with np.errstate(divide="ignore", invalid="ignore"):
            determinant = a * d - b * c
            faster = -(d * past - b * over) / determinant
            steeper = -(a * over - c * past) / determinant
        state[2, here] = azimuth - right
        moved = ~good
        state[0, here[moved]] = (log_speed + np.clip(faster, -0.25, 0.25))[moved]
        state[1, here[moved]] = np.clip(elevation + np.clip(steeper, -6, 6), low, high)[moved]
        here = here[moved & np.isfinite(faster) & np.isfinite(steeper)]
        if not here.size:
            break
    return state, settled


def _linearised(
    family: Family, lanes: Lanes, state: Array
) -> tuple[Array, Array, Array, tuple[tuple[Array, Array], tuple[Array, Array]]]:
    """Past, right and over at a state, and how the first and last grow: all in one batch."""
    log_speed, elevation, azimuth = state
    past, right, over = (
        part.reshape(3, -1)
        for part in family.throw(
            np.concatenate([lanes, lanes, lanes]),
            np.concatenate([log_speed, log_speed + _NUDGE_LOG, log_speed]),
            np.concatenate([elevation, elevation, elevation + _NUDGE_DEG]),
            np.tile(azimuth, 3),
        )
    )
    by_speed = ((past[1] - past[0]) / _NUDGE_LOG, (over[1] - over[0]) / _NUDGE_LOG)
    by_angle = ((past[2] - past[0]) / _NUDGE_DEG, (over[2] - over[0]) / _NUDGE_DEG)
    return past[0], right[0], over[0], ((by_speed[0], by_angle[0]), (by_speed[1], by_angle[1]))
