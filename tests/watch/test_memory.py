"""An hour's film needs no more memory than its first minutes."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from pathlib import Path
from typing import Self

import msgspec
import numpy as np
import psutil
import pytest

from feedscript.court.lines import COURTS
from feedscript.watch.frames.upright import Turn
from feedscript.watch.frames.video import Frame, Video
from feedscript.watch.look import look_over
from tests.watch.fit.filmed import as_it_is, expected
from tests.watch.scene.practices import practice
from tests.watch.scene.truth import truth_of
from tests.watch.test_look import standing

SIZE = (320, 180)
RATE_HZ = 15
HOUR_S = 3600.0
#: A ball every so often.
APART_S = 12.0


class Looped:
    """An hour of a few noisy pictures, over and over."""

    troubles = ()

    def __init__(self, video: Video, from_s: float = 0.0) -> None:
        random = np.random.default_rng(1)
        self._pictures = random.normal(110, 3, (7, *SIZE[::-1])).astype(np.uint8)
        self._first = int(from_s * RATE_HZ)
        self.progress = 0.0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None: ...

    def __iter__(self) -> Iterator[Frame]:
        for number in range(self._first, int(HOUR_S * RATE_HZ)):
            self.progress = number / (HOUR_S * RATE_HZ)
            grey = self._pictures[number % len(self._pictures)].copy()
            yield Frame(number / RATE_HZ, grey, lambda: np.dstack([self._pictures[0]] * 3))


@pytest.mark.long
@pytest.mark.timeout(900)
def test_memory_does_not_grow_with_the_film(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("feedscript.watch.look.Frames", Looped)
    made = practice(2, balls=1, size=SIZE)
    (feed,) = expected(made, "noon")
    count = int(HOUR_S / APART_S) - 1
    feeds = [
        msgspec.structs.replace(feed, number=number, left_s=5.0 + APART_S * number)
        for number in range(count)
    ]
    video = Video(Path("hour.mp4"), *SIZE, RATE_HZ, True, HOUR_S, 0.0, False, Turn())
    camera = as_it_is(truth_of(made.scene).lens)
    still = np.full(SIZE[::-1], 110, np.uint8)
    held: list[int] = []

    def each(*_: object) -> None:
        gc.collect()
        held.append(psutil.Process().memory_info().rss)

    looked, _ = look_over(video, [standing(camera, still)], feeds, COURTS["singles"], None, each)
    assert len(looked) == len(held) == count
    early, late = held[count // 10], held[-1]
    assert late - early < 20e6
