"""From the court to the picture and back."""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.watch.camera.camera import PARAMETERS, Camera, Floats
from feedscript.watch.camera.lens import bend, bend_slopes, straighten

#: Nearer than this to the camera's own plane nothing can be drawn.
LEAST_DEPTH_M = 0.05


class Slopes(msgspec.Struct, frozen=True, eq=False):
    """How pixels move with the camera, shape (n, 2, 13), and with the point, shape (n, 2, 3)."""

    by_camera: Floats
    by_point: Floats


class Grounded(msgspec.Struct, frozen=True, eq=False):
    """Points on the ground in metres, shape (n, 2), each with its covariance in square metres,
    shape (n, 2, 2); NaN where a pixel does not show the ground."""

    points_m: Floats
    covariance_m2: Floats


def project(camera: Camera, points_m: Floats) -> Floats:
    """Pixels, shape (..., 2), of points in court axes, shape (..., 3).

    NaN for what is behind the camera or outside what its lens can draw; a point beside the picture
    has its pixel beside the picture.
    """
    drawn = bend(camera, _plane(_seen(camera, points_m)))
    return np.asarray(camera.focal_px * drawn + camera.centre_px, np.float64)


def ray(camera: Camera, px: Floats) -> tuple[Floats, Floats]:
    """The camera's place, shape (3,), and unit vectors from it through pixels, shape (..., 3)."""
    plane = straighten(camera, (np.asarray(px, np.float64) - camera.centre_px) / camera.focal_px)
    towards = np.concatenate([plane, np.ones((*plane.shape[:-1], 1))], -1) @ camera.axes
    length = np.linalg.norm(towards, axis=-1, keepdims=True)
    return np.array(camera.position_m), towards / length


def ground(
    camera: Camera, px: Floats, *, height_m: float = 0.0, pixel_sd_px: float = 0.0
) -> Grounded:
    """Where pixels, shape (n, 2), lie on a level plane so high above the ground.

    The covariance has the camera's share and that of a pixel's own error, to first order: what the
    picture's equations say of a change that leaves the pixel where it is.
    """
    eye, towards = ray(camera, px)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = (height_m - eye[2]) / towards[:, 2]
    points = eye + np.where(reach > 0, reach, np.nan)[:, None] * towards
    points[:, 2] = height_m
    turned = slopes(camera, points)
    back = _inverse(turned.by_point[:, :, :2])
    by_camera = back @ turned.by_camera
    spread = by_camera @ camera.uncertainty @ by_camera.transpose(0, 2, 1)
    spread += pixel_sd_px**2 * back @ back.transpose(0, 2, 1)
    points[np.isnan(back[:, 0, 0])] = np.nan
    return Grounded(points[:, :2], spread)


def slopes(camera: Camera, points_m: Floats) -> Slopes:
    """How the pixels of points, shape (n, 3), move with ``PARAMETERS`` and with the points."""
    seen = _seen(camera, points_m)
    plane = _plane(seen)
    by_seen = camera.focal_px * bend_slopes(camera, plane) @ _plane_slopes(seen)
    by_point = by_seen @ camera.axes
    by_camera = np.empty((len(seen), 2, len(PARAMETERS)))
    by_camera[:, :, :3] = -by_point
    by_camera[:, :, 3:6] = by_seen @ _turn_slopes(seen)
    by_camera[:, :, 6] = bend(camera, plane)
    by_camera[:, :, 7:11] = camera.focal_px * _lens_slopes(plane)
    by_camera[:, :, 11:] = np.eye(2)
    return Slopes(by_camera, by_point)


def row_time_s(camera: Camera, px: Floats) -> Floats:
    """How long after the frame's first row these pixels, shape (..., 2), were exposed."""
    return np.asarray(camera.row_time_s * np.asarray(px)[..., 1], np.float64)


def _seen(camera: Camera, points_m: Floats) -> Floats:
    """The points in the camera's axes; NaN behind it."""
    seen = (np.asarray(points_m, np.float64) - camera.position_m) @ camera.axes.T
    seen[seen[..., 2] < LEAST_DEPTH_M] = np.nan
    return seen


def _plane(seen: Floats) -> Floats:
    return np.asarray(seen[..., :2] / seen[..., 2:], np.float64)


def _plane_slopes(seen: Floats) -> Floats:
    x, y, depth = seen[:, 0], seen[:, 1], seen[:, 2]
    none = np.zeros_like(x)
    rows = [[1 / depth, none, -x / depth**2], [none, 1 / depth, -y / depth**2]]
    return np.stack([np.stack(row, -1) for row in rows], -2)


def _turn_slopes(seen: Floats) -> Floats:
    """Of turn x seen by the turn: minus the cross product's matrix."""
    x, y, z = seen[:, 0], seen[:, 1], seen[:, 2]
    none = np.zeros_like(x)
    rows = [[none, z, -y], [-z, none, x], [y, -x, none]]
    return np.stack([np.stack(row, -1) for row in rows], -2)


def _lens_slopes(plane: Floats) -> Floats:
    """Of the drawn point by k1, k2, p1, p2: shape (n, 2, 4)."""
    x, y = plane[:, 0], plane[:, 1]
    squared = x * x + y * y
    across = [x * squared, x * squared**2, 2 * x * y, squared + 2 * x * x]
    down = [y * squared, y * squared**2, squared + 2 * y * y, 2 * x * y]
    return np.stack([np.stack(across, -1), np.stack(down, -1)], -2)


def _inverse(matrices: Floats) -> Floats:
    """Of shape (n, 2, 2); NaN where there is none."""
    (a, b), (c, d) = matrices.transpose(1, 2, 0)
    determinant = a * d - b * c
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = np.where(np.abs(determinant) > 1e-12, 1 / determinant, np.nan)
    return np.stack([np.stack([d, -b], -1), np.stack([-c, a], -1)], -2) * scale[:, None, None]
