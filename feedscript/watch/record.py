"""What a film told of a lesson, as the journal keeps it: beside the balls, in place of nothing."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np

from feedscript import __version__
from feedscript.journal.films import Film, LandingSeen, ShotSeen, Spread
from feedscript.journal.stored import LANDING_MOST_M
from feedscript.watch.camera.camera import Camera
from feedscript.watch.camera.geometry import ground, project
from feedscript.watch.found import Found, Landed, Missed
from feedscript.watch.suggested import rows_of

#: Why a ball is not known that was measured: somebody looked at it, and it was not so.
SAID_NO = "said-no"


def film_of(path: Path, utc_s: float) -> Film:
    """A looking-over at this moment: the film by its bytes, which are all read."""
    with path.open("rb") as file:
        sha256 = hashlib.file_digest(file, "sha256").hexdigest()
    return Film(utc_s=utc_s, made_by=f"feedscript watch {__version__}", sha256=sha256)


def landings_of(found: Found) -> list[LandingSeen]:
    """A row for each ball, those that were not measured too."""
    return [_row(one, found) for one in found.balls]


def shots_of(found: Found) -> list[ShotSeen]:
    """A row for each shot that was looked for."""
    return rows_of(found.shots)


def _row(one: Landed | Missed, found: Found) -> LandingSeen:
    if isinstance(one, Missed):
        return _by_its_sound(one)
    if one.said == "no":
        return LandingSeen(feed_id=one.number, why=SAID_NO, refused=1)
    (xx, xy), (_, yy) = one.covariance_m2
    x_m, y_m = one.landing_m
    if max(abs(x_m), abs(y_m)) > LANDING_MOST_M:
        return LandingSeen(feed_id=one.number, why="off-every-court")
    camera_xx, camera_xy, camera_yy = _by_camera(found.camera_of(one), one.landing_m)
    return LandingSeen(
        feed_id=one.number,
        x_m=x_m,
        y_m=y_m,
        xx_m2=xx,
        xy_m2=xy,
        yy_m2=yy,
        camera_xx_m2=camera_xx,
        camera_xy_m2=camera_xy,
        camera_yy_m2=camera_yy,
        speed_mps=one.speed_mps.value,
        speed_sd_mps=one.speed_mps.sd,
        flight_s=one.flight_s.value,
        flight_sd_s=one.flight_s.sd,
    )


def _by_its_sound(one: Missed) -> LandingSeen:
    """What is known of a ball that was not seen, if anything."""
    flight, speed = one.flight_s, one.speed_mps
    return LandingSeen(
        feed_id=one.number,
        why=one.reason,
        flight_s=None if flight is None else flight.value,
        flight_sd_s=None if flight is None else flight.sd,
        speed_mps=None if speed is None else speed.value,
        speed_sd_mps=None if speed is None else speed.sd,
    )


def _by_camera(camera: Camera, place_m: tuple[float, float]) -> Spread:
    """How well that place on the ground is known by where the camera stands alone."""
    px = project(camera, np.array([[*place_m, 0.0]]))
    (xx, xy), (_, yy) = ground(camera, px).covariance_m2[0].tolist()
    return xx, xy, yy
