"""Sudden sounds in a film: a launcher's thump, a bounce, a racket, a clap, a door.

What made a sound is not told apart here; which of them are the lesson's is seen from their times.
An onset is where the power of a short while rises well over what it was before (J. P. Bello and
others, "A tutorial on onset detection in music signals", IEEE Trans. Speech Audio Process. 13,
2005, section III: reduction to an energy envelope; cited from memory).
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, median_filter
from scipy.signal import butter, sosfilt, sosfilt_zi

from feedscript.watch.frames.sound import Sound

Floats = NDArray[np.float64]

#: Voices and wind lie lower for the most part, and phones save little above.
_BAND_HZ = (150.0, 5000.0)
_HOP_S = 0.002
#: The power of so long is set against the middle of so long around it.
_USUAL_S = 0.8
#: A sound is sudden where it is so many times as strong (in power), within so short a time.
_TIMES, _RISE_S = 8.0, 0.012
#: Sounds that follow sooner are the same one's echo.
_APART_S = 0.08


def sudden(blocks: Iterable[Sound]) -> Floats:
    """When sudden sounds begin, seconds of the film, in order; eight bytes a hop are held."""
    powers, start_s, hop_s = _powers(blocks)
    if not len(powers):
        return np.empty(0)
    usual = median_filter(powers, round(_USUAL_S / _HOP_S) | 1, mode="nearest")
    before = np.concatenate([np.full(_hops(_RISE_S), powers[0]), powers])[: len(powers)]
    floor = np.maximum(usual, np.maximum(before, 1e-10))
    rise = powers / floor
    best = rise == maximum_filter1d(rise, 2 * _hops(_APART_S) + 1, mode="nearest")
    peaks = np.flatnonzero(best & (rise > _TIMES))
    return np.asarray(
        [start_s + hop_s * _begins(powers, floor, int(at)) for at in peaks], np.float64
    )


def _hops(seconds: float) -> int:
    return max(round(seconds / _HOP_S), 1)


def _begins(powers: Floats, floor: Floats, at: int) -> int:
    """Back from where it rises most to the first hop that is over the usual."""
    first = at
    while first > max(at - _hops(_RISE_S), 0) and powers[first - 1] > 2 * floor[at]:
        first -= 1
    return first


def _powers(blocks: Iterable[Sound]) -> tuple[Floats, float, float]:
    """The band's mean power of each hop, when the first of them begins, and how long each is: whole
    samples, so that they stay with the sound's clock at any rate."""
    parts: list[Floats] = []
    rest, filtered, start_s, hop_s = np.empty(0), None, 0.0, _HOP_S
    for block in blocks:
        samples = block.samples.astype(np.float64)
        if filtered is None:
            start_s = block.start_s
            hop = max(round(_HOP_S * block.rate_hz), 1)
            hop_s = hop / block.rate_hz
            top = min(_BAND_HZ[1], 0.45 * block.rate_hz)
            filtered = butter(2, (_BAND_HZ[0], top), "bandpass", fs=block.rate_hz, output="sos")
            state = sosfilt_zi(filtered) * 0.0
        passed, state = sosfilt(filtered, samples, zi=state)
        rest = np.concatenate([rest, passed**2])
        whole = len(rest) // hop * hop
        parts.append(rest[:whole].reshape(-1, hop).mean(1))
        rest = rest[whole:]
    return np.concatenate(parts) if parts else np.empty(0), start_s, hop_s
