"""Where in a video the lesson begins: a rising tone played on court, found again in its sound.

The tone is a linear sweep ("chirp"); its sharp autocorrelation is what lets a matched filter find
it under voices and ball strikes (W. C. Knight, R. G. Pridham & S. M. Kay, "Digital signal
processing for sonar", Proc. IEEE 69, 1981, on replica correlation; cited from memory). The match
is judged by the correlation coefficient, 1 for the tone alone, which loudness does not change.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TypeAlias

import msgspec
import numpy as np

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.review.video.sound import Samples, Sound, opened_sound

TONE_S = 0.4
TONE_FROM_HZ = 1200.0
TONE_TO_HZ = 3600.0
#: Only this band is listened to.
_BAND_HZ = (1000.0, 4000.0)
#: A match of this coefficient is the tone: noise alone reaches about 0.14 in an hour (the
#: coefficient's deviation is 1 / sqrt(2 x 2,400 Hz x 0.4 s)), and the tone reaches this where it
#: is a tenth as strong as the noise in its band. Design value.
LEAST_MATCH = 0.3
#: The sound is thinned to no fewer samples a second than this before it is searched.
_LEAST_RATE_HZ = 11_000
_BLOCK_S = 20.0
#: Quieter than this (of full scale) in the band is silence.
_SILENCE = 1e-4
#: Tones of the sound and of the journal that lie no further apart are the same one; a page knows
#: the delay of its loudspeaker only roughly.
SAME_TONE_S = 0.1
#: The standard deviation of that. Design value.
TONE_ERROR_S = SAME_TONE_S / 3
#: Ordinary clocks of quartz keep within 100 parts in a million of one another (from memory); half
#: of it is taken for the standard deviation.
MOST_GAIN = 100e-6
USUAL_GAIN = MOST_GAIN / 2

SYNC_NOT_FOUND = Page(
    slug="sync-not-found",
    title="The sync tone does not say where the video begins",
    why=(
        "The cue marks line up with a video by a tone that was played while the camera ran, and "
        "that is looked for in the video's sound. Without it, or where it could be one of several, "
        "the marks would be a guess, so the offset is asked for instead."
    ),
)

NO_SYNC_TONE = Page(
    slug="no-sync-tone",
    title="The lesson holds no sync tone to line a video up with",
    why=(
        "Marks are placed in a video by a moment known to both: the sync tone, played from the "
        "page while the camera runs, or a ball, given by its place in the video."
    ),
)


def tone(rate_hz: int) -> Samples:
    """The sync tone, shape (n,): a linear sweep, faded in and out over a hundredth of a second."""
    t = np.arange(round(TONE_S * rate_hz)) / rate_hz
    phase = 2 * np.pi * (TONE_FROM_HZ * t + (TONE_TO_HZ - TONE_FROM_HZ) / (2 * TONE_S) * t**2)
    fade = np.minimum(1.0, np.minimum(t, TONE_S - t) / 0.01)
    return np.asarray(np.sin(phase) * np.clip(fade, 0.0, 1.0))


def tones_in(path: Path) -> tuple[float, ...]:
    """Where the tone begins in a WAV file, in seconds from its start; below 0 where it is cut.

    Raises FeedscriptError (``sound-unusable``, or ``sync-not-found`` when the tone is not in it).
    """
    with opened_sound(path, 2 * TONE_TO_HZ) as sound:
        found = _places(sound)
    if not found:
        raise _not_found(str(path), "no place in the sound matches the tone well enough")
    return tuple(at_s for at_s, _ in found)


def _places(sound: Sound) -> list[tuple[float, float]]:
    """Each tone's beginning and match, the best of any channel, in order."""
    thin = max(1, sound.rate_hz // _LEAST_RATE_HZ)
    rate_hz = sound.rate_hz / thin
    replica = _thinned(tone(sound.rate_hz)[None, :], thin)[0]
    reach = len(replica)
    half = np.zeros((1, reach // 2))  # so that a tone cut at either end is still seen
    size = round(_BLOCK_S * rate_hz)
    found: list[tuple[float, float]] = []
    waiting, begins = half, -half.shape[1]
    for block in sound.blocks(size * thin):
        samples = _thinned(block, thin)
        held = np.broadcast_to(waiting, (len(samples), waiting.shape[1]))
        waiting = np.concatenate([held, samples], axis=1)
        found += _peaks(waiting, replica, rate_hz, begins)
        kept = min(waiting.shape[1], reach - 1)
        begins += waiting.shape[1] - kept
        waiting = waiting[:, waiting.shape[1] - kept :]
    last = np.concatenate([waiting, np.zeros((len(waiting), reach // 2))], axis=1)
    found += _peaks(last, replica, rate_hz, begins)
    return _apart(found)


def _thinned(channels: Samples, thin: int) -> Samples:
    """Every ``thin`` samples averaged into one; what is left over at the end is dropped."""
    whole = channels.shape[1] // thin * thin
    return np.asarray(channels[:, :whole].reshape(len(channels), -1, thin).mean(axis=2))


def _peaks(
    channels: Samples, replica: Samples, rate_hz: float, begins: int
) -> list[tuple[float, float]]:
    """The best match around each place in these samples that matches well enough."""
    lags = channels.shape[1] - len(replica) + 1
    if lags < 1:
        return []
    match = np.max([_match(samples, replica, rate_hz)[:lags] for samples in channels], axis=0)
    places = np.flatnonzero(match >= LEAST_MATCH)
    return _apart([((begins + int(at)) / rate_hz, float(match[at])) for at in places])


def _match(samples: Samples, replica: Samples, rate_hz: float) -> Samples:
    """The correlation coefficient of the band with the replica at each lag."""
    size = 1 << (len(samples) + len(replica) - 1).bit_length()
    hz = np.fft.rfftfreq(size, 1 / rate_hz)
    band = (hz >= _BAND_HZ[0]) & (hz <= _BAND_HZ[1])
    heard = np.fft.rfft(samples, size) * band
    wanted = np.fft.rfft(replica, size) * band
    both = np.abs(np.fft.irfft(heard * np.conj(wanted), size)[: len(samples)])
    # What the band filter rings beyond the block's end is no part of it.
    quiet = np.fft.irfft(heard, size)[: len(samples)] ** 2
    power = np.concatenate([[0.0], np.cumsum(quiet)])
    power = power[len(replica) :] - power[: -len(replica)]
    energy = float(np.sum(np.fft.irfft(wanted, size) ** 2))
    loud = power > len(replica) * _SILENCE**2
    scale = np.sqrt(np.where(loud, power, 1.0) * energy)
    return np.asarray(np.where(loud, both[: len(power)] / scale, 0.0))


def _apart(found: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """The best of each crowd: one tone matches a little at many places around it."""
    chosen: list[tuple[float, float]] = []
    for at_s, match in sorted(found, key=lambda place: -place[1]):
        if all(abs(at_s - other) > TONE_S for other, _ in chosen):
            chosen.append((at_s, match))
    return sorted(chosen)


class VideoClock(msgspec.Struct, frozen=True):
    """Where a moment of the lesson lies in the video.

    The video begins at ``start_utc_s``, and its clock gains ``gain`` seconds in each second of the
    lesson's. ``tones`` were heard, at ``middle_s`` of the video on average; ``gain_error`` is how
    far the gain may still be off (one standard deviation).
    """

    start_utc_s: float
    gain: float = 0.0
    tones: int = 0
    middle_s: float = 0.0
    gain_error: float = 0.0

    def video_s(self, utc_s: float) -> float:
        """The place in the video."""
        return (utc_s - self.start_utc_s) * (1.0 + self.gain)

    def error_s(self, video_s: float) -> float:
        """How far a mark at this place of the video may be off, in 19 of 20 cases."""
        at_tones = TONE_ERROR_S**2 / max(1, self.tones)
        return 2.0 * math.hypot(math.sqrt(at_tones), self.gain_error * (video_s - self.middle_s))

    def words(self) -> str:
        """What the marks are worth, for whoever uses them."""
        near, far = self.error_s(self.middle_s), self.error_s(self.middle_s + 3600.0)
        if self.tones == 1:
            return (
                f"placed by one tone: within {near:.1f} s near it and {far:.1f} s an hour away, "
                "by which ordinary clocks differ; a second tone at the video's end settles that"
            )
        return (
            f"placed by {self.tones} tones: the video's clock gains {self.gain * 1e6:+.0f} parts "
            f"in a million; marks are within {near:.2f} s near the tones, {far:.2f} s an hour away"
        )


def video_clock(
    in_sound: Sequence[float], in_journal: Sequence[float], device: str, first: int | None = None
) -> VideoClock:
    """The video's clock by the tones heard (s of the video) and played (UTC).

    The camera may have missed some; ``first`` says which one played is the first one heard. Raises
    FeedscriptError where more than one way of laying them beside one another explains as many.
    """
    if not in_journal:
        raise FeedscriptError(
            NO_SYNC_TONE.report(
                "no sync tone was played in this lesson",
                help="give the first ball's place in the video instead: --offset '12.5 s'",
            )
        )
    anchors = [(p, h) for p in in_journal for h in in_sound]
    if first is not None:
        anchors = [(in_journal[first], in_sound[0])]
    ways = {_pairs(anchor, in_sound, in_journal) for anchor in anchors}
    most = max(map(len, ways))
    best = [way for way in ways if len(way) == most]
    clocks = [_fitted(way) for way in best]
    starts = [clock.start_utc_s for clock in clocks]
    if max(starts) - min(starts) > SAME_TONE_S:
        places = ", ".join(f"{heard:.1f} s" for heard in in_sound)
        raise _not_found(
            device,
            f"the lesson played {_count(in_journal)}, the sound holds {_count(in_sound)} "
            f"(at {places}), and which is which is open",
            "say which of the lesson's tones is the first in the sound (--tone 2)",
        )
    return clocks[0]


Pair: TypeAlias = tuple[float, float]  # played (UTC) and heard (s of the video)


def _pairs(
    anchor: Pair, in_sound: Sequence[float], in_journal: Sequence[float]
) -> tuple[Pair, ...]:
    """Each tone heard with the one played that it can be, if the anchor's two are one tone."""
    pairs = []
    for heard in in_sound:
        away_s = heard - anchor[1]
        near = min(in_journal, key=lambda played: abs(played - anchor[0] - away_s))
        if abs(near - anchor[0] - away_s) <= SAME_TONE_S + MOST_GAIN * abs(away_s):
            pairs.append((near, heard))
    return tuple(pairs)


def _fitted(pairs: Sequence[Pair]) -> VideoClock:
    """Offset and gain by least squares, the gain held to what clocks are known to do.

    Ridge regression, which is the mean of the posterior where the errors and the gain are normal
    (C. M. Bishop, "Pattern Recognition and Machine Learning", 2006, 3.3). So tones a minute apart,
    whose own error says more of the gain than the clocks do, leave it at nothing.
    """
    played, heard = (np.array(column) for column in zip(*pairs, strict=True))
    middle = heard.mean()
    late = (played - heard) - (played - heard).mean()  # by how much the lesson's clock is ahead
    away = heard - middle
    weight = float(away @ away) + (TONE_ERROR_S / USUAL_GAIN) ** 2
    slope = float(away @ late) / weight  # seconds of the lesson's clock more, in one of the video's
    start = float((played - heard).mean() - slope * middle)
    return VideoClock(
        start, 1.0 / (1.0 + slope) - 1.0, len(pairs), float(middle), TONE_ERROR_S / weight**0.5
    )


def _count(tones: Sequence[float]) -> str:
    return "1 tone" if len(tones) == 1 else f"{len(tones)} tones"


def _not_found(device: str, message: str, more: str = "") -> FeedscriptError:
    by_hand = "give the first ball's place in the video by hand: --offset '12.5 s'"
    return FeedscriptError(
        SYNC_NOT_FOUND.report(
            message, device=device, help=f"{more}, or {by_hand}" if more else by_hand
        )
    )
