"""A small film to look at: a painted court, one ball that was found in it and one that was not."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import msgspec
import numpy as np

from feedscript.court.lines import COURTS
from feedscript.diagnostics import Diagnostic
from feedscript.viewing.viewing import Film, Look, Sought, Viewing
from feedscript.watch.fit.measured import NotSeen, Why
from feedscript.watch.found import Found, ball_of
from feedscript.watch.ruler.anew import Standing
from feedscript.watch.ruler.find import find_camera
from feedscript.watch.ruler.stands import Still
from feedscript.watch.sync.align import Clock
from tests.watch.clips.shown import Shown, shown
from tests.watch.ruler.drawn import draw, painted

FULL = COURTS["singles"]
CLOCK = Clock(0.0, 0.0, 0.01, 0.0, 0.0, 2, 2)
#: The ball that was found is number 0; the one that was not, this.
LOST = 7
ASKED: Any = SimpleNamespace(launcher=0, landing_m=(0.0, 9.0))


def sought(one: Shown) -> Sought:
    lost = NotSeen(number=LOST, why=Why.NOTHING_SEEN)
    found = Found(
        lesson=3,
        launchers=("garage",),
        camera=one.camera,
        clock=CLOCK,
        places=(),
        balls=(ball_of(ASKED, one.found), ball_of(ASKED, lost)),
    )
    return Sought(found, {0: "xqdeep", LOST: "xqwide"}, (one.way,))


def finds(one: Shown) -> Look:
    """Looks for the balls, and finds these."""

    def look(
        places: tuple[Standing, ...], progress: Callable[[float], None]
    ) -> Sought | Diagnostic:
        progress(0.5)
        return sought(one)

    return look


@cache
def standing(one: Shown) -> Standing:
    """The court as it is found in the still, from a camera that is about right."""
    random = np.random.default_rng(5)
    grey = draw(one.fed.truth.lens, painted(random), random)
    start = msgspec.structs.replace(one.camera, focal_px=one.camera.focal_px * 1.002)
    return Standing(Still(grey), find_camera(grey, FULL, start=start))


def film(one: Shown, look: Look | None, parts: int = 1) -> Film:
    return Film(
        video=one.video, places=(standing(one),) * parts, court=FULL, most_sd_m=0.05, look=look
    )


def small_film(folder: Path) -> Shown:
    return shown(folder / "ball.mp4")


def begun(one: Shown, look: Look | None, parts: int = 1) -> Viewing:
    return Viewing(film(one, look, parts))
