"""The room a feed's ball may take: its path with scatter, from the mouth to the second bounce.

The path is cut at equal shares of each flight's time. At each cut stand the ball's centre and what
a stray of ``sigma`` standard deviations in each quantity at the mouth (speed, elevation, azimuth
and both spins) moves it there. How far the ball may get in any one direction is then the root of
the sum of squares of what each quantity does in that direction: first-order propagation with finite
steps, so that a bend in the response is not lost. Where a plane leaves the whole room on one side,
no more balls pass it than a normal law lets past ``sigma``.
"""

from __future__ import annotations

import hashlib
from functools import cached_property

import msgspec
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Diameter of the largest ball of the rules (type 3): 7.30 cm, half of it. ITF Rules of Tennis,
#: appendix I. Foam balls for children are larger: 9.00 cm (from memory), so half of that is used.
BALL_RADIUS_M = 0.045
#: What a corridor drawn through cuts may lack beside the balls' true ways, most at a bounce; held
#: by a test against balls thrown one by one.
DRAWN_M = 0.02

#: Level directions that every corridor is first looked at from; an even number, so that each has
#: its opposite.
ROUND = 16
_LEVEL = np.array(
    [(np.cos(turn), np.sin(turn), 0.0) for turn in np.arange(ROUND) * 2.0 * np.pi / ROUND]
)
_UP = np.array([[0.0, 0.0, 1.0]])


class Envelope(msgspec.Struct, frozen=True, dict=True):
    """One feed's path with scatter; moves are at the stated sigma, from the centre of the cut."""

    centre_m: Array  # [cut, 3]
    single_m: Array  # [cut, way, 3]: of every quantity up, then of every one down
    joint_m: Array  # [cut, way, 3]: of all quantities together, in the worst ways
    other_m: Array  # [cut, way, 3]: on other surfaces that there may be

    @cached_property
    def content(self) -> bytes:
        """All of it in short: every bit of every number counts."""
        digest = hashlib.blake2b(digest_size=32)
        for name in self.__struct_fields__:
            part = getattr(self, name)
            digest.update(repr(part.shape).encode())
            digest.update(part.tobytes())
        return digest.digest()

    def some(self, cuts: NDArray[np.intp]) -> Envelope:
        """The corridor at these cuts only."""
        return Envelope(
            self.centre_m[cuts], self.single_m[cuts], self.joint_m[cuts], self.other_m[cuts]
        )

    def furthest_m(self, normals: Array) -> Array:
        """How far the ball's edge reaches along each normal, at each cut: [cut, normal].

        ``normals`` is [normal, 3], or [cut, normal, 3] for each cut its own; of any length. What
        another surface does is added whole, since it is not chance.
        """
        across = np.swapaxes(normals, -1, -2)
        moves = self.single_m @ across
        half = moves.shape[1] // 2
        greater = np.maximum(np.maximum(moves[:, :half], moves[:, half:]), 0.0)
        strayed = np.sqrt(np.sum(greater**2, axis=1))
        if self.joint_m.shape[1]:
            strayed = np.maximum(strayed, (self.joint_m @ across).max(axis=1))
        if self.other_m.shape[1]:
            strayed += np.maximum((self.other_m @ across).max(axis=1), 0.0)
        edge = (BALL_RADIUS_M + DRAWN_M) * np.sqrt(np.sum(normals**2, axis=-1))
        reach: Array = (self.centre_m[:, None] @ across)[:, 0] + strayed + edge
        return reach

    @cached_property
    def highest_m(self) -> Array:
        """Upper edge of the ball at each cut."""
        return self.furthest_m(_UP)[:, 0]

    @cached_property
    def lowest_m(self) -> Array:
        """Lower edge of the ball at each cut."""
        return -self.furthest_m(-_UP)[:, 0]

    @cached_property
    def around_m(self) -> Array:
        """How far each stretch between two cuts reaches in ``ROUND`` directions: [stretch, way].

        The first is along x, the others follow from there towards y.
        """
        return hulls(self.furthest_m(_LEVEL))

    @cached_property
    def reach_m(self) -> Array:
        """How far the whole corridor reaches in ``ROUND`` directions: [way]."""
        reach: Array = self.around_m.max(axis=0)
        return reach


def hulls(at_cuts: Array) -> Array:
    """How far the hull of each cut and its next reaches, from how far each cut does."""
    reach: Array = np.maximum(at_cuts[:-1], at_cuts[1:])
    return reach
