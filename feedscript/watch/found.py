"""Where a lesson's balls were found to land, and the files that hold it: numbers, and no names.

JSON with a version holds all of it; the table for tuning (CSV) only the balls of one launcher that
were measured, as a person with a tape would have written them.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping
from typing import Literal, TypeAlias

import msgspec
import numpy as np

from feedscript.launcher.tuning.landings_file import columns_of
from feedscript.plan.model import AimedFeed
from feedscript.plan.scene import PlacedLauncher
from feedscript.watch.asked import AskedLesson
from feedscript.watch.by_sound import Heard
from feedscript.watch.camera.camera import Camera, Floats
from feedscript.watch.fit.measured import Measured, NotSeen, Value
from feedscript.watch.region import region_95
from feedscript.watch.suggested import Suggested, Unseen
from feedscript.watch.sync.align import Clock

VERSION = 1
#: The table's columns of each ball's own uncertainty; it takes none below a millimetre.
_OWN = ("sd_along_m", "sd_right_m", "correlation")
_LEAST_SD_M = 0.001


#: What a person says to a ball that was found: it is this ball, and landed there; or it is not so.
Said: TypeAlias = Literal["yes", "no"]


class Landed(msgspec.Struct, frozen=True, kw_only=True, tag_field="ball", tag="measured"):
    """A ball that was measured: court axes, times of the film.

    ``region_m``: half axes of the ellipse that holds the place in 95 of 100 cases, and in degrees
    the turn of the longer one from x towards y. ``asked_m`` is where the feed was to land.
    ``said``: by whoever looked at its pictures; a ball that got a no goes nowhere else.
    """

    number: int
    launcher: int  # counted from 1
    landing_m: tuple[float, float]
    covariance_m2: tuple[tuple[float, float], tuple[float, float]]
    region_m: tuple[float, float]
    region_turn_deg: float
    asked_m: tuple[float, float]
    left_s: Value
    bounce_s: Value
    flight_s: Value  # from the mouth to the bounce
    speed_mps: Value  # at the mouth
    top_rpm: Value
    side_rpm: Value
    pictures: int
    said: Said | None = None


class Missed(msgspec.Struct, frozen=True, kw_only=True, tag_field="ball", tag="not-measured"):
    """A ball that was not, and why: a name for programs, and words.

    Where it was heard to leave and to bounce: its flight time, and what that says of the speed.
    """

    number: int
    launcher: int
    reason: str
    why: str
    flight_s: Value | None = None
    speed_mps: Value | None = None


class Place(msgspec.Struct, frozen=True, kw_only=True):
    """A part of the film in which the camera stood in one place; times of the film.

    ``to_s``: None where it stood there until the end; ``camera``: None where the court was not
    found, and then no ball of that time is measured.
    """

    from_s: float
    to_s: float | None
    camera: Camera | None

    def holds(self, film_s: float) -> bool:
        return self.from_s <= film_s and (self.to_s is None or film_s <= self.to_s)


class Found(msgspec.Struct, frozen=True, kw_only=True):
    """All of a lesson's balls, by a film of it."""

    version: int = VERSION
    lesson: int | None  # None: a program's balls, without a journal
    launchers: tuple[str, ...]  # their names, in the order in which balls count them from 1
    camera: Camera  # of the first place in which the court was found
    clock: Clock
    places: tuple[Place, ...] = ()
    balls: tuple[Landed | Missed, ...]
    shots: tuple[Suggested | Unseen, ...] = ()  # the players', where they were looked for

    def camera_of(self, one: Landed) -> Camera:
        """As it stood when this ball came down."""
        for place in self.places:
            if place.camera is not None and place.holds(one.bounce_s.value):
                return place.camera
        return self.camera

    @property
    def landed(self) -> tuple[Landed, ...]:
        """Those that were measured, and that nobody said no to."""
        return tuple(one for one in self.balls if isinstance(one, Landed) and one.said != "no")

    def with_said(self, said: Mapping[int, Said | None]) -> Found:
        """With what a person said of balls, by their numbers."""
        balls = tuple(
            msgspec.structs.replace(one, said=said.get(one.number, one.said))
            if isinstance(one, Landed)
            else one
            for one in self.balls
        )
        return msgspec.structs.replace(self, balls=balls)


