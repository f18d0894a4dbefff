"""Where in a film its camera stood: one still for each place, and when it was moved.

A tripod that settles is no move: its picture goes a little way from one look to the next. Where it
goes further, the film is looked at between, and again between, until the move is found to have
happened at once, or little by little.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec
import numpy as np

from feedscript.diagnostics import Diagnostic
from feedscript.watch.camera.camera import Floats
from feedscript.watch.frames.container import unusable
from feedscript.watch.frames.video import Frames, Video
from feedscript.watch.ruler.ridges import Picture
from feedscript.watch.ruler.still import apart_px, laid_together, way_onto

#: So many pictures are looked at: people stand in one place for less than half of a lesson. Of
#: large pictures fewer, so that all of them together have no more pixels than the other.
PICTURES, _MOST_PIXELS = 25, 100_000_000
#: A picture that jumps further than this is of a camera that was moved, for 1280 pixels' width;
#: nearer ones are followed by the lines.
MOVED_PX = 8.0
#: The moment of a move is looked for as closely as this.
_MOMENT_S = 0.25
_NOWHERE = np.eye(2, 3)

#: The picture at or just after a time of the film; None past its end.
Look = Callable[[float], Picture | None]


class Still(msgspec.Struct, frozen=True, eq=False):
    """What does not move, shape (height, width), while the camera stands in one place: from the one
    time of the film to the other. It lies as the first picture of that time does."""

    grey: Picture
    from_s: float = 0.0
    to_s: float = np.inf


def most_px(picture: Picture) -> float:
    """Further than this is a jump."""
    return float(MOVED_PX * picture.shape[1] / 1280)


class _Place(msgspec.Struct, eq=False):
    """Pictures that go on from one another, each with its way onto the first."""

    base: Picture
    times_s: list[float]
    pictures: list[Picture]
    ways: list[Floats]

    def way(self, picture: Picture) -> Floats | None:
        return way_onto(self.base, picture)

    def near(self, way: Floats) -> bool:
        """Whether it is no jump from the last one's."""
        return apart_px(way, self.ways[-1], self.base) <= most_px(self.base)

    def take(self, time_s: float, picture: Picture, way: Floats) -> None:
        self.times_s.append(time_s)
        self.pictures.append(picture)
        self.ways.append(way)


class _Looking:
    """Single pictures of a video, and what of it could not be read."""

    def __init__(self, video: Video) -> None:
        self._video = video
        self.troubles: tuple[Diagnostic, ...] = ()

    def at(self, time_s: float) -> Picture | None:
        """The picture at or just after this time."""
        with Frames(self._video, from_s=time_s) as frames:
            frame = next(iter(frames), None)
        self.troubles = self.troubles or frames.troubles
        return None if frame is None else frame.grey


def stills_of(
    video: Video, *, progress: Callable[[float], None] | None = None
) -> tuple[tuple[Still, ...], tuple[Diagnostic, ...]]:
    """The stills of a video, in order of time; and what of it could not be read.

    ``progress`` is told how much is done, and may raise to give up. Raises FeedscriptError
    (``video-unusable``).
    """
    count = int(np.clip(_MOST_PIXELS // (video.width_px * video.height_px), 5, PICTURES))
    looking = _Looking(video)
    times_s: list[float] = []
    pictures: list[Picture] = []
    for index in range(count):
        time_s = video.duration_s * (index + 0.5) / count
        grey = looking.at(time_s)
        if grey is not None:
            times_s.append(time_s)
            pictures.append(grey)
        if progress is not None:
            progress((index + 1) / count)
    if not pictures:
        raise unusable(video.path, "none of the pictures that were looked at can be read")
    return stills_from(times_s, pictures, looking.at), looking.troubles


def stills_from(
    times_s: Sequence[float], pictures: Sequence[Picture], look: Look
) -> tuple[Still, ...]:
    """The stills of pictures of one size, taken at these times; ``look`` shows others between."""
    runs = _runs(times_s, pictures, look)
    found: list[Still] = []
    from_s = 0.0
    for place, after in zip(runs, [*runs[1:], None], strict=True):
        grey = laid_together(place.pictures, place.ways)
        if after is None:
            found.append(Still(grey, from_s))
        else:
            last_s, first_s = _moment(place, after, look)
            found.append(Still(grey, from_s, last_s))
            from_s = first_s
    return tuple(found)


def _runs(times_s: Sequence[float], pictures: Sequence[Picture], look: Look) -> list[_Place]:
    """Where the camera stood, one after the other. A picture that fits nowhere, between others that
    do, is of somebody before the camera, and left out."""
    runs: list[_Place] = []
    for time_s, picture in zip(times_s, pictures, strict=True):
        # A lone picture may have been a moment's: the place before it is looked at too.
        last = runs[-2:] if runs and len(runs[-1].pictures) == 1 else runs[-1:]
        for back, place in enumerate(reversed(last)):
            way = place.way(picture)
            if way is not None and (place.near(way) or _drifted(place, time_s, way, look)):
                place.take(time_s, picture, way)
                del runs[len(runs) - back :]
                break
        else:
            runs.append(_Place(picture, [time_s], [picture], [_NOWHERE]))
    return [
        run
        for index, run in enumerate(runs)
        if index in (0, len(runs) - 1) or len(run.pictures) > 1
    ]


def _drifted(place: _Place, time_s: float, way: Floats, look: Look) -> bool:
    """Whether the picture came there little by little: no half of the time has all of the way."""
    (from_s, start), (to_s, end) = (place.times_s[-1], place.ways[-1]), (time_s, way)
    while apart_px(start, end, place.base) > most_px(place.base):
        if to_s - from_s < _MOMENT_S:
            return False
        middle_s = (from_s + to_s) / 2
        between = look(middle_s)
        middle = None if between is None else place.way(between)
        if middle is None:
            return False
        if apart_px(start, middle, place.base) > apart_px(middle, end, place.base):
            to_s, end = middle_s, middle
        else:
            from_s, start = middle_s, middle
    return True


def _moment(before: _Place, after: _Place, look: Look) -> tuple[float, float]:
    """Until when the camera stood in the one place, and from when on in the other."""
    last_s, first_s = before.times_s[-1], after.times_s[0]
    last_s = _edge(last_s, first_s, lambda grey: _stands(before, grey), look)
    first_s = _edge(first_s, last_s, lambda grey: _stands(after, grey), look)
    return last_s, first_s


def _stands(place: _Place, grey: Picture) -> bool:
    way = place.way(grey)
    return way is not None and any(apart_px(way, one, grey) <= most_px(grey) for one in place.ways)


def _edge(
    inside_s: float, outside_s: float, stands: Callable[[Picture], bool], look: Look
) -> float:
    """The time nearest to the outside at which it still stands there."""
    while abs(outside_s - inside_s) > _MOMENT_S:
        middle_s = (inside_s + outside_s) / 2
        grey = look(middle_s)
        if grey is not None and stands(grey):
            inside_s = middle_s
        else:
            outside_s = middle_s
    return inside_s
