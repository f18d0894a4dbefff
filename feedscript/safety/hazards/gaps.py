"""How far corridors stay from areas, from each other, and under what they fly over.

Between two cuts a corridor is taken as the hull of both. A piece is clear of something that bulges
nowhere inwards where a plane parts them; the gap is that of the plane that parts them best, looked
for on a grid of directions and then ever closer about the best. What is found is never more than
the true gap. A plane may lean: it then passes over what is lower than the ball.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.memo import Memo
from feedscript.safety.hazards.envelope import ROUND, Array, Envelope, hulls

Lanes = NDArray[np.intp]

_STEP = 2.0 * np.pi / ROUND
_ANGLES = np.linspace(0.0, 2.0 * np.pi, ROUND, endpoint=False)
_UPRIGHT = np.zeros(1)
#: How planes may lean over what is low, and how far at most.
_LEANS = np.radians([0.0, 20.0, 40.0, 60.0, 80.0])
_STEEPEST = float(np.radians(85.0))
#: Each closer look halves the steps: seven end at a fifth of a degree, some millimetres.
_LOOKS = 7
_NEXT = np.array([-1.0, 0.0, 1.0])
#: So many directions of the grid are each looked about.
_STARTS = 3
#: What stays further off than this need not be measured more exactly.
NEAR_M = 1.0
#: Pieces looked at more closely in one go; bounds the memory.
_CHUNK = 512

#: How good a plane is for each of some pieces: angles and leans, both [piece, plane].
_Value = Callable[[Array, Array], Array]


def clearance_m(
    envelope: Envelope,
    outline_m: Array,
    height_m: float,
    enough_m: float = NEAR_M,
    memo: Memo | None = None,
) -> float:
    """How far the corridor below ``height_m`` stays from an area on the ground.

    What stays further off than ``enough_m`` is not measured more exactly. ``outline_m`` is
    [corner, 2]; where it bulges inwards its hull counts. Negative: the corridor enters the area by
    as much. Infinite when the ball never flies that low. ``memo`` is of earlier checks.
    """
    memo = Memo() if memo is None else memo
    area = _Prism(envelope, outline_m, height_m)
    key = (envelope.content, outline_m.tobytes(), height_m)
    far = memo.one("roughly clear", key, area.roughly_m)
    return far if far > enough_m else memo.one("clear", key, area.closely_m)


class _Prism(msgspec.Struct, frozen=True, dict=True):
    """A corridor beside an area that is so high."""

    envelope: Envelope
    outline_m: Array
    height_m: float

    @cached_property
    def _low(self) -> Lanes:
        """The pieces that are lower than the area somewhere."""
        # Written so that what is not a number counts as low, and as near.
        low = ~(self.envelope.lowest_m >= self.height_m)
        return np.flatnonzero(low[:-1] | low[1:])

    @cached_property
    def _rough(self) -> Array:
        """How far each of these stays from the area in each direction of the grid."""
        edge = (_normals(_ANGLES, _UPRIGHT)[:, :2] @ self.outline_m.T).min(axis=1)
        rough: Array = edge - self.envelope.around_m[self._low]
        return rough

    def roughly_m(self) -> float:
        """No more than what a closer look finds."""
        return float(np.min(self._rough.max(axis=1))) if self._low.size else float("inf")

    def closely_m(self) -> float:
        """The least gap."""
        pieces, starts = self._low, _starts(self._rough)

        def gaps(some: Lanes) -> Array:
            return _from_each(starts[some], lambda angles: self.gaps(pieces[some], angles))

        return _least(self._rough.max(axis=1), gaps)

    def gaps(self, pieces: Lanes, angles: Array) -> Array:
        """How far each piece stays from the area, below its height; ``angles`` are good ones."""
        over = self.envelope.highest_m >= self.height_m
        leaning = over[pieces] | over[pieces + 1]
        found = np.empty(len(pieces))
        for some, leans in ((~leaning, _UPRIGHT), (leaning, _LEANS)):
            if some.any():
                found[some] = _best(self._value(pieces[some]), angles[some], leans)
        return found

    def _value(self, pieces: Lanes) -> _Value:
        ends = self.envelope.some(pieces), self.envelope.some(pieces + 1)

        def value(angles: Array, leans: Array) -> Array:
            normals = _normals(angles, leans)
            edge = (normals[..., :2] @ self.outline_m.T).min(axis=-1)
            if leans.any():
                edge = edge + normals[..., 2] * self.height_m
            reach = np.maximum(ends[0].furthest_m(normals), ends[1].furthest_m(normals))
            gap: Array = edge - reach
            return gap

        return value


def surely_apart_m(pairs: Sequence[tuple[Envelope, Envelope]]) -> Array:
    """How far apart the two corridors of each pair surely stay, from what all of each reaches:
    quickly found."""
    if not pairs:
        return np.empty(0)
    ones, others = (np.stack([each.reach_m for each in side]) for side in zip(*pairs, strict=True))
    apart: Array = -(ones + np.roll(others, ROUND // 2, axis=1)).min(axis=1)
    return apart


def apart_m(
    one: Envelope, other: Envelope, enough_m: float = NEAR_M, memo: Memo | None = None
) -> float:
    """How far two corridors stay apart, seen from above; negative where they cross.

    What stays further off than ``enough_m`` is not measured more exactly. ``memo`` is of earlier
    checks.
    """
    whole = float(surely_apart_m([(one, other)])[0])
    if whole > enough_m:
        return whole
    memo = Memo() if memo is None else memo
    both, key = _Both(one, other), (one.content, other.content)
    far = memo.one("roughly apart", key, both.roughly_m)
    return far if far > enough_m else memo.one("apart", key, both.closely_m)


class _Both(msgspec.Struct, frozen=True, dict=True):
    """Two corridors beside each other."""

    one: Envelope
    other: Envelope

    @cached_property
    def _ways(self) -> tuple[Array, Array]:
        """How far each stretch reaches towards the other, and the other's back: [stretch, way]."""
        return self.one.around_m, np.roll(self.other.around_m, ROUND // 2, axis=1)

    @cached_property
    def _rough(self) -> Array:
        """How far every two stretches surely stay apart."""
        mine, others = self._ways
        rough: Array = -(mine[:, None] + others[None]).min(axis=-1)
        return rough

    def roughly_m(self) -> float:
        """No more than what a closer look finds."""
        return float(np.min(self._rough))

    def closely_m(self) -> float:
        """The least gap."""
        mine, others = self._ways

        def gaps(chosen: Lanes) -> Array:
            first, second = np.unravel_index(chosen, self._rough.shape)
            starts = _starts(-mine[first] - others[second])
            value = _apart(self.one, self.other, first, second)
            return _from_each(starts, lambda angles: _best(value, angles, _UPRIGHT))

        return _least(self._rough.ravel(), gaps)


def _apart(one: Envelope, other: Envelope, first: Lanes, second: Lanes) -> _Value:
    ends = [envelope.some(cuts) for envelope, cuts in (
        (one, first), (one, first + 1), (other, second), (other, second + 1)
    )]  # fmt: skip

    def value(angles: Array, leans: Array) -> Array:
        normals = _normals(angles, leans)
        mine = np.maximum(ends[0].furthest_m(normals), ends[1].furthest_m(normals))
        others = np.maximum(ends[2].furthest_m(-normals), ends[3].furthest_m(-normals))
        gap: Array = -mine - others
        return gap

    return value


def height_at_m(envelope: Envelope, y_m: float) -> float:
    """How high the ball's upper edge may be where it passes ``y_m``; 0 if it never gets there."""
    along = np.array([[0.0, 1.0, 0.0], [0.0, -1.0, 0.0]])
    beyond, before = hulls(envelope.furthest_m(along)).T
    # Written so that what is not a number counts as there.
    pieces = np.flatnonzero(~((beyond < y_m) | (before < -y_m)))
    if not pieces.size:
        return 0.0
    ends = envelope.some(pieces), envelope.some(pieces + 1)

    def value(_: Array, leans: Array) -> Array:
        slopes = np.tan(leans)
        normals = np.stack([np.zeros_like(slopes), slopes, np.ones_like(slopes)], axis=-1)
        reach = np.maximum(ends[0].furthest_m(normals), ends[1].furthest_m(normals))
        under: Array = slopes * y_m - reach
        return under

    both_ways = np.concatenate([-_LEANS[:0:-1], _LEANS])
    return float(-_best(value, np.zeros(len(pieces)), both_ways).min())


def _starts(rough: Array) -> Array:
    """The directions of the grid that part each piece best, [piece, start]: about a thin area the
    very best one need not be beside the best of the grid."""
    found: Array = _ANGLES[np.argsort(-rough, axis=1)[:, :_STARTS]]
    return found


def _from_each(starts: Array, gaps: Callable[[Array], Array]) -> Array:
    """The best of what is found from each start."""
    best: Array = np.max([gaps(angles) for angles in starts.T], axis=0)
    return best


def _normals(angles: Array, leans: Array) -> Array:
    """Normals that are one long over the ground, and lean down: [..., 3]."""
    parts = np.broadcast_arrays(np.cos(angles), np.sin(angles), -np.tan(leans))
    return np.stack(parts, axis=-1)


def _least(rough: Array, closer: Callable[[Lanes], Array]) -> float:
    """The least gap of all pieces: ``rough`` is never more than what a closer look finds."""
    first = int(np.argmin(rough))
    least = float(closer(np.array([first]))[0])
    rest = np.flatnonzero(~(rough > least))
    rest = rest[rest != first]
    parts = [closer(rest[k : k + _CHUNK]).min() for k in range(0, len(rest), _CHUNK)]
    return float(np.min([least, *parts]))


def _best(value: _Value, angles: Array, leans: Array) -> Array:
    """The value of the best plane for each piece, looked for about these angles and leans."""
    lanes, lowest = np.arange(len(angles))[:, None], -_STEEPEST if leans[0] < 0 else 0.0
    turns, tilts = _pairs(_NEXT * _STEP, leans)
    near, tilted = angles[:, None] + turns, np.tile(tilts, (len(angles), 1))
    turns, tilts = _pairs(_NEXT * _STEP, _NEXT * (leans[1] - leans[0]) if len(leans) > 1 else leans)
    for look in range(_LOOKS + 1):
        found = value(near, tilted)
        top = np.argmax(found, axis=1)[:, None]
        near = near[lanes, top] + turns * 0.5 ** (look + 1)
        tilted = np.clip(tilted[lanes, top] + tilts * 0.5 ** (look + 1), lowest, _STEEPEST)
    best: Array = found.max(axis=1)
    return best


def _pairs(turns: Array, tilts: Array) -> tuple[Array, Array]:
    """Every turn with every tilt, in one row each."""
    all_turns, all_tilts = np.meshgrid(turns, tilts)
    return all_turns.ravel(), all_tilts.ravel()
