"""A corridor's outline as pictures show it: seen from above, or from the side."""

from __future__ import annotations

import numpy as np

from feedscript.review.drawing.drawn_flights import Array
from feedscript.review.drawing.svg import Point
from feedscript.safety.hazards.envelope import Envelope

#: Lines that an outline is drawn with about each cut.
_LINES = 32
ABOVE, ASIDE = (0, 1), (1, 2)


def outline(
    envelope: Envelope, axes: tuple[int, int], window: tuple[float, float, float, float]
) -> list[list[Point]]:
    """Rings around what of a corridor shows in a window, in metres along these two axes.

    ``window`` is its least along both axes, then its most. Between two cuts the hull of both is
    drawn, as the rules take it.
    """
    import shapely  # costs 30 ms, and only pictures of corridors need it

    about = shapely.multipoints(_corners(envelope, axes))
    hulls = shapely.convex_hull(shapely.union(about[:-1], about[1:]))
    whole = shapely.clip_by_rect(shapely.union_all(hulls), *window)
    return [
        [(float(x), float(y)) for x, y in part.exterior.coords] for part in shapely.get_parts(whole)
    ]


def _corners(envelope: Envelope, axes: tuple[int, int]) -> Array:
    """Where neighbouring lines around each cut meet: [cut, corner, 2]."""
    angles = np.arange(_LINES) * 2.0 * np.pi / _LINES
    normals = np.zeros((_LINES, 3))
    normals[:, axes[0]], normals[:, axes[1]] = np.cos(angles), np.sin(angles)
    reach = envelope.furthest_m(normals)
    following = np.roll(np.arange(_LINES), -1)
    pairs = np.stack([normals, normals[following]], axis=1)[..., axes]
    ends = np.stack([reach, reach[:, following]], axis=-1)
    corners: Array = np.linalg.solve(pairs[None], ends[..., None])[..., 0].astype(float)
    return corners
