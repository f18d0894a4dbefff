"""Which line of the picture may be which line of the court: guesses, each held against the picture.

Two lines along the court and two across it fix the picture of the whole ground (R. Hartley &
A. Zisserman, "Multiple View Geometry in Computer Vision", 2nd ed. 2004, ch. 2 and 8). Every such
four among the straight lines found is tried as every such four of the court; what no camera could
see is left out, and the rest is judged by how much of the court's lines lies on lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.watch.camera.camera import Floats
from feedscript.watch.ruler.paint import Line
from feedscript.watch.ruler.ridges import Ridges, direction_part
from feedscript.watch.ruler.straight import Straight

#: Focal lengths over the picture's width that are tried. Common practice, no source: 0.5 is a very
#: wide lens, 2.5 a telephoto.
FOCAL_SHARES = (0.45, 0.6, 0.8, 1.05, 1.4, 1.9, 2.6)
#: The horizon leans by less than this, radians.
_MOST_ROLL = 0.3
#: How far a guess may be from two equal axes (logarithm) at right angles (cosine).
_MOST_STRETCH, _MOST_LEAN = 0.35, 0.3
#: Where cameras are stood: fence, umpire's chair, balcony. Design values.
HEIGHTS_M = (0.9, 12.0)
_MOST_X_M, _MOST_Y_M = 22.0, 36.0
_POINT_M = 0.8  # the court's lines are looked at so often
_AT_ONCE = 4000
#: So many guesses are looked at from the other side too: how much of the picture they explain.
#: Many of them are nearly the same wrong one, and on grass the right one may come after 600.
_LOOKED_AT = 2000
#: A guess whose score is less than this share of the best one's is not worth a try.
_WORTH = 0.45


class Guess(msgspec.Struct, frozen=True, eq=False):
    """The ground's homography to pixels, shape (3, 3), and how well it does: pixels of the
    picture's lines that it explains, less where it has lines that the picture has not."""

    to_px: Floats
    score: float


class _Fours(msgspec.Struct, frozen=True, eq=False):
    """Maps of the unit square to the picture, shape (n, 3, 3)."""

    to_px: Floats


def guesses(
    straight: Sequence[Straight], lines: Sequence[Line], ridges: Ridges, most: int
) -> list[Guess]:
    """The best guesses, best first, no two of them nearly the same."""
    height, width = ridges.thin.shape
    squares = _possible(_unit_squares([one.equation for one in straight]))
    if not len(squares):
        return []
    maps = np.concatenate([_as_court(squares, four, width, height) for four in _court_fours(lines)])
    if not len(maps):
        return []
    points, steps = sampled(lines)
    rough = np.concatenate(
        [
            _scores(maps[first : first + _AT_ONCE], points, steps, ridges)
            for first in range(0, len(maps), _AT_ONCE)
        ]
    )
    best = np.argsort(-rough)[:_LOOKED_AT]
    scores = _precise(maps[best], points, steps, ridges) ** 2 * _explained(
        maps[best], lines, straight, ridges.reach_px / 3
    )
    return _different(maps[best], scores, points, most)


def _unit_squares(equations: Sequence[Floats]) -> Floats:
    """From the unit square to every four of lines: sides u = 0 and 1 along, v = 0 and 1 across.

    The square that has its sides on the four lines: P. S. Heckbert, "Fundamentals of texture
    mapping and image warping" (1989), 2.2.3. Mirrored ones are turned over.
    """
    pairs = np.array(list(combinations(range(len(equations)), 2)))
    if not len(pairs):
        return np.empty((0, 3, 3))
    first, second = np.meshgrid(np.arange(len(pairs)), np.arange(len(pairs)), indexing="ij")
    along, across = pairs[first.ravel()], pairs[second.ravel()]
    apart = (along[:, :, None] != across[:, None, :]).all(axis=(1, 2))
    along, across = along[apart], across[apart]
    crossing = np.cross(np.array(equations)[:, None], np.array(equations)[None])
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        meets = crossing[..., :2] / crossing[..., 2:]
        corners = meets[along[:, [0, 1, 1, 0]], across[:, [0, 0, 1, 1]]]
        squares = _square_to(corners)
        mirrored = np.linalg.det(np.nan_to_num(squares)) > 0
        corners[mirrored] = corners[mirrored][:, [3, 2, 1, 0]]
        squares = _square_to(corners)
    return squares[np.isfinite(squares).all(axis=(1, 2))]


