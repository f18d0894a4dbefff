"""The equations of motion of many balls at once, and one step of its solution.

Through still, even air the acceleration depends on velocity and spin alone, not on place or time,
so the steps work on velocity and take place as its integral. A steady wind is dealt with by riding
in the air: velocities here are relative to it.

Arrays hold one ball a column: velocities (3, n), and where spin decays a fourth row with the
surface speed R omega.
"""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.air import STANDARD_GRAVITY, Air
from feedscript.flight.ball import Ball
from feedscript.flight.models import Array, Lanes, Model
from feedscript.flight.motion.tableau import ERROR_3, ERROR_5, STAGES, WEIGHTS

#: m/s; below this a ball has no direction to lift it in. An array, as all numbers that are used in
#: every stage: numpy makes one of a number of Python's each time, which costs as much as the sum.
_STILL = np.array(1e-6)
_GRAVITY = np.array(STANDARD_GRAVITY)
#: Rows of a velocity that the cross product takes: y z x of the axis meet z x y, then x y z of it.
_ACROSS = np.array([2, 0, 1, 1, 2, 0])


class Decay(msgspec.Struct, frozen=True):
    """How spin dies away: d(omega)/dt = -(per_s + per_m v) omega.

    No published constant for tennis balls is known to us. ``golf`` is the form of Smits & Smith
    1994, A new aerodynamic model of a golf ball in flight, 2e-5 v / R (from memory); a steady rate
    of 0.04 per s is the e-folding time of 25 s quoted for baseballs (Adair; Nathan; from memory).
    """

    per_s: float = 0.0
    per_m: float = 0.0

    @classmethod
    def golf(cls, ball: Ball) -> Decay:
        return cls(per_m=2e-5 / ball.radius_m)

    def __bool__(self) -> bool:
        return self.per_s != 0 or self.per_m != 0


NO_DECAY = Decay()


class EquationsOfMotion(msgspec.Struct, frozen=True, eq=False):
    """What drives a batch of balls. ``axis`` (3, n) is of unit length, or zero without spin."""

    axis: Array
    surface_mps: Array
    per_m: float  # rho A / (2 m)
    model: Model
    decay: Decay | None
    turned: Array  # the axis with its rows turned by one, then by two: for the cross product
    dragged_per_m: Array  # what a coefficient of drag slows by, and one of lift turns by; no axes
    lifted_per_m: Array

    @classmethod
    def of(
        cls, spin_radps: Array, ball: Ball, air: Air, model: Model, decay: Decay
    ) -> EquationsOfMotion:
        """The equations of balls with these spins, (3, n)."""
        rate = np.sqrt(_squared(spin_radps))
        axis = spin_radps / np.where(rate > 0, rate, 1.0)
        per_m = air.density_kgm3 * ball.area_m2 / (2 * ball.mass_kg)
        return cls(
            axis,
            rate * ball.radius_m,
            per_m,
            model,
            decay if decay else None,
            axis[[1, 2, 0, 2, 0, 1]],
            np.array(-per_m * ball.wear.drag_factor),
            np.array(per_m * ball.wear.lift_factor),
        )

    def of_lanes(self, lanes: Lanes) -> EquationsOfMotion:
        """The same for some of the balls."""
        return msgspec.structs.replace(
            self,
            axis=self.axis[:, lanes],
            surface_mps=self.surface_mps[lanes],
            turned=self.turned[:, lanes],
        )

    def state(self, velocity: Array) -> Array:
        """The rows that are stepped: velocity, and the surface speed where spin decays."""
        if self.decay is None:
            return velocity
        return np.vstack([velocity, self.surface_mps])

    def rate(self, state: Array, out: Array | None = None) -> Array:
        """Time derivative of the state, same shape, in m/s^2."""
        result = np.empty_like(state) if out is None else out
        velocity, push, surface = state, result, self.surface_mps
        if self.decay is not None:
            velocity, push, surface = state[:3], result[:3], state[3]
        speed = _squared(velocity)
        np.sqrt(speed, out=speed)
        np.maximum(speed, _STILL, out=speed)
        ratio = surface / speed
        drag = self.model.drag(ratio)
        drag *= speed
        drag *= self.dragged_per_m
        np.multiply(velocity, drag, out=push)
        if self.model.lift is not None:
            lift = self.model.lift(ratio)
            lift *= speed
            lift *= self.lifted_per_m
            push += self._turned(velocity, lift)
        down = push[2]
        down -= _GRAVITY
        if self.decay is not None:
            result[3] = -(self.decay.per_s + self.decay.per_m * speed) * surface
        return result

    def _turned(self, velocity: Array, lift: Array) -> Array:
        """lift (axis x velocity), both halves of the product at once."""
        both = velocity.take(_ACROSS, axis=0)
        both *= self.turned
        across: Array = both[:3]
        across -= both[3:]
        across *= lift
        return across


class Step(msgspec.Struct, frozen=True, eq=False):
    """One step: the state after it, the way gone (3, n), and the error estimate in m/s (n)."""

    state: Array
    way: Array
    error_mps: Array


def step(equations: EquationsOfMotion, state: Array, rate: Array, seconds: Array) -> Step:
    """One step of order 8 for every ball, each with its own length.

    ``rate`` is that of the equations at ``state``; the last step's serves again.
    """
    rates, stages = np.empty((2, 12, *state.shape))
    rates[0], stages[0] = rate, state
    flat, at_flat = rates.reshape(12, -1), stages.reshape(12, -1)
    for index in range(1, 12):
        at = stages[index]
        _weighted(_ROWS[index], flat[:index], at_flat[index])
        at *= seconds
        at += state
        equations.rate(at, rates[index])
    ends = np.einsum("ei,in->en", _ENDS, flat).reshape(3, *state.shape)
    ends *= seconds
    way = np.einsum("i,in->n", _ENDS[0], at_flat).reshape(state.shape)[:3]
    way *= seconds
    fine, coarse = _squared(ends[1]), _squared(ends[2])
    error = fine / np.sqrt(fine + 0.01 * coarse + 1e-300)
    return Step(state + ends[0], way, error)


def short_step(
    equations: EquationsOfMotion, state: Array, rate: Array, seconds: Array
) -> tuple[Array, Array]:
    """One classical Runge-Kutta step of order 4: the state after it and the way gone."""
    second = state + seconds / 2 * rate
    rate_2 = equations.rate(second)
    third = state + seconds / 2 * rate_2
    rate_3 = equations.rate(third)
    fourth = state + seconds * rate_3
    rate_4 = equations.rate(fourth)
    after = state + seconds / 6 * (rate + 2 * (rate_2 + rate_3) + rate_4)
    way = seconds / 6 * (state + 2 * (second + third) + fourth)[:3]
    return after, way


def _squared(vectors: Array) -> Array:
    """The square of each column's length."""
    total: Array = np.add.reduce(vectors * vectors, axis=0)
    return total


def _weighted(weights: Array, stages: Array, out: Array) -> None:
    """Sum over stages. Not by BLAS, whose rounding depends on the size of the batch and on the
    machine: a ball flies the same to the last bit, whichever balls fly beside it."""
    np.einsum("i,in->n", weights, stages, out=out)


_ROWS = [np.array([row.get(j, 0.0) for j in range(i)]) for i, row in enumerate(STAGES)]
_ENDS = np.array([WEIGHTS, ERROR_5, ERROR_3])
