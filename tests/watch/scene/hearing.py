"""The sound of a scene, as the camera's microphone hears it: later and fainter from farther away.

Clapper, the launcher's thump and motor, bounces, rackets, over a murmur. What each sounds like is
made up (bursts of filtered noise); that it comes after the way to the camera at the speed of sound
is not.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from tests.watch.scene.recipe import Scene

Array = NDArray[np.float64]
SOUND_MPS = 343.0  # in air at 20 C
RATE_HZ = 48_000


class Noise(msgspec.Struct, frozen=True):
    """Something that is heard: when and where it was made."""

    what: str  # clap, thump, bounce, hit
    at_s: float
    place_m: tuple[float, float, float]
    loud: float  # peak at a metre


#: Band in Hz, and how soon each has died to a third, s.
TIMBRES = {
    "clap": ((900.0, 6000.0), 0.006),
    "thump": ((60.0, 500.0), 0.03),
    "bounce": ((250.0, 1500.0), 0.008),
    "hit": ((350.0, 3000.0), 0.012),
}


def noises(scene: Scene) -> tuple[Noise, ...]:
    """Everything that makes a sound, in order of time."""
    return tuple(sorted(_noises(scene), key=lambda each: each.at_s))


def _noises(scene: Scene) -> Iterator[Noise]:
    x, y, _ = scene.shooting.lens.position_m
    for at_s in scene.claps_s:
        yield Noise("clap", at_s, (x * 0.8, y * 0.8, 1.4), 3.0)
    for hit in scene.hits:
        yield Noise("hit", hit.at_s, hit.place_m, 2.5)
    for flight in scene.flights:
        yield Noise("thump", flight.launch.at_s, flight.launch.place_m, 2.0)
    for flight in (*scene.flights, *scene.others):
        for bounce in flight.bounces():
            yield Noise("bounce", bounce.at_s, bounce.place_m, 0.12 * bounce.speed_mps)


def heard_s(scene: Scene, noise: Noise) -> float:
    """When it reaches the camera."""
    away = np.subtract(noise.place_m, scene.shooting.lens.position_m)
    return noise.at_s + float(np.linalg.norm(away)) / SOUND_MPS


def sound(scene: Scene, rate_hz: int = RATE_HZ, murmur: float = 0.004) -> NDArray[np.float32]:
    """(n,) samples from -1 to 1, from the film's beginning to its end."""
    random = np.random.default_rng((scene.seed, 5))
    count = round(scene.duration_s * rate_hz)
    heard = murmur * _filtered(random.standard_normal(count), (80.0, 1200.0), rate_hz)
    times = np.arange(count) / rate_hz
    heard += 0.5 * murmur * np.sin(2 * np.pi * 121.0 * times)  # the launcher's motors
    for noise in noises(scene):
        start = round(heard_s(scene, noise) * rate_hz)
        band, dies_s = TIMBRES[noise.what]
        burst = _burst(random, band, dies_s, rate_hz)
        away = max(float(np.linalg.norm(np.subtract(noise.place_m, _ear(scene)))), 1.0)
        if 0 <= start < count:
            end = min(start + len(burst), count)
            heard[start:end] += noise.loud / away * burst[: end - start]
    return np.clip(heard, -1, 1).astype(np.float32)


def _ear(scene: Scene) -> tuple[float, float, float]:
    return scene.shooting.lens.position_m


def _filtered(samples: Array, band: tuple[float, float], rate_hz: int) -> Array:
    passed = sosfilt(butter(2, band, "bandpass", fs=rate_hz, output="sos"), samples)
    return passed / passed.std()


def _burst(
    random: np.random.Generator, band: tuple[float, float], dies_s: float, rate_hz: int
) -> Array:
    """Loud at once, then dying; its peak is 1."""
    count = round(8 * dies_s * rate_hz)
    fading = np.exp(-np.arange(count) / (dies_s * rate_hz))
    burst = _filtered(random.standard_normal(count), band, rate_hz) * fading
    return burst / np.abs(burst).max()
