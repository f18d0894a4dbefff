"""Drag and lift of a tennis ball: published models, each named after how it was measured.

A model gives the drag coefficient CD and the lift coefficient CL as functions of the spin ratio
S = R omega / v (surface speed over air speed). The force on the ball is

    1/2 rho A v^2 ( -CD v_hat + CL (omega_hat x v_hat) )

with v the speed through the air (Robinson & Robinson 2013, Phys. Scr. 88:018101). The lift is not
made whole again when the spin axis leans towards the flight: a ball that spins about its line of
flight feels none.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.flight.ball import Band

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Lanes = NDArray[np.intp] | Mask  # which balls of a batch: indices or a mask


class Model(msgspec.Struct, frozen=True):
    """A named pair of drag and lift.

    ``drag`` and ``lift`` map the spin ratio S (any shape) to CD and CL of the same shape;
    ``None`` as lift means none at all. ``speed_mps`` and ``spin_rpm`` are what it was measured
    or fitted over: outside them it is an extrapolation, and a feed that goes there says so.
    """

    name: str
    source: str
    drag: Callable[[Array], Array]
    lift: Callable[[Array], Array] | None
    speed_mps: Band
    spin_rpm: Band
    from_memory: str = ""


def _numbers(*values: float) -> tuple[Array, ...]:
    """Numbers that are used in every stage of every step, as arrays without axes: numpy makes one
    of a number of Python's each time, which costs as much as the sum."""
    return tuple(np.array(value) for value in values)


_POWER = np.array(-0.4)
_WIND_TUNNEL_DRAG = _numbers(0.508, 22.503, 4.196)
_WIND_TUNNEL_LIFT = _numbers(2.022, 0.981)
_TEXTBOOK_DRAG = _numbers(0.55, 22.5, 4.2)
_TEXTBOOK_LIFT = _numbers(2.0, 1.0)


def _drag(ratio: Array, least: Array, constant: Array, slope: Array) -> Array:
    """least + 1 / (constant + slope (v/vs)^2.5)^0.4, written in S = vs/v so that no spin is no
    trouble."""
    inner = ratio * ratio
    inner *= np.sqrt(ratio)
    inner *= constant
    inner += slope
    np.power(inner, _POWER, out=inner)
    inner *= ratio
    inner += least
    return inner


def _lift(ratio: Array, slope: Array, constant: Array) -> Array:
    """1 / (slope + constant v/vs), written in S = vs/v."""
    inner = slope * ratio
    inner += constant
    np.divide(ratio, inner, out=inner)
    return inner


def _wind_tunnel_drag(ratio: Array) -> Array:
    return _drag(ratio, *_WIND_TUNNEL_DRAG)


def _wind_tunnel_lift(ratio: Array) -> Array:
    return _lift(ratio, *_WIND_TUNNEL_LIFT)


def _textbook_drag(ratio: Array) -> Array:
    return _drag(ratio, *_TEXTBOOK_DRAG)


def _textbook_lift(ratio: Array) -> Array:
    return _lift(ratio, *_TEXTBOOK_LIFT)


def _steady(coefficient: float) -> Callable[[Array], Array]:
    def drag(ratio: Array) -> Array:
        return np.full_like(ratio, coefficient)

    return drag


WIND_TUNNEL = Model(
    name="wind-tunnel",
    source="Stepanek 1988, The aerodynamics of tennis balls: the topspin lob, Am. J. Phys. "
    "56:138-142 (wind tunnel)",
    drag=_wind_tunnel_drag,
    lift=_wind_tunnel_lift,
    speed_mps=Band(13.6, 28.0),
    spin_rpm=Band(800.0, 3250.0),
    from_memory="the range of speed and spin",
)

#: The models by name. ``vacuum`` is a check, not a model of anything on a court.
MODELS: Mapping[str, Model] = MappingProxyType(
    {
        model.name: model
        for model in (
            WIND_TUNNEL,
            Model(
                name="textbook",
                source="Brody, Cross & Lindsey 2002, The Physics and Technology of Tennis, chapter "
                "on trajectories",
                drag=_textbook_drag,
                lift=_textbook_lift,
                speed_mps=Band(10.0, 60.0),
                spin_rpm=Band(0.0, 4000.0),
                from_memory="that the pair is theirs, and its range",
            ),
            Model(
                name="free-flight",
                source="Cross & Lindsey 2013, Measurements of drag and lift on tennis balls in "
                "flight, Sports Eng.: drag 0.507 +/- 0.024 whatever speed and spin, new balls in "
                "free flight; lift by the pair of 2002",
                drag=_steady(0.507),
                lift=_textbook_lift,
                speed_mps=Band(15.0, 30.0),
                spin_rpm=Band(0.0, 2500.0),
            ),
            Model(
                name="match-serves",
                source="Choppin, Albrecht, Spurr & Capel-Davies 2018, Proceedings 2(6):265: mean "
                "drag 0.579 of new balls over 9,224 first serves; lift by the pair of Brody, Cross "
                "& Lindsey 2002",
                drag=_steady(0.579),
                lift=_textbook_lift,
                speed_mps=Band(35.0, 65.0),
                spin_rpm=Band(0.0, 4000.0),
                from_memory="the range of speed and spin (ordinary first serves)",
            ),
            Model(
                name="vacuum",
                source="no air at all: a check against closed forms",
                drag=np.zeros_like,
                lift=None,
                speed_mps=Band(0.0, float("inf")),
                spin_rpm=Band(0.0, float("inf")),
            ),
        )
    }
)

DEFAULT_MODEL = WIND_TUNNEL


def model_named(name: str) -> Model:
    """The model of that name; KeyError for one nobody knows."""
    return MODELS[name.lower()]
