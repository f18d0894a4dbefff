"""The camera from a few named points of the court: a start, and what there is without lines."""

# No postponed annotations here: the file's keys are made from these types as they stand.

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, TypeAlias

import cv2
import msgspec
import numpy as np
from msgspec import Meta

from feedscript.court.lines import Court
from feedscript.diagnostics import Diagnostic
from feedscript.nearest import nearest
from feedscript.tables import Mistake
from feedscript.toml_file import read_toml
from feedscript.watch.camera.camera import (
    PARAMETERS,
    Camera,
    Floats,
    as_covariance,
    looking,
    moved,
)
from feedscript.watch.camera.geometry import project, slopes
from feedscript.watch.ruler.lens_known import known_lens
from feedscript.watch.ruler.pages import BAD_POINTS

Pixels = Mapping[str, tuple[float, float]]

#: How surely a person shows a point, standard deviation. Design value.
CLICK_SD_PX = 1.5
#: A point further off than this from where the others put it is a mistake.
_MISTAKEN_SD = 6.0
LEAST_POINTS = 4
_FOCAL_SHARES = (0.45, 0.6, 0.8, 1.0, 1.3, 1.7, 2.3, 3.0)
_START = looking((0.0, 20.0, 3.0), (0.0, 0.0, 0.0), 1000.0, (1280, 720))


def named_places(court: Court) -> Mapping[str, tuple[float, float, float]]:
    """Every point of the court that can be shown in a picture, in metres, by its name."""
    places: dict[str, tuple[float, float, float]] = {}
    for end, y in (("receiver", 1.0), ("launcher", -1.0)):
        for side, x in (("ad", y), ("deuce", -y)):
            wide = court.doubles_half_width_m or court.singles_half_width_m
            inner = x * court.singles_half_width_m
            places[f"{end} {side} corner"] = (x * wide, y * court.half_length_m, 0.0)
            places[f"{end} {side} singles corner"] = (inner, y * court.half_length_m, 0.0)
            places[f"{end} {side} service corner"] = (inner, y * court.service_line_m, 0.0)
        places[f"{end} t"] = (0.0, y * court.service_line_m, 0.0)
        places[f"{end} centre mark"] = (0.0, y * court.half_length_m, 0.0)
    for side, x in (("ad", 1.0), ("deuce", -1.0)):
        post_m = x * court.net.support_x_m
        places[f"{side} net post foot"] = (post_m, 0.0, 0.0)
        places[f"{side} net post top"] = (post_m, 0.0, court.net.support_m)
    places["middle of net"] = (0.0, 0.0, court.net.centre_m)
    return places


Pixel: TypeAlias = Annotated[float, Meta(ge=-1e5, le=1e5)]


