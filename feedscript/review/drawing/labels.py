"""Putting labels beside their marks so that none covers another."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec

from feedscript.review.drawing.svg import Point


class Box(msgspec.Struct, frozen=True):
    """An upright rectangle in picture coordinates."""

    left: float
    top: float
    right: float
    bottom: float

    @classmethod
    def around(cls, centre: Point, width: float, height: float) -> Box:
        x, y = centre
        return cls(x - width / 2, y - height / 2, x + width / 2, y + height / 2)

    @property
    def centre(self) -> Point:
        return ((self.left + self.right) / 2, (self.top + self.bottom) / 2)

    def overlap(self, other: Box) -> float:
        """The area the two share."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.bottom, other.bottom) - max(self.top, other.top)
        return max(0.0, wide) * max(0.0, high)

    def outside(self, frame: Box) -> float:
        """The area that sticks out of ``frame``."""
        whole = (self.right - self.left) * (self.bottom - self.top)
        return whole - self.overlap(frame)


_ANGLES = (
    -45,
    45,
    -135,
    135,
    -90,
    90,
    0,
    180,
    -20,
    20,
    -160,
    160,
    -70,
    70,
    -110,
    110,
    -8,
    8,
    -172,
    172,
)
_REACHES = (1.0, 1.5, 2.1, 2.8, 3.6, 4.6, 5.8, 7.2, 9.0, 11.0, 13.0)


def place_labels(
    anchors: Sequence[Point],
    sizes: Sequence[tuple[float, float]],
    frame: Box,
    taken: Sequence[Box] = (),
    first_reach: float = 16.0,
) -> list[Box]:
    """A box for each label near its anchor, free of the others, of ``taken`` and of the edge.

    Greedy, in order; where no place is free, the one with the least overlap.
    """
    marks = [Box.around(anchor, 11, 11) for anchor in anchors]
    placed: list[Box] = []
    for anchor, (width, height) in zip(anchors, sizes, strict=True):
        best, least = Box.around(anchor, width, height), math.inf
        for box in _candidates(anchor, width, height, first_reach):
            cost = sum(box.overlap(other) for other in (*placed, *marks, *taken))
            cost += 4 * box.outside(frame)
            if cost < least - 1e-9:
                best, least = box, cost
            if least <= 0:
                break
        placed.append(best)
    return placed


def _candidates(anchor: Point, width: float, height: float, reach: float) -> list[Box]:
    boxes = []
    for share in _REACHES:
        for angle in map(math.radians, _ANGLES):
            # The label's edge, not its middle, keeps the distance to the mark.
            x = anchor[0] + math.cos(angle) * (reach * share + (width - height) / 2)
            y = anchor[1] + math.sin(angle) * reach * share
            boxes.append(Box.around((x, y), width, height))
    return boxes
