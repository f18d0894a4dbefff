"""Where many balls are at any time, past their bounce: each with drag, lift and bounce of its own.

The project's own equations of motion, in steps of one length; between them the quintic is read.
"""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.bounce import bounce
from feedscript.flight.launches import Launches, Release
from feedscript.flight.models import Array, Model
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.equations_of_motion import step
from feedscript.flight.motion.hermite import quintic, root_between, slope_of, value_at
from feedscript.watch.seek.expected import AT, Expected
from feedscript.watch.seek.pushed import Pushed

#: Within 0.2 mm of the exact path of a ball of 30 m/s.
_STEP_S = 0.24
#: How long a ball is followed after its bounce, and one that does not come down at all.
_AFTER_STEPS = 2
AFTER_S = _AFTER_STEPS * _STEP_S
_MOST_S = 4.8


class Paths(msgspec.Struct, frozen=True, eq=False):
    """The ways of n balls; NaN where a ball does not come down within some seconds."""

    before: Array  # (steps, 6, 3, n): quintics from the mouth on
    after: Array  # the same from the bounce on
    left_s: Array  # (n), video time
    flight_s: Array  # (n), mouth to bounce
    landing_m: Array  # (n, 2)
    falling_mps: Array  # (3, n) velocity just before the bounce

    def at(self, times_s: Array) -> Array:
        """Places, shape (n, m, 3), at video times of shape (m,) or (n, m).

        NaN before the ball left, and when it has been followed to its end.
        """
        since = np.broadcast_to(times_s, (len(self.left_s), np.shape(times_s)[-1]))
        since = since - self.left_s[:, None]
        late = since - self.flight_s[:, None]
        down = late >= 0
        places = np.where(down[..., None], _read(self.after, late), _read(self.before, since))
        places[~((since >= 0) & (late < _STEP_S * len(self.after)))] = np.nan
        return places


def paths(balls: Array, expected: Expected, after_steps: int = _AFTER_STEPS) -> Paths:
    """The ways of balls given by ``UNKNOWNS``, shape (n, 20), for so many steps of 0.24 s after
    the bounce."""
    columns = {name: balls[:, index] for name, index in AT.items()}
    conditions = _own_air(expected.conditions, columns["drag"], columns["lift"])
    release = _release(columns)
    wind = _wind(columns, conditions)
    push = (columns["push_right"], columns["push_up"])
    floor_m = conditions.ball.radius_m
    before = _flown(release, conditions, wind, push, _steps_down(release), floor_m)
    flight_s, piece, share = _comes_down(before, floor_m)
    place, falling = _there(before, piece, share)
    bounced = _bounced(place, falling, release.spin_radps, columns, expected)
    then = (columns["then_right"], columns["then_up"])
    after = _flown(bounced, conditions, wind, then, after_steps)
    return Paths(before, after, columns["left_s"], flight_s, place[:2].T, falling)


def _release(columns: dict[str, Array]) -> Release:
    launch = ("speed_mps", "elevation_deg", "azimuth_deg", "top_rpm", "side_rpm")
    words = {name: columns[name] for name in (*launch, "x_m", "y_m", "z_m")}
    speed, up, turn = (words.pop(name) for name in launch[:3])
    return Launches.of(speed, up, turn, **words).release()


def _own_air(conditions: Conditions, drag: Array, lift: Array) -> Conditions:
    """The model with a factor for each ball."""
    model = conditions.model
    lifted = model.lift

    def own_drag(ratio: Array) -> Array:
        return model.drag(ratio) * drag

    def own_lift(ratio: Array) -> Array:
        return lifted(ratio) * lift if lifted is not None else np.zeros_like(ratio)

    return msgspec.structs.replace(
        conditions,
        model=Model(model.name, model.source, own_drag, own_lift, model.speed_mps, model.spin_rpm),
    )


def _wind(columns: dict[str, Array], conditions: Conditions) -> Array:
    """The air's velocity for each ball, (3, n): the day's, and its own, from where it heads."""
    turn = np.radians(columns["azimuth_deg"])
    along, right = columns["wind_along_mps"], columns["wind_right_mps"]
    sin, cos = np.sin(turn), np.cos(turn)
    own = np.stack([along * sin + right * cos, along * cos - right * sin, 0 * turn])
    return np.asarray(conditions.wind[:, None] + own)


