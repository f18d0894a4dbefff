"""A lesson's sound listened to, with pictures or without: flight times, ball by ball."""

from __future__ import annotations

from pathlib import Path

import msgspec

from feedscript.diagnostics import Diagnostic
from feedscript.watch.asked import AskedLesson, expected_of, heard_at
from feedscript.watch.by_sound import Heard, Microphone, Unheard, by_sound
from feedscript.watch.frames.sound import Sound, blocks
from feedscript.watch.sync.align import Clock, align
from feedscript.watch.sync.heard import sudden


class Listened(msgspec.Struct, frozen=True, kw_only=True):
    """All of a lesson's balls, by their sounds; numbers, and no names."""

    version: int = 1
    lesson: int | None  # None: a program's balls, without a journal
    clock: Clock
    balls: tuple[Heard | Unheard, ...]


def listen(
    path: Path, lesson: AskedLesson, microphone: Microphone, said: tuple[float, float] | None
) -> Listened | Diagnostic:
    """Every ball of the lesson. Raises FeedscriptError (``video-unusable``, ``video-silent``).

    ``said``: a moment (UTC) and about where in the sound a person says that it is.
    """
    length = _Length()
    sounds_s = sudden(length.of(one) for one in blocks(path))
    events = heard_at(lesson, microphone.place_m)
    clock = align(events, sounds_s, length.seconds, str(path), said)
    if isinstance(clock, Diagnostic):
        return clock
    expected = expected_of(lesson, clock)
    if isinstance(expected, Diagnostic):
        return expected
    balls = by_sound(expected, sounds_s, length.seconds, microphone)
    return Listened(lesson=lesson.number, clock=clock, balls=balls)


class _Length:
    """How long a sound is, seen as it runs by."""

    seconds = 0.0

    def of(self, one: Sound) -> Sound:
        self.seconds = one.start_s + len(one.samples) / one.rate_hz
        return one
