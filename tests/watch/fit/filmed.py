"""Films of feeds looked over as a user's would be, and held against what was true in them."""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import msgspec
import numpy as np

from feedscript.court.landmarks import End
from feedscript.court.lines import COURTS
from feedscript.diagnostics import Diagnostic
from feedscript.flight.bounce import SURFACES
from feedscript.watch.camera.camera import Camera
from feedscript.watch.fit.measure import measure
from feedscript.watch.fit.measured import Measured, NotSeen
from feedscript.watch.frames.video import Frame
from feedscript.watch.ruler.find import find_camera
from feedscript.watch.seek.expected import Expected
from feedscript.watch.seek.gather import Gathered, Seeker
from tests.watch.scene.lens import Lens
from tests.watch.scene.practices import SURFACE_OF, Practice, practice
from tests.watch.scene.render import Film, render
from tests.watch.scene.truth import BallTruth

#: Feeds that nobody fed are numbered from here on.
PHANTOM = 1000
#: Films are kept as JPEG: small, and spoilt as a camera would.
QUALITY = (cv2.IMWRITE_JPEG_QUALITY, 80)
#: The square of the Mahalanobis distance within which 95 % of two-dimensional errors lie.
WITHIN_95 = 5.991


class Looked(msgspec.Struct, frozen=True, eq=False):
    """A film, and what was made of its feeds and of those that were never fed."""

    film: Film
    of_feeds: tuple[Measured | NotSeen, ...]
    of_phantoms: tuple[Measured | NotSeen, ...]

    def pairs(self) -> Iterator[tuple[BallTruth, Measured]]:
        for ball, found in zip(self.film.truth.balls, self.of_feeds, strict=True):
            if isinstance(found, Measured):
                yield ball, found


def as_it_is(lens: Lens) -> Camera:
    """The true camera, taken as exact."""
    return Camera(
        position_m=lens.position_m,
        rotation=lens.rotation,
        focal_px=lens.focal_px,
        width_px=lens.width,
        height_px=lens.height,
        centre_px=lens.centre_px,
        k1=lens.k1,
        k2=lens.k2,
        p1=lens.p1,
        p2=lens.p2,
    )


def expected(made: Practice, look: str, late_s: float = 0.0, first: int = 0) -> list[Expected]:
    """What a lesson would know: the launches asked for, and when about they left."""
    random = np.random.default_rng((made.scene.seed, 8))
    return [
        Expected(
            number=first + number,
            left_s=asked.launch.at_s + late_s + float(random.normal(0, 0.01)),
            mouth_m=asked.launch.place_m,
            speed_mps=asked.launch.speed_mps,
            elevation_deg=asked.launch.elevation_deg,
            azimuth_deg=asked.launch.azimuth_deg,
            top_rpm=asked.launch.top_rpm,
            side_rpm=asked.launch.side_rpm,
            surface=SURFACES[SURFACE_OF.get(look, "hard")],
        )
        for number, asked in enumerate(made.asked)
    ]


def still_of(some: list[np.ndarray]) -> np.ndarray:
    return np.median(np.stack(some), axis=0).astype(np.uint8)


def unpacked(jpeg: np.ndarray) -> np.ndarray:
    return cv2.imdecode(jpeg, cv2.IMREAD_GRAYSCALE)


def _no_colours() -> np.ndarray:
    raise AssertionError("colours are not looked at")


def packed(film: Film) -> list[np.ndarray]:
    return [cv2.imencode(".jpg", frame, QUALITY)[1] for frame in film.frames()]


def gathered(
    film: Film,
    kept: list[np.ndarray],
    feeds: list[Expected],
    *,
    exact: bool = False,
    follow: bool = True,
) -> dict[int, Gathered] | Diagnostic:
    """All that may be each feed's ball, by the feed's number."""
    still = still_of([unpacked(each) for each in kept[:: max(1, len(kept) // 25)]])
    camera: Camera | Diagnostic = as_it_is(film.truth.lens)
    if not exact:
        end = End.RECEIVER if film.truth.lens.position_m[1] > 0 else End.LAUNCHER
        ruler = find_camera(still, COURTS["singles"], camera_at=end, most_sd_m=0.3)
        if isinstance(ruler, Diagnostic):
            return ruler
        camera = ruler.camera
    seeker = Seeker(camera, feeds, still, COURTS["singles"] if follow else None)
    found = []
    for time_s, each in zip(film.truth.times_s.tolist(), kept, strict=True):
        found += seeker.take(Frame(time_s, unpacked(each), _no_colours))
    found += seeker.rest()
    return {each.expected.number: each for each in found}


def looked_over(
    seed: int, *, exact: bool = False, follow: bool = True, look: str = "noon", **words: object
) -> Looked | Diagnostic:
    """A film made and looked over. Between its feeds, others are looked for that were not fed."""
    made = practice(seed, look=look, **words)
    film = render(made.scene)
    feeds = expected(made, look) + expected(made, look, late_s=1.3, first=PHANTOM)
    got = gathered(film, packed(film), feeds, exact=exact, follow=follow)
    if isinstance(got, Diagnostic):
        return got
    found = {number: measure(each) for number, each in got.items()}
    real = tuple(found[at] for at in sorted(found) if at < PHANTOM)
    return Looked(film, real, tuple(found[at] for at in sorted(found) if at >= PHANTOM))
