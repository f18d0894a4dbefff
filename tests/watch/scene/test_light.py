"""Lamps that flicker and clouds that pass, in the pictures."""

from __future__ import annotations

import numpy as np
import pytest

from tests.watch.scene.lens import stood
from tests.watch.scene.recipe import CLOUD_S, Look, Scene, Shooting
from tests.watch.scene.render import render

LENS = stood("beside", (320, 180))


def brightness(look: Look, duration_s: float, **shooting: float) -> list[np.ndarray]:
    """Every frame over the first of the same scene in even light."""
    shots = Shooting(lens=LENS, noise=0.0, **shooting)
    scene = Scene(shooting=shots, flights=(), duration_s=duration_s, look=look)
    even = Scene(shooting=shots, flights=(), duration_s=0.1, look=Look(grain=0.0))
    empty = next(render(even).frames()).astype(float)
    return [frame / empty for frame in render(scene).frames()]


def test_lamps_beat_against_the_frames() -> None:
    """100 Hz in 60 pictures a second comes back every third; the open shutter evens it out."""
    shown = brightness(Look(grain=0.0, flicker=0.3), 0.2, rate_hz=60.0, exposure_s=1 / 250)
    light = np.array([frame.mean() for frame in shown])
    np.testing.assert_allclose(light[3:], light[:-3], atol=0.01)
    opens = np.arange(12) / 60
    expected = 1 + 0.3 * np.sin(0.4 * np.pi) / (0.4 * np.pi) * np.cos(
        2 * np.pi * 100 * (opens + 0.002)
    )
    np.testing.assert_allclose(light, expected, atol=0.02)


def test_a_rolling_shutter_shows_lamps_as_bands() -> None:
    (frame,) = brightness(
        Look(grain=0.0, flicker=0.3), 1 / 60, exposure_s=1 / 2000, row_time_s=1e-4
    )
    rows = frame.mean(1)
    assert rows.max() - rows.min() == pytest.approx(0.6, abs=0.08)
    # 180 rows last 18 ms: not quite two swings of the light.
    clear = rows[np.abs(rows - 1) > 0.03]
    assert np.count_nonzero(np.diff(np.sign(clear - 1))) == 4


def test_a_cloud_takes_its_light_and_gives_it_back() -> None:
    shown = brightness(Look(grain=0.0, cloud=0.4), CLOUD_S + 0.5, rate_hz=2.0)
    light = np.array([frame.mean() for frame in shown])
    assert light.min() == pytest.approx(0.6, abs=0.02)
    assert light[-1] == pytest.approx(1.0, abs=0.03)