def _square_to(corners: Floats) -> Floats:
    """Maps of (0,0), (1,0), (1,1), (0,1) to these corners, shape (n, 4, 2)."""
    one, two, three, four = corners.transpose(1, 0, 2)
    a, b, total = two - three, four - three, one - two + three - four
    area = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    g = (total[:, 0] * b[:, 1] - total[:, 1] * b[:, 0]) / area
    h = (a[:, 0] * total[:, 1] - a[:, 1] * total[:, 0]) / area
    columns = [
        np.column_stack([two - one + g[:, None] * two, g]),
        np.column_stack([four - one + h[:, None] * four, h]),
        np.column_stack([one, np.ones(len(one))]),
    ]
    return np.stack(columns, -1)


def _possible(squares: Floats) -> Floats:
    """Those in front of a camera that stands above the ground, nearly level."""
    u, v = squares[:, :, 0].copy(), squares[:, :, 1].copy()
    front = (1 + u[:, 2] > 0.02) & (1 + v[:, 2] > 0.02) & (1 + u[:, 2] + v[:, 2] > 0.02)
    horizon = np.cross(u, v)
    horizon *= -np.sign(horizon[:, 1:2])
    level = np.abs(horizon[:, 0]) < np.tan(_MOST_ROLL) * np.abs(horizon[:, 1])
    under = (horizon * squares[:, :, 2]).sum(1) < 0
    return np.asarray(squares[front & level & under], np.float64)


def _court_fours(lines: Sequence[Line]) -> list[tuple[float, float, float, float]]:
    """Every two sides of the court's lines along (x) with every two across it (y)."""
    painted = [line for line in lines if line.ground]
    middles = [line.ends_m.mean(axis=0) for line in painted]
    along = sorted(
        m[0] for m, line in zip(middles, painted, strict=True) if np.ptp(line.ends_m[:, 1])
    )
    across = sorted(
        m[1] for m, line in zip(middles, painted, strict=True) if np.ptp(line.ends_m[:, 0])
    )
    return [(*xs, *ys) for xs in combinations(along, 2) for ys in combinations(across, 2)]


def _as_court(
    squares: Floats, four: tuple[float, float, float, float], width: int, height: int
) -> Floats:
    """The ground's maps if the squares are this rectangle, where a camera could draw it so."""
    x0, x1, y0, y1 = four
    shrink = np.array([[1 / (x1 - x0), 0, -x0 / (x1 - x0)], [0, 1 / (y1 - y0), -y0 / (y1 - y0)]])
    maps = squares @ np.vstack([shrink, [0.0, 0.0, 1.0]])
    stands = np.zeros(len(maps), np.bool_)
    for share in FOCAL_SHARES:
        stands |= _could_stand(maps, share * width, width, height)
    return np.asarray(maps[stands], np.float64)


def _could_stand(maps: Floats, focal_px: float, width: int, height: int) -> NDArray[np.bool_]:
    """Whether a camera of this focal length that draws so stands where cameras are stood."""
    seen = maps.copy()
    seen[:, :2] -= maps[:, 2:] * np.array([(width - 1) / 2, (height - 1) / 2])[:, None]
    seen[:, :2] /= focal_px
    with np.errstate(divide="ignore", invalid="ignore"):
        sides = np.linalg.norm(seen[:, :, :2], axis=1)
        turn = seen[:, :, :2] / sides[:, None]
        there = -seen[:, :, 2] / sides.mean(1, keepdims=True)
        up = np.cross(turn[:, :, 0], turn[:, :, 1])
        x, y = ((turn[:, :, axis] * there).sum(1) for axis in (0, 1))
        stretch = np.abs(np.log(sides[:, 0] / sides[:, 1]))
    leaning = np.abs((turn[:, :, 0] * turn[:, :, 1]).sum(1))
    z = (up * there).sum(1)
    near = (
        (np.abs(x) < _MOST_X_M) & (np.abs(y) < _MOST_Y_M) & (z > HEIGHTS_M[0]) & (z < HEIGHTS_M[1])
    )
    return np.asarray(near & (stretch < _MOST_STRETCH) & (leaning < _MOST_LEAN), np.bool_)


def sampled(lines: Sequence[Line]) -> tuple[Floats, Floats]:
    """Points on the painted lines, shape (n, 2), and the way to the next one, shape (n, 2)."""
    points, steps = [], []
    for line in lines:
        if line.ground:
            start, end = line.ends_m[:, :2]
            count = max(round(float(np.linalg.norm(end - start)) / _POINT_M), 2)
            shares = (np.arange(count) + 0.5) / count
            points.append(start + shares[:, None] * (end - start))
            steps.append(np.tile((end - start) / count, (count, 1)))
    return np.concatenate(points), np.concatenate(steps)