def ball_of(
    feed: AimedFeed, one: Measured | NotSeen, heard: Heard | None = None
) -> Landed | Missed:
    """The record of one ball that was this feed; ``heard`` tells of one that was not seen."""
    launcher = feed.launcher + 1
    if isinstance(one, NotSeen):
        reason = one.why.name.lower().replace("_", "-")
        return Missed(
            number=one.number,
            launcher=launcher,
            reason=reason,
            why=one.why.value,
            flight_s=None if heard is None else heard.flight_s,
            speed_mps=None if heard is None else heard.speed_mps,
        )
    region_m, turn_deg = region_95(one.covariance_m2)
    return Landed(
        number=one.number,
        launcher=launcher,
        landing_m=one.landing_m,
        covariance_m2=one.covariance_m2,
        region_m=region_m,
        region_turn_deg=turn_deg,
        asked_m=feed.landing_m,
        left_s=one.left_s,
        bounce_s=one.bounce_s,
        flight_s=one.flight_s,
        speed_mps=one.speed_mps,
        top_rpm=one.top_rpm,
        side_rpm=one.side_rpm,
        pictures=one.seen,
    )


def as_json(found: Found) -> bytes:
    return msgspec.json.format(msgspec.json.encode(found), indent=2) + b"\n"


def landings_csv(found: Found, lesson: AskedLesson, launcher: int) -> str:
    """The measured balls of one launcher (counted from 1) as ``feedscript tune`` reads them."""
    profile, placed = lesson.profiles[launcher - 1], lesson.plan.launchers[launcher - 1]
    feeds = {ball.number: ball.feed for ball in lesson.balls}
    out = io.StringIO()
    which = f" (launcher {launcher} of {len(found.launchers)})" if len(found.launchers) > 1 else ""
    whose = "a program" if found.lesson is None else f"lesson {found.lesson}"
    out.write(f"# Landings of {profile.name}{which}, measured in a film of {whose}.\n")
    writer = csv.DictWriter(out, (*columns_of(profile), *_OWN), restval="", lineterminator="\n")
    writer.writeheader()
    for one in found.landed:
        if one.launcher == launcher:
            writer.writerow(_row(one, feeds[one.number], placed))
    return out.getvalue()


def _row(one: Landed, feed: AimedFeed, placed: PlacedLauncher) -> dict[str, str]:
    facing = _facing(placed)
    along_m, right_m = facing @ np.subtract(one.landing_m, placed.mouth_m[:2])
    spread = facing @ np.array(one.covariance_m2) @ facing.T
    sd_along_m, sd_right_m = np.maximum(np.sqrt(np.diag(spread)), _LEAST_SD_M)
    correlation = float(np.clip(spread[0, 1] / (sd_along_m * sd_right_m), -0.99, 0.99))
    setting = feed.setting
    drives = {f"drive_{index}": f"{each:.6g}" for index, each in enumerate(setting.drives, 1)}
    return drives | {
        "tilt_deg": f"{setting.tilt_deg:.4g}",
        "pan_deg": f"{setting.pan_deg:.4g}",
        "roll_deg": f"{setting.roll_deg:.4g}",
        "along_m": f"{along_m:.3f}",
        "right_m": f"{right_m:.3f}",
        "speed_mps": f"{one.speed_mps.value:.2f}",
        "flight_s": f"{one.flight_s.value:.3f}",
        "sd_along_m": f"{sd_along_m:.4f}",
        "sd_right_m": f"{sd_right_m:.4f}",
        "correlation": f"{correlation:.3f}",
    }


def _facing(placed: PlacedLauncher) -> Floats:
    """Rows: the unit vectors along where the launcher faces at pan 0, and to the right of that."""
    turn = math.radians(placed.heading_deg)
    return np.array([[math.sin(turn), math.cos(turn)], [math.cos(turn), -math.sin(turn)]])