def _steps_down(release: Release) -> int:
    """How many steps surely bring every ball down: without drag, and with the lift as weight."""
    up, high = release.velocity_mps[2], release.place_m[2]
    fall_s = (up + np.sqrt(np.maximum(up**2 + 2 * 9.8 * high, 0))) / 9.8
    longest = np.nanmax(fall_s) * 1.35 + _STEP_S
    return int(np.ceil(min(longest, _MOST_S) / _STEP_S))


def _flown(
    release: Release,
    conditions: Conditions,
    wind: Array,
    push: tuple[Array, Array],
    steps: int,
    floor_m: float = -np.inf,
) -> Array:
    """Quintics, shape (steps, 6, 3, n), through places at equal steps, ground or no ground; no
    further once every ball is below the floor."""
    equations = Pushed.by(conditions.equations(release.spin_radps), *push)
    seconds = np.full(len(release), _STEP_S)
    state = equations.state(release.velocity_mps - wind)
    place, rate = release.place_m, equations.rate(state)
    pieces = []
    for _ in range(steps):
        gone = step(equations, state, rate, seconds)
        after, after_rate = gone.state, equations.rate(gone.state)
        after_place = place + gone.way + wind * seconds
        start = (place, state[:3] + wind, rate[:3])
        pieces.append(quintic(start, (after_place, after[:3] + wind, after_rate[:3]), seconds))
        state, rate, place = after, after_rate, after_place
        if (place[2] < floor_m - 1e-6).all():
            break
    return np.stack(pieces)


def _comes_down(pieces: Array, floor_m: float) -> tuple[Array, Array, Array]:
    """When each ball's centre comes down to the floor: seconds (NaN: it does not), in which piece,
    and which share of it is gone by then."""
    ends_m = pieces[:, :, 2].sum(axis=1)  # of the height, at each piece's end
    below = ends_m <= floor_m
    piece = below.argmax(axis=0)
    high = pieces[piece, :, 2, np.arange(pieces.shape[3])].T.copy()
    high[0] -= floor_m
    share = _polished(high, root_between(high, np.zeros(len(piece)), np.ones(len(piece))))
    share[~below.any(axis=0)] = np.nan
    return _STEP_S * (piece + share), piece, share


def _polished(high: Array, share: Array) -> Array:
    """By Newton's steps alone: a bracket ends with a jump that slopes of slopes would see."""
    falling = slope_of(high)
    for _ in range(4):
        with np.errstate(divide="ignore", invalid="ignore"):
            share = share - value_at(high, share) / value_at(falling, share)
    return share


def _there(pieces: Array, piece: Array, share: Array) -> tuple[Array, Array]:
    """Place and velocity, (3, n) each, of every ball so far into its piece."""
    poly = pieces[piece, :, :, np.arange(pieces.shape[3])].transpose(1, 2, 0)
    return value_at(poly, share), value_at(slope_of(poly), share) / _STEP_S


def _bounced(
    place: Array, falling: Array, spin: Array, columns: dict[str, Array], expected: Expected
) -> Release:
    """Just after the bounce. What a ball loses along the ground beyond what the surface takes, or
    is spared, goes into its spin as friction's share does: one push does both."""
    ball = expected.conditions.ball
    usual, spun, _ = bounce(falling, spin, ball, expected.surface)
    turn = np.radians(columns["kick_deg"])
    along, across = columns["keep"] * usual[:2]
    away = np.stack(
        [
            along * np.cos(turn) + across * np.sin(turn),
            across * np.cos(turn) - along * np.sin(turn),
            columns["rise"] * usual[2],
        ]
    )
    push = (usual - away)[:2] / (ball.inertia_factor * ball.radius_m)
    spun = spun + np.stack([-push[1], push[0], 0 * push[0]])
    return Release(place, away, spun)


def _read(pieces: Array, since_s: Array) -> Array:
    """Places (n, m, 3) at seconds (n, m) from the first piece's beginning."""
    steps = since_s / _STEP_S
    piece = np.clip(np.nan_to_num(steps), 0, len(pieces) - 1).astype(int)
    share = (steps - piece)[..., None]
    lanes = np.arange(since_s.shape[0])[:, None]
    poly = pieces[piece, :, :, lanes]  # (n, m, 6, 3)
    place = poly[..., 5, :].copy()
    for power in range(4, -1, -1):
        place *= share
        place += poly[..., power, :]
    return place
