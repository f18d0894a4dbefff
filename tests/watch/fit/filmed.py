"""Films of feeds looked over as a user's would be, and held against what was true in them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory

import msgspec
import numpy as np

from feedscript.court.landmarks import End
from feedscript.court.lines import COURTS, Court
from feedscript.diagnostics import Diagnostic
from feedscript.flight.ball import BALLS
from feedscript.flight.bounce import SURFACES
from feedscript.flight.motion.conditions import Conditions
from feedscript.watch.camera.camera import Camera
from feedscript.watch.fit.measure import measure
from feedscript.watch.fit.measured import Measured, NotSeen
from feedscript.watch.frames.video import Frame, Video, open_video
from feedscript.watch.ruler.find import find_camera
from feedscript.watch.seek.background import Grey
from feedscript.watch.seek.expected import Expected
from feedscript.watch.seek.gather import Gathered, Seeker
from tests.watch.scene import packed
from tests.watch.scene.lens import Lens
from tests.watch.scene.practices import SURFACE_OF, Practice, practice
from tests.watch.scene.recording import write
from tests.watch.scene.render import Film, render
from tests.watch.scene.truth import BallTruth

#: Feeds that nobody fed are numbered from here on.
PHANTOM = 1000
#: The square of the Mahalanobis distance within which 95 % of two-dimensional errors lie.
WITHIN_95 = 5.991
#: What is played on a ground that is drawn: its court, and its ball.
PLAYED = {"full": ("singles", "type-2"), "orange": ("orange", "orange"), "red": ("red", "red")}


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
    _, ball = PLAYED[made.scene.court]
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
            conditions=Conditions(ball=BALLS[ball]),
            surface=SURFACES[SURFACE_OF.get(look, "hard")],
        )
        for number, asked in enumerate(made.asked)
    ]


class OfScene(msgspec.Struct, frozen=True, eq=False):
    """Pictures of a film as a JPEG camera gives them."""

    film: Film

    def every(self, count: int = 1) -> Iterator[tuple[float, Grey]]:
        """When each was taken, and the picture; or one of so many."""
        return packed.frames(self.film, count)


class OfFile(msgspec.Struct, frozen=True, eq=False):
    """The same from a file, as it is read."""

    video: Video

    def every(self, count: int = 1) -> Iterator[tuple[float, Grey]]:
        for frame in islice(self.video, 0, None, count):
            yield frame.time_s, frame.grey


@contextmanager
def taken(film: Film, codec: str) -> Iterator[OfScene | OfFile]:
    """The film's pictures, packed so."""
    if codec == "jpeg":
        yield OfScene(film)
        return
    with TemporaryDirectory() as folder:
        path = Path(folder, "film.mp4")
        write(film, path, codec=codec, colour=False, with_sound=False)
        yield OfFile(open_video(path))


def still_of(film: Film, pictures: int = 25, taken: OfScene | OfFile | None = None) -> Grey:
    """The middle of pictures from the whole film."""
    every = max(1, len(film.truth.times_s) // pictures)
    some = (taken or OfScene(film)).every(every)
    return np.median([grey for _, grey in some], axis=0).astype(np.uint8)


def _no_colours() -> np.ndarray:
    raise AssertionError("colours are not looked at")


def played_on(film: Film) -> Court:
    court, _ = PLAYED[film.scene.court]
    return COURTS[court]


def camera_of(film: Film, still: Grey) -> Camera | Diagnostic:
    """As a user's would be found, who is content with less."""
    end = End.RECEIVER if film.truth.lens.position_m[1] > 0 else End.LAUNCHER
    ruler = find_camera(still, played_on(film), camera_at=end, most_sd_m=0.3)
    return ruler if isinstance(ruler, Diagnostic) else ruler.camera


def looked_for(
    film: Film,
    still: Grey,
    camera: Camera,
    feeds: list[Expected],
    *,
    follow: bool = True,
    taken: OfScene | OfFile | None = None,
) -> Iterator[Gathered]:
    """All that may be each feed's ball."""
    seeker = Seeker(camera, feeds, still, played_on(film) if follow else None)
    for time_s, grey in (taken or OfScene(film)).every():
        yield from seeker.take(Frame(time_s, grey, _no_colours))
        if seeker.idle:
            break
    yield from seeker.rest()


def looked_over(
    seed: int,
    *,
    exact: bool = False,
    follow: bool = True,
    look: str = "noon",
    phantom: int = 1,
    codec: str = "jpeg",
    **words: object,
) -> Looked | Diagnostic:
    """A film made and looked over. After every ``phantom``th of its feeds, halfway to the next,
    one is looked for that was not fed."""
    made = practice(seed, look=look, **words)
    film = render(made.scene)
    half_s = made.scene.duration_s / len(made.asked) / 2
    never = expected(made, look, late_s=half_s, first=PHANTOM)[::phantom]
    feeds = expected(made, look) + never
    with taken(film, codec) as pictures:
        still = still_of(film, taken=pictures)
        camera = as_it_is(film.truth.lens) if exact else camera_of(film, still)
        if isinstance(camera, Diagnostic):
            return camera
        looked = looked_for(film, still, camera, feeds, follow=follow, taken=pictures)
        found = {each.expected.number: measure(each) for each in looked}
    real = tuple(found[at] for at in sorted(found) if at < PHANTOM)
    return Looked(film, real, tuple(found[at] for at in sorted(found) if at >= PHANTOM))