class Points(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where points of the court lie in a film's picture."""

    #: pixels across and down from the top left corner, by the point's name
    points: dict[str, Annotated[tuple[Pixel, Pixel], Meta(examples=[[640, 512]])]]


def read_points(path: Path, court: Court) -> Pixels:
    """The points of a file. Raises FeedscriptError (``bad-points``)."""
    reading = read_toml(path, Points, BAD_POINTS)
    points = reading.good().points
    reading.refused(_strange(points, court)).good()
    return points


def _strange(points: Pixels, court: Court) -> Iterator[Mistake]:
    """Names of points that the court does not have."""
    places = named_places(court)
    for name in points:
        if name not in places:
            near = nearest(name, places)
            fix = f"did you mean `{near}`?" if near else "the names are: " + ", ".join(places)
            message = f"this court has no point called `{name}`"
            yield Mistake(("points", name), message, fix, in_key=True)


def points_text(camera: Camera, court: Court) -> str:
    """A file of points as ``read_points`` reads it: each place that is in the camera's picture."""
    places = named_places(court)
    px = project(camera, np.array(list(places.values())))
    size = (camera.width_px - 1, camera.height_px - 1)
    rows = [
        f'"{name}" = [{across:.1f}, {down:.1f}]'
        for name, (across, down) in zip(places, px.tolist(), strict=True)
        if 0 <= across <= size[0] and 0 <= down <= size[1]
    ]
    head = "# Pixels across and down from the top left corner. Take out what is hidden."
    return "\n".join([head, "[points]", *rows]) + "\n"


def solve(points: Pixels, court: Court, size_px: tuple[int, int]) -> Camera | Diagnostic:
    """The camera, with its covariance, that draws the named points nearest to their pixels.

    ``size_px``: the picture's width and height. A diagnostic (``bad-points``) where there are too
    few points, or one of them is not where the others put it.
    """
    places = named_places(court)
    space = np.array([places[name] for name in points]).reshape(-1, 3)
    pixels = np.array(list(points.values()), np.float64).reshape(-1, 2)
    if (space[:, 2] == 0).sum() < LEAST_POINTS:
        return BAD_POINTS.report(
            f"{LEAST_POINTS} points on the ground are needed, and there are "
            f"{int((space[:, 2] == 0).sum())}",
            help="show corners of the court and of the service boxes",
        )
    start = start_from(space, pixels, size_px)
    camera = None if start is None else nearest_camera(start, space, pixels, CLICK_SD_PX)
    if camera is None:
        return BAD_POINTS.report(
            "no camera draws the court so; they may lie on one line, or be named wrongly",
            help="show points that are far apart, and look at their names again",
        )
    off = np.linalg.norm(project(camera, space) - pixels, axis=1)
    if off.max() > _MISTAKEN_SD * CLICK_SD_PX:
        worst = list(points)[int(off.argmax())]
        return BAD_POINTS.report(
            f"`{worst}` lies {off.max():.0f} pixels from where the other points put it",
            help="show it again, or leave it out",
        )
    return camera


def start_from(space: Floats, pixels: Floats, size_px: tuple[int, int]) -> Camera | None:
    """A camera with a perfect lens that draws points about where they are; None for no such."""
    best: tuple[float, Camera] | None = None
    middle = ((size_px[0] - 1) / 2, (size_px[1] - 1) / 2)
    for share in _FOCAL_SHARES:
        focal_px = share * size_px[0]
        matrix = np.array([[focal_px, 0, middle[0]], [0, focal_px, middle[1]], [0, 0, 1]])
        try:
            done, turn, away = cv2.solvePnP(space, pixels, matrix, None, flags=cv2.SOLVEPNP_SQPNP)
        except cv2.error:
            continue
        if not done or not np.isfinite(turn).all():
            continue
        place = -cv2.Rodrigues(turn)[0].T @ away.ravel()
        camera = msgspec.structs.replace(
            _START,
            position_m=tuple(float(one) for one in place),
            rotation=tuple(float(one) for one in turn.ravel()),
            focal_px=focal_px,
            width_px=size_px[0],
            height_px=size_px[1],
            centre_px=middle,
        )
        off = np.linalg.norm(project(camera, space) - pixels, axis=1)
        if place[2] > 0 and np.isfinite(off).all() and (best is None or off.mean() < best[0]):
            best = float(off.mean()), camera
    return None if best is None else best[1]


def nearest_camera(
    camera: Camera, space: Floats, pixels: Floats, sd_px: float | Floats
) -> Camera | None:
    """The camera by least squares over points, with its covariance; None where there is none.

    ``sd_px``: how surely they are shown, all alike or each in its own way, shape (n,).
    """
    sd_px = np.broadcast_to(sd_px, len(space))[:, None]
    damp = 1e-2
    known, lack = known_lens(camera)
    cost = _cost(camera, space, pixels, sd_px)
    for _ in range(60):
        jacobian = _by_camera(camera, space, sd_px)
        residual = ((pixels - project(camera, space)) / sd_px).ravel()
        known, lack = known_lens(camera)
        normal = jacobian.T @ jacobian + np.diag(known)
        eased = normal + damp * np.diag(np.diag(normal))
        if not np.isfinite(eased).all():
            return None
        change = np.linalg.solve(eased, jacobian.T @ residual + known * lack)
        tried = moved(camera, np.asarray(change, np.float64))
        tried_cost = _cost(tried, space, pixels, sd_px)
        if tried_cost < cost and tried.focal_px > 0:
            settled = cost - tried_cost < 1e-6 * (1 + cost)
            camera, cost, damp = tried, tried_cost, damp / 5
            if settled:
                break
        else:
            damp *= 8
            if damp > 1e8:
                break
    jacobian = _by_camera(camera, space, sd_px)
    try:
        covariance = np.linalg.inv(jacobian.T @ jacobian + np.diag(known_lens(camera)[0]))
    except np.linalg.LinAlgError:
        return None
    return msgspec.structs.replace(
        camera, covariance=as_covariance(np.asarray(covariance, np.float64))
    )


def _by_camera(camera: Camera, space: Floats, sd_px: Floats) -> Floats:
    slope = slopes(camera, space).by_camera / sd_px[..., None]
    return slope.reshape(-1, len(PARAMETERS))


def _cost(camera: Camera, space: Floats, pixels: Floats, sd_px: Floats) -> float:
    known, lack = known_lens(camera)
    off = (((project(camera, space) - pixels) / sd_px) ** 2).sum() + (known * lack**2).sum()
    return float(off) if np.isfinite(off) else np.inf
