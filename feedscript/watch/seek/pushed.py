"""Equations of motion of balls that the air pushes aside without spin or wind.

A seam or a worn side does that: balls without spin were seen to be lifted, one shot unlike another
(R. Cross & C. Lindsey, "Measurements of drag and lift on tennis balls in flight", Sports Eng. 17
(2014) 89, abstract). Such a push grows with the square of the speed, a crosswind's with the speed
alone; what a ball does after its bounce, much slower, tells them apart.
"""

from __future__ import annotations

import numpy as np

from feedscript.flight.models import Array
from feedscript.flight.motion.equations_of_motion import EquationsOfMotion
from feedscript.override import override


class Pushed(EquationsOfMotion, frozen=True, eq=False):
    """``right`` and ``up``, (n,): coefficients of forces across the way, as drag has one along it;
    to the right of it along the ground, and upwards."""

    right: Array
    up: Array

    @classmethod
    def by(cls, equations: EquationsOfMotion, right: Array, up: Array) -> Pushed:
        known = {name: getattr(equations, name) for name in equations.__struct_fields__}
        return cls(**known, right=right, up=up)

    @override
    def rate(self, state: Array, out: Array | None = None) -> Array:
        result = EquationsOfMotion.rate(self, state, out)
        x, y, z = state[:3]
        flat = np.hypot(x, y)
        speed = np.hypot(flat, z)
        aside = self.per_m * self.right * speed**2 / np.maximum(flat, 1e-6)
        lifted = self.per_m * self.up * speed
        rising = lifted * z / np.maximum(flat, 1e-6)
        result[0] += aside * y - rising * x
        result[1] -= aside * x + rising * y
        result[2] += lifted * flat
        return result
