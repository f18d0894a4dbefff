"""Flights of the scene as what would be seen of them, without drawing pictures: quick."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import numpy as np

from feedscript.watch.camera.camera import Camera
from feedscript.watch.seek.blobs import NONE, Blobs
from feedscript.watch.seek.expected import Expected
from feedscript.watch.seek.gather import Gathered
from tests.watch.fit.filmed import as_it_is, expected
from tests.watch.scene.practices import Practice, practice
from tests.watch.scene.truth import BallTruth, Track, Truth, truth_of

#: What a ball is followed after its bounce here.
AFTER_S = 0.4


class Fed(msgspec.Struct, frozen=True, eq=False):
    """A feed as it was expected, and what became of it."""

    feed: Expected
    ball: BallTruth
    truth: Truth


def fed(seed: int, balls: int = 4, **words: object) -> list[Fed]:
    made: Practice = practice(seed, balls=balls, **words)
    truth = truth_of(made.scene)
    feeds = expected(made, "noon")
    return [Fed(feed, ball, truth) for feed, ball in zip(feeds, truth.balls, strict=True)]


def blobs_at(px: np.ndarray, half_px: np.ndarray, width_px: np.ndarray | None = None) -> Blobs:
    """At these pixels, (n, 2), with the halves of their streaks, (n, 2), and their widths, (n,)."""
    count = len(px)
    width_px = np.ones(count) if width_px is None else width_px
    return Blobs(px, np.full(count, 12.0), np.full(count, 90.0), half_px, width_px)


def seen(
    one: Fed,
    random: np.random.Generator,
    *,
    noise_px: float = 0.3,
    camera: Camera | None = None,
    missed: float = 0.05,
    beside: Callable[[int], np.ndarray] | None = None,
    until_s: float | None = None,
    track: Track | None = None,
    wide: float = 1.0,
) -> Gathered:
    """All blobs of one feed: its ball's where it is seen, with noise, and ``beside`` in frames;
    ``wide``: how wide the ball is seen, as a share of its own width."""
    track = one.ball.track if track is None else track
    last_s = one.ball.bounce.at_s + AFTER_S if until_s is None else until_s
    times, blobs = [], []
    for frame, time_s in enumerate(one.truth.times_s):
        if not one.feed.left_s - 0.05 <= time_s <= one.feed.left_s + 2.2:
            continue
        row = track.in_frame(frame)
        found = np.empty((0, 2)) if beside is None else beside(frame)
        half, width = np.zeros((len(found), 2)), np.ones(len(found))
        shown = row is not None and time_s < last_s and track.seen[row] > 0.6
        if shown and random.uniform() > missed:
            at = track.middle_px[row] + random.normal(0, noise_px, 2)
            found = np.vstack([found, at])
            streak = (track.shut_px[row] - track.opened_px[row]) / 2
            half = np.vstack([half, streak + random.normal(0, noise_px, 2)])
            width = np.append(width, wide * 2 * track.radius_px[row])
        times.append(time_s)
        blobs.append(blobs_at(found, half, width) if len(found) else NONE)
    return Gathered(one.feed, camera or as_it_is(one.truth.lens), np.array(times), tuple(blobs))
