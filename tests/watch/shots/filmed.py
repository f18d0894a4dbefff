"""Films of shots looked over, and what was made of each beside what it was."""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.court.lines import COURTS
from feedscript.diagnostics import Diagnostic
from feedscript.watch.camera.camera import Camera
from feedscript.watch.fit.measure import measure
from feedscript.watch.fit.measured import Measured, NotSeen
from feedscript.watch.frames.video import Frame
from feedscript.watch.seek.gather import Seeker
from feedscript.watch.shots.gather import Back, BackSeeker
from feedscript.watch.shots.ground import Ground
from feedscript.watch.shots.measure import measure_shot
from feedscript.watch.shots.seen import NoShot, Shot
from tests.watch.fit.filmed import as_it_is, camera_of, expected, still_of
from tests.watch.scene import packed
from tests.watch.scene.practices import practice
from tests.watch.scene.render import render
from tests.watch.scene.returns import Return


class Seen(msgspec.Struct, frozen=True, eq=False):
    """A film's shots: what was hit (None: nothing), and what was seen of it."""

    hits: tuple[Return | None, ...]
    feeds: tuple[Measured | NotSeen, ...]
    backs: tuple[Back, ...]
    cameras: tuple[Camera, ...]

    def shots(self) -> tuple[Shot | NoShot, ...]:
        ground = Ground(COURTS["singles"])
        rows = zip(self.cameras, self.feeds, self.backs, strict=True)
        return tuple(measure_shot(camera, fed, back, ground) for camera, fed, back in rows)


def _no_colours() -> np.ndarray:
    raise AssertionError("colours are not looked at")


def filmed(
    seed: int, hits: tuple[str, ...], *, exact: bool = False, look: str = "noon", **words: object
) -> Seen | Diagnostic:
    """A film in which the balls in turn are hit so (``none``: let go), and looked over."""
    made = practice(seed, balls=len(hits), hits=hits, look=look, gap_s=4.2, **words)
    film = render(made.scene)
    still = still_of(film)
    camera = as_it_is(film.truth.lens) if exact else camera_of(film, still)
    if isinstance(camera, Diagnostic):
        return camera
    feeds = expected(made, look)
    seeker, back_seeker = Seeker(camera, feeds, still), BackSeeker(camera, feeds, still)
    gathered, backs = [], []
    for time_s, grey in packed.frames(film):
        frame = Frame(time_s, grey, _no_colours)
        gathered += seeker.take(frame)
        backs += back_seeker.take(frame)
    by_number = {one.expected.number: one for one in (*gathered, *seeker.rest())}
    of_backs = {one.expected.number: one for one in (*backs, *back_seeker.rest())}
    return Seen(
        made.returns,
        tuple(measure(by_number[one.number]) for one in feeds),
        tuple(of_backs[one.number] for one in feeds),
        tuple(by_number[one.number].camera for one in feeds),
    )
