"""A film run through once: each ball is looked for, and measured as soon as it is over."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import takewhile

import msgspec
import numpy as np

from feedscript.court.lines import Court
from feedscript.diagnostics import Diagnostic
from feedscript.flight.models import Array
from feedscript.watch.fit.measure import measure
from feedscript.watch.fit.measured import Measured, NotSeen, Why
from feedscript.watch.frames.sound import blocks
from feedscript.watch.frames.video import Frames, Video
from feedscript.watch.ruler.anew import Standing
from feedscript.watch.seek.background import REACH_S
from feedscript.watch.seek.expected import Expected
from feedscript.watch.seek.gather import Gathered, Seeker, begins_s
from feedscript.watch.shots.watcher import ShotWatcher
from feedscript.watch.sync.align import Clock, Event, align
from feedscript.watch.sync.heard import sudden
from feedscript.watch.unfinished import Unfinished, done_of

#: Pictures are read from so long before the first ball on: the background is theirs alone then,
#: wherever reading began.
_BEFORE_S = REACH_S + 0.5
#: A ball that was looked for until so long before the camera was moved may have been cut off.
_CUT_S = 0.1


class Laid(msgspec.Struct, frozen=True, eq=False):
    """A lesson laid beside a film: the clock, and the film's sudden sounds (none of a silent one),
    shape (n,)."""

    clock: Clock
    sounds_s: Array


def laid_by_sound(
    video: Video, events: Sequence[Event], said: tuple[float, float] | None
) -> Laid | Diagnostic:
    """By the film's sound. Raises FeedscriptError (``video-silent``)."""
    sounds_s = sudden(blocks(video.path))
    clock = align(events, sounds_s, video.duration_s, str(video.path), said)
    return clock if isinstance(clock, Diagnostic) else Laid(clock, sounds_s)


def look_over(
    video: Video,
    places: Sequence[Standing],
    expected: Sequence[Expected],
    court: Court,
    progress: Callable[[float], None] | None = None,
    each: Callable[[Gathered, Measured | NotSeen], None] | None = None,
    shots: ShotWatcher | None = None,
    kept: Unfinished | None = None,
) -> tuple[dict[int, Measured | NotSeen], tuple[Diagnostic, ...]]:
    """What became of every ball, by its number; and what of the film could not be read.

    ``places``: where the camera stood, in order of time; balls that left while it stood nowhere, or
    where the court was not found, are not measured. ``court``: by whose lines a camera that settles
    is followed from feed to feed. ``progress`` is told how much of the film is behind, and may
    raise to give up; ``each`` is told of every ball that was looked for, as soon as it is measured
    or is known not to be. ``shots`` sees the same pictures and is told of the same balls.
    ``kept``: has the balls of an earlier run, which are not looked for again, and takes those of
    this one; all comes out as if nothing had been interrupted. Raises OSError where it cannot be
    written.
    """
    found: dict[int, Measured | NotSeen] = {
        one.number: NotSeen(number=one.number, why=Why.CAMERA_MOVED) for one in expected
    }
    troubles: list[Diagnostic] = []
    for place in places:
        mine = [one for one in expected if place.still.from_s <= one.left_s < place.still.to_s]
        if not mine or place.known is None:
            continue
        over = _over(mine, kept)
        for one, seen in over:
            found[seen.number] = seen
            if each is not None:
                each(one, seen)
        rest = mine[len(over) :]
        for one in _looked_over(video, place, over, rest, court, progress, troubles, shots):
            seen = measure(one, video.tick_s)
            if shots is not None:
                shots.fed(one.camera, seen)
            if isinstance(seen, NotSeen) and _cut_off(one, place):
                continue
            found[seen.number] = seen
            if kept is not None:
                kept.add(done_of(one.camera, seen))
            if each is not None:
                each(one, seen)
    return found, tuple(troubles)


def gathered(
    video: Video,
    places: Sequence[Standing],
    expected: Sequence[Expected],
    court: Court,
    progress: Callable[[float], None] | None = None,
) -> Iterator[Gathered]:
    """All that may be each ball, not yet measured; none of balls that left where the court is not
    known."""
    for place in places:
        mine = [one for one in expected if place.still.from_s <= one.left_s < place.still.to_s]
        if place.known is not None:
            yield from _looked_over(video, place, [], mine, court, progress, [], None)


def _over(
    mine: list[Expected], kept: Unfinished | None
) -> list[tuple[Gathered, Measured | NotSeen]]:
    """The balls of an earlier run, up to the first that is missing; ``mine`` is put in the order
    in which balls are looked for."""
    mine.sort(key=begins_s)
    known = {one.number: one for one in kept.done} if kept else {}
    return [
        (Gathered(one, known[one.number].camera, np.empty(0), ()), known[one.number].seen)
        for one in takewhile(lambda one: one.number in known, mine)
    ]


def _cut_off(one: Gathered, place: Standing) -> bool:
    """Whether the camera was moved while the ball was looked for."""
    last_s = float(one.times_s[-1]) if len(one.times_s) else np.inf
    return last_s > place.still.to_s - _CUT_S


def _looked_over(
    video: Video,
    place: Standing,
    over: Sequence[tuple[Gathered, Measured | NotSeen]],
    expected: Sequence[Expected],
    court: Court,
    progress: Callable[[float], None] | None,
    troubles: list[Diagnostic],
    shots: ShotWatcher | None,
) -> Iterator[Gathered]:
    """All that may be each ball, while the camera stands in this place; ``over``: those of an
    earlier run, up to the last of which the camera was followed."""
    assert place.known is not None
    if shots is not None:
        shots.begin(
            place.known.camera, [*(one.expected for one, _ in over), *expected], place.still.grey
        )
        for one, seen in over:
            shots.fed(one.camera, seen)
    first_s = min([shots.begins_s if shots else np.inf, *map(begins_s, expected)])
    if first_s == np.inf:
        return
    followed = over[-1][0].camera if over else None
    seeker = Seeker(place.known.camera, expected, place.still.grey, court, followed)
    with Frames(video, from_s=max(first_s - _BEFORE_S, place.still.from_s)) as frames:
        for frame in frames:
            if frame.time_s > place.still.to_s:
                break
            yield from seeker.take(frame)
            if shots is not None:
                shots.take(frame)
            if progress is not None:
                progress(frames.progress)
            if seeker.idle and (shots is None or shots.idle):
                break
        troubles += frames.troubles
    yield from seeker.rest()
    if shots is not None:
        shots.rest()
