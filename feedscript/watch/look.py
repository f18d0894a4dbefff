"""A film run through once: each ball is looked for, and measured as soon as it is over."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from feedscript.court.lines import Court
from feedscript.diagnostics import Diagnostic
from feedscript.watch.camera.camera import Camera
from feedscript.watch.fit.measure import measure
from feedscript.watch.fit.measured import Measured, NotSeen
from feedscript.watch.frames.sound import blocks
from feedscript.watch.frames.video import Frames, Video
from feedscript.watch.ruler.ridges import Picture
from feedscript.watch.seek.expected import Expected
from feedscript.watch.seek.gather import Gathered, Seeker
from feedscript.watch.sync.align import Clock, Event, align
from feedscript.watch.sync.heard import sudden

#: Pictures are read from so long before the first ball on.
_BEFORE_S = 2.0


def clock_of(
    video: Video, events: Sequence[Event], said: tuple[float, float] | None
) -> Clock | Diagnostic:
    """The film's clock by its sound. Raises FeedscriptError (``video-silent``)."""
    return align(events, sudden(blocks(video.path)), video.duration_s, str(video.path), said)


def look_over(
    video: Video,
    still: Picture,
    camera: Camera,
    expected: Sequence[Expected],
    court: Court,
    progress: Callable[[float], None] | None = None,
    each: Callable[[Gathered, Measured | NotSeen], None] | None = None,
) -> tuple[dict[int, Measured | NotSeen], tuple[Diagnostic, ...]]:
    """What became of every ball, by its number; and what of the film could not be read.

    ``court``: by whose lines a camera that settles is followed from feed to feed.
    ``progress`` is told how much of the film is behind, and may raise to give up; ``each`` is
    told of every ball as soon as it is measured, or is known not to be.
    """
    seeker = Seeker(camera, expected, still, court)
    found: dict[int, Measured | NotSeen] = {}

    def over(one: Gathered) -> None:
        found[one.expected.number] = measure(one, video.tick_s)
        if each is not None:
            each(one, found[one.expected.number])

    from_s = max(min(one.left_s for one in expected) - _BEFORE_S, 0.0)
    with Frames(video, from_s=from_s) as frames:
        for frame in frames:
            for one in seeker.take(frame):
                over(one)
            if progress is not None:
                progress(frames.progress)
            if seeker.idle:
                break
        troubles = frames.troubles
    for one in seeker.rest():
        over(one)
    return found, troubles
