"""The camera by least squares over everything that was measured, and how surely it is known.

Gauss and Newton's method with weights that fall for what does not fit (P. J. Huber & E. M.
Ronchetti, "Robust Statistics", 2nd ed. 2009, ch. 7). Beside the camera the widths of lines, the net
and each line's own straying are worked out, each with what is known of it beforehand, so that the
covariance has their share too.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from feedscript.watch.camera.camera import PARAMETERS, Camera, Floats, as_covariance, moved
from feedscript.watch.camera.geometry import project, slopes
from feedscript.watch.ruler.lens_known import known_lens
from feedscript.watch.ruler.measure import Seen, measure
from feedscript.watch.ruler.paint import LOOSE, Line, placed, usual
from feedscript.watch.ruler.ridges import Picture

_CAMERA = len(PARAMETERS)
#: A profile is never believed beyond this: paint is ragged, and pixels are not quite square. px.
_LEAST_SD_PX = 0.03
#: Further off than so many standard deviations a measurement counts less, and by this much nothing.
_HUBER, _CUT = 1.5, 4.5
#: Neighbours along a line that are looked at together for errors that they share.
_BATCH = 16


class Settled(msgspec.Struct, frozen=True, eq=False):
    """A camera with its covariance; the loose values and each line's own straying with it; what it
    was settled on, each with its residual in pixels and whether it fits."""

    camera: Camera
    loose: Floats
    aside_m: Floats
    aside_sd_m: Floats  # what was known of the straying beforehand
    seen: Seen
    residual_px: Floats
    fits: Floats

    @property
    def strain(self) -> float:
        """How far widths, net and straying are from what is usual: the worst, in deviations."""
        loose = np.abs(self.loose - usual()) / np.array([one for *_, one in LOOSE])
        return float(max(loose.max(), (np.abs(self.aside_m) / self.aside_sd_m).max()))

    @property
    def support(self) -> float:
        """How many measurements fit, less half of those that were looked for in vain."""
        return float(1.5 * self.fits.sum() - 0.5 * self.seen.tried)

    @property
    def share(self) -> float:
        """How much of what was looked for fits, 0 to 1."""
        return float(self.fits.sum() / max(self.seen.tried, 1))

    def bare(self, least_places: int, least_share: float) -> list[int]:
        """The lines that no paint is beneath: of so many places where they would be wide, less than
        this share fits."""
        tried = np.bincount(self.seen.clear_tried, minlength=len(self.aside_m))
        clear = self.seen.clear
        fits = np.bincount(
            self.seen.line[clear], weights=self.fits[clear], minlength=len(self.aside_m)
        )
        missed = (tried >= least_places) & (fits < least_share * tried)
        return [int(index) for index in np.flatnonzero(missed)]

    @property
    def typical_px(self) -> float:
        """The middle one of the residuals, in size."""
        return float(np.median(np.abs(self.residual_px))) if len(self.residual_px) else np.inf


def settle(
    grey: Picture,
    camera: Camera,
    lines: Sequence[Line],
    *,
    gates_px: Sequence[float],
    blur_px: float = 0.9,
) -> Settled | None:
    """The camera nearest to this one that draws the lines where the picture has them.

    None where too little of them is found. ``gates_px``: how far off lines are looked for, step by
    step, for a picture 1280 wide.
    """
    scale = camera.width_px / 1280
    loose, aside = usual(), np.zeros(len(lines))
    settled = None
    for gate_px in gates_px:
        seen = measure(
            grey, camera, lines, loose, aside, gate_px=gate_px * scale, blur_px=blur_px * scale
        )
        if len(seen.line) < 40 or len(set(seen.line.tolist())) < 4:
            return None
        settled = _solved(seen, camera, lines, loose, aside)
        if settled is None:
            return None
        camera, loose, aside = settled.camera, settled.loose, settled.aside_m
    return settled


def _solved(
    seen: Seen, camera: Camera, lines: Sequence[Line], loose: Floats, aside: Floats
) -> Settled | None:
    """Some steps towards what was measured. The measured places stay, the drawn ones move."""
    wanted = _places(seen, camera, lines, loose, aside) + seen.offset_px
    fits = np.ones(len(seen.line))
    for _ in range(6):
        jacobian, drawn = _jacobian(seen, camera, lines, loose, aside)
        residual = wanted - drawn
        sd, fits = _weighed(residual, seen)
        weighted = jacobian * (fits / sd**2)[:, None]
        known, lack = _known(camera, loose, aside, _aside_sd_m(lines))
        normal = jacobian.T @ weighted + np.diag(known)
        try:
            change = np.asarray(np.linalg.solve(normal, weighted.T @ residual + known * lack))
        except np.linalg.LinAlgError:
            return None
        if not np.isfinite(change).all() or abs(change[6]) > 0.5 * camera.focal_px:
            return None
        camera = moved(camera, change[:_CAMERA].astype(np.float64))
        loose = loose + change[_CAMERA : _CAMERA + len(LOOSE)]
        aside = aside + change[_CAMERA + len(LOOSE) :]
        if camera.position_m[2] < 0.2 or camera.focal_px < 50:
            return None
    covariance = np.asarray(np.linalg.inv(normal)[:_CAMERA, :_CAMERA], np.float64)
    camera = msgspec.structs.replace(camera, covariance=as_covariance(covariance))
    residual = wanted - _places(seen, camera, lines, loose, aside)
    return Settled(camera, loose, aside, _aside_sd_m(lines), seen, residual, fits)


def _weighed(residual: Floats, seen: Seen) -> tuple[Floats, Floats]:
    """Standard deviations that are in keeping with what is left, and weights from 0 to 1."""
    sd = np.hypot(seen.sd_px, _LEAST_SD_PX)
    spread = float(np.median(np.abs(residual) / sd)) * 1.4826
    sd = sd * max(spread, 1.0)
    apart = np.abs(residual) / sd
    weights = np.minimum(1.0, _HUBER / np.maximum(apart, 1e-9))
    weights = np.where(apart < _CUT, weights, 0.0)
    errors = np.asarray(weights * residual / sd, np.float64)
    return np.asarray(sd * _alike(errors, seen), np.float64), np.asarray(weights, np.float64)


def _alike(errors: Floats, seen: Seen) -> float:
    """By how much deviations grow since neighbours err alike: 1 if they do not.

    The spread of the means of neighbours, against what it would be if each erred for itself (batch
    means; C. J. Geyer, "Practical Markov chain Monte Carlo", Statistical Science 7, 1992). Where
    lines meet, paint is ragged or a lens bends otherwise than the model, many measurements share
    one error, and are worth few.
    """
    means: list[float] = []
    squares: list[float] = []
    for line in np.unique(seen.line):
        mine = errors[seen.line == line]
        whole = len(mine) // _BATCH * _BATCH
        batches = mine[:whole].reshape(-1, _BATCH)
        means += (batches.mean(1) ** 2).tolist()
        squares += (batches**2).mean(1).tolist()
    if not squares or not sum(squares):
        return 1.0
    more = _BATCH * (sum(means) / len(means)) / (sum(squares) / len(squares))
    return float(max(more, 1.0) ** 0.5)


def _points(
    seen: Seen, lines: Sequence[Line], loose: Floats, aside: Floats
) -> tuple[Floats, Floats]:
    """The measured places in space, shape (n, 3), and the way of their lines' straying."""
    ends = np.array([placed(line, loose, aside[i]) for i, line in enumerate(lines)])[seen.line]
    points = ends[:, 0] + seen.share[:, None] * (ends[:, 1] - ends[:, 0])
    return points, np.array([line.aside for line in lines])[seen.line]