def _scores(maps: Floats, points: Floats, steps: Floats, ridges: Ridges) -> Floats:
    """Pixels of the court's lines that are on lines, less where many are not."""
    length, on_line = _on_lines(maps, points, steps, ridges)
    found = (length * on_line).sum(1)
    return np.asarray(found**3 / (length.sum(1) + 1e-9) ** 2, np.float64)


def _precise(maps: Floats, points: Floats, steps: Floats, ridges: Ridges) -> Floats:
    """The share of the court's lines in the picture that is on lines."""
    length, on_line = _on_lines(maps, points, steps, ridges)
    return np.asarray((length * on_line).sum(1) / (length.sum(1) + 1e-9), np.float64)


def _on_lines(maps: Floats, points: Floats, steps: Floats, ridges: Ridges) -> tuple[Floats, Floats]:
    """Of each point how many pixels it stands for, and how nearly it is on a line, 0 to 1."""
    height, width = ridges.thin.shape
    middle, depth = _drawn(maps, points)
    end, _ = _drawn(maps, points + 0.05 * steps)
    way = (end - middle) * 20
    shown = (depth > 0) & (middle >= 0).all(-1) & (middle < (width - 2, height - 2)).all(-1)
    column, row = (np.where(shown, middle[..., axis] / 2, 0).astype(np.int64) for axis in (0, 1))
    far = ridges.far[direction_part(way), row, column]
    length = np.where(shown, np.minimum(np.linalg.norm(way, axis=-1), 0.2 * width), 0.0)
    return np.asarray(length, np.float64), np.asarray(1 - (far / ridges.reach_px) ** 2, np.float64)


def _explained(
    maps: Floats, lines: Sequence[Line], straight: Sequence[Straight], close_px: float
) -> Floats:
    """Pixels of the picture's straight lines that lie on lines of the court."""
    shares = np.linspace(0.02, 0.98, 25)[:, None]
    spots = np.concatenate(
        [one.ends_px[0] + shares * np.diff(one.ends_px, axis=0) for one in straight]
    )
    counts = np.repeat([one.length_px / len(shares) for one in straight], len(shares))
    on_ground, _ = _drawn(np.asarray(np.linalg.inv(maps), np.float64), spots)
    nearest = np.full(on_ground.shape[:2], np.inf)
    for line in lines:
        if line.ground:
            start, end = line.ends_m[:, :2]
            closest = np.clip(on_ground, np.minimum(start, end), np.maximum(start, end))
            whole = np.concatenate([closest, np.ones((*closest.shape[:2], 1))], -1)
            drawn = whole @ maps.transpose(0, 2, 1)
            with np.errstate(divide="ignore", invalid="ignore"):
                apart = np.linalg.norm(drawn[..., :2] / drawn[..., 2:] - spots, axis=-1)
            np.minimum(nearest, np.where(drawn[..., 2] > 0, apart, np.inf), out=nearest)
    return np.asarray((nearest < close_px) @ counts, np.float64)


def _drawn(maps: Floats, points: Floats) -> tuple[Floats, Floats]:
    drawn = np.concatenate([points, np.ones((len(points), 1))], 1) @ maps.transpose(0, 2, 1)
    depth = drawn[..., 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        return drawn[..., :2] / depth[..., None], depth


def _different(maps: Floats, scores: Floats, points: Floats, most: int) -> list[Guess]:
    """The best, without those that draw the court, or the court turned by half, as a better one."""
    kept: list[Guess] = []
    drawn_before: list[tuple[Floats, NDArray[np.bool_]]] = []
    for index in np.argsort(-scores):
        if scores[index] < _WORTH * scores.max() or len(kept) == most:
            break
        drawn, seen = _clear(maps[index], points)
        if any(_alike(drawn, seen, *before) for before in drawn_before):
            continue
        kept.append(Guess(maps[index], float(scores[index])))
        drawn_before += [(drawn, seen), _clear(maps[index], -points)]
    return kept


def _clear(to_px: Floats, points: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Where a guess draws points, shape (n, 2), and which of them are not far off the picture."""
    drawn, depth = _drawn(to_px[None], points)
    return drawn[0], np.asarray((depth[0] > 0) & (np.abs(drawn[0]) < 4000).all(-1), np.bool_)


def _alike(
    one: Floats, one_seen: NDArray[np.bool_], two: Floats, two_seen: NDArray[np.bool_]
) -> bool:
    """Whether nearly all of the same points are drawn within twelve pixels."""
    both = one_seen & two_seen
    apart = np.linalg.norm(one[both] - two[both], axis=-1)
    return bool(both.any() and np.quantile(apart, 0.9) < 12)
