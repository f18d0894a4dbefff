"""The clock of a film that no sounds tell: where the lesson's first balls are seen to fly, within
what a person says.

Each of them is looked for once, in all of the time that the person may be off; then it is fitted
from the likeliest moments on. A moment counts that several balls agree on, each by a flight that is
measured as any other is; where two moments are agreed on, none is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import msgspec
import numpy as np

from feedscript.court.lines import Court
from feedscript.diagnostics import Diagnostic
from feedscript.watch.asked import AskedLesson, events_of, expected_of
from feedscript.watch.camera.camera import Camera
from feedscript.watch.fit.measure import measure
from feedscript.watch.fit.measured import Measured
from feedscript.watch.fit.start import most_seen
from feedscript.watch.fit.view import View
from feedscript.watch.frames.video import Video
from feedscript.watch.look import Laid, gathered, laid_by_sound
from feedscript.watch.mirrored import in_mirror, report, telling
from feedscript.watch.ruler.anew import Standing
from feedscript.watch.seek.expected import Expected
from feedscript.watch.seek.gather import Gathered
from feedscript.watch.sync.align import Clock
from feedscript.watch.sync.pages import NOT_TOGETHER

#: How far a person may be off who says where a ball leaves; moments so far apart are tried, and a
#: ball may leave so far from each of them.
_SAID_WITHIN_S, _STEP_S, _SD_S = 0.6, 0.12, 0.05
#: Of those moments so many are fitted.
_FITTED = 3
#: So many balls are looked for; so many must agree, and twice as many as on any other moment.
_BALLS, _LEAST = 6, 3
#: Balls agree that leave within so long of one another's moment.
_AGREE_S = 0.06
#: Quartz clocks keep within this of one another (from memory).
_GAIN_SD = 50e-6


def laid_beside(
    video: Video,
    places: Sequence[Standing],
    lesson: AskedLesson,
    camera: Camera,
    court: Court,
    said: tuple[float, float] | None,
    progress: Callable[[float], None] | None = None,
) -> Laid | Diagnostic:
    """The lesson laid beside the film by its sound; or by sight, where it has none or its sounds
    do not tell and somebody says about when.

    ``camera``: how far sounds have to go; the rest as in ``clock_by_sight``. Raises FeedscriptError
    (``video-silent``).
    """
    if said is None or video.has_sound:
        laid = laid_by_sound(video, events_of(lesson, camera), said)
        if said is None or not isinstance(laid, Diagnostic):
            return laid
    clock = clock_by_sight(video, places, lesson, court, said, progress)
    return clock if isinstance(clock, Diagnostic) else Laid(clock, np.empty(0))


def clock_by_sight(
    video: Video,
    places: Sequence[Standing],
    lesson: AskedLesson,
    court: Court,
    said: tuple[float, float],
    progress: Callable[[float], None] | None = None,
) -> Clock | Diagnostic:
    """The film's clock; ``said``: a moment (UTC), and about where in the film it is."""
    rough = Clock(said[0], said[1], _SAID_WITHIN_S / 2, 0.0, _GAIN_SD, 0, 0, by="sight")
    expected = expected_of(lesson, rough)
    if isinstance(expected, Diagnostic):
        return expected
    near = sorted(expected, key=lambda one: abs(one.left_s - said[1]))[:_BALLS]
    offs = [list(offsets_s(one)) for one in gathered(video, places, near, court, progress)]
    agreed = agreed_s(offs)
    if agreed is None and (image := _in_mirror(video, places, near, court, progress)):
        return image
    if agreed is None:
        return NOT_TOGETHER.report(
            f"no sounds tell where the lesson lies in the film, and of {len(near)} balls too few "
            f"are seen to fly at one distance from {said[1]:.1f} s",
            device=str(video.path),
            help="say to half a second where a ball leaves, early in the film: --offset '12.5 s' "
            "(with --at-ball another one)",
        )
    off_s, sd_s, count = agreed
    return msgspec.structs.replace(
        rough, of_s=rough.of_s + off_s, sd_s=sd_s, heard=count, expected=len(near)
    )


def _in_mirror(
    video: Video,
    places: Sequence[Standing],
    near: Sequence[Expected],
    court: Court,
    progress: Callable[[float], None] | None,
) -> Diagnostic | None:
    """Whether these balls are seen to agree on a moment with left and right exchanged."""
    tried = [in_mirror(one) for one in telling(near)]
    if len(tried) < _LEAST:
        return None
    offs = [list(offsets_s(one)) for one in gathered(video, places, tried, court, progress)]
    agreed = agreed_s(offs)
    if agreed is None:
        return None
    return report(
        video, f"{agreed[2]} of {len(tried)} balls that were to land on one side are seen"
    )


def offsets_s(one: Gathered) -> Iterator[float]:
    """How much later than expected the ball may have left, by each flight that is measured.

    Fitting is dear: it is done from the moments alone at which most is seen along flights as they
    may be.
    """
    steps_s = np.arange(-_SAID_WITHIN_S, _SAID_WITHIN_S + 1e-9, _STEP_S)
    sharp = _left_later(one, 0.0)
    scores = most_seen(View(sharp.expected, sharp.camera), sharp, steps_s)
    for index in np.argsort(-scores, kind="stable")[:_FITTED]:
        if scores[index] < scores.max() / 2:
            return
        seen = measure(_left_later(one, float(steps_s[index])))
        if isinstance(seen, Measured):
            yield seen.left_s.value - one.expected.left_s


def _left_later(one: Gathered, off_s: float) -> Gathered:
    asked = one.expected
    scatter = msgspec.structs.replace(asked.scatter, left_s=_SD_S)
    moved = msgspec.structs.replace(asked, left_s=asked.left_s + off_s, scatter=scatter)
    return msgspec.structs.replace(one, expected=moved)


def agreed_s(offs: Sequence[Sequence[float]]) -> tuple[float, float, int] | None:
    """What most balls agree on, a list of moments each: seconds, their standard deviation, and how
    many agree; None where too few do, or another moment has more than half as many."""
    every = sorted(off_s for each in offs for off_s in each)
    ways = []
    for middle_s in every:
        near = [min(each, key=lambda one: abs(one - middle_s)) for each in offs if each]
        near = [one for one in near if abs(one - middle_s) <= _AGREE_S]
        ways.append((len(near), -float(np.std(near)), middle_s, float(np.mean(near))))
    ways.sort(reverse=True)
    if not ways or ways[0][0] < min(_LEAST, len(offs)):
        return None
    count, spread, middle_s, mean_s = ways[0]
    others = [one for one in ways if abs(one[2] - middle_s) > 2 * _AGREE_S]
    if others and 2 * others[0][0] > count:
        return None
    return mean_s, max(-spread, 0.005) / float(np.sqrt(count)), count