def _places(
    seen: Seen, camera: Camera, lines: Sequence[Line], loose: Floats, aside: Floats
) -> Floats:
    """Where along their normals the camera draws them."""
    points, _ = _points(seen, lines, loose, aside)
    return np.asarray((project(camera, points) * seen.normal).sum(1), np.float64)


def _jacobian(
    seen: Seen, camera: Camera, lines: Sequence[Line], loose: Floats, aside: Floats
) -> tuple[Floats, Floats]:
    points, way = _points(seen, lines, loose, aside)
    found = slopes(camera, points)
    by_point = np.einsum("ni,nij->nj", seen.normal, found.by_point)
    by_loose = np.array([line.by_loose for line in lines])[seen.line]
    share = seen.share[:, None, None]
    along = (1 - share) * by_loose[:, 0] + share * by_loose[:, 1]
    by_aside = np.zeros((len(seen.line), len(lines)))
    by_aside[np.arange(len(seen.line)), seen.line] = (by_point * way).sum(1)
    jacobian = np.column_stack(
        [
            np.einsum("ni,nij->nj", seen.normal, found.by_camera),
            np.einsum("nj,njk->nk", by_point, along),
            by_aside,
        ]
    )
    return jacobian, _places(seen, camera, lines, loose, aside)


def _aside_sd_m(lines: Sequence[Line]) -> Floats:
    return np.array([line.astray_sd_m for line in lines])


def _known(
    camera: Camera, loose: Floats, aside: Floats, aside_sd_m: Floats
) -> tuple[Floats, Floats]:
    """What is known beforehand of every value: one over its variance, and what it lacks."""
    lens, lack = known_lens(camera)
    sd = np.concatenate([[one for *_, one in LOOSE], aside_sd_m])
    return np.concatenate([lens, 1 / sd**2]), np.concatenate([lack, usual() - loose, -aside])
