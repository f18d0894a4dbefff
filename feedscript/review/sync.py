"""Where in a video the lesson begins: a rising tone played on court, found again in its sound.

The tone is a linear sweep ("chirp"); its sharp autocorrelation is what lets a matched filter find
it under voices and ball strikes (W. C. Knight, R. G. Pridham & S. M. Kay, "Digital signal
processing for sonar", Proc. IEEE 69, 1981, on replica correlation; cited from memory). The match
is judged by the correlation coefficient, 1 for the tone alone, which loudness does not change.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.review.sound import Samples, Sound, opened_sound

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


def video_start(in_sound: Sequence[float], in_journal: Sequence[float], device: str) -> float:
    """The moment (UTC) at which the video begins, by the tones heard and the tones played.

    The camera may have missed some. Raises FeedscriptError where more than one way of laying them
    beside one another explains as many tones.
    """
    if not in_journal:
        raise FeedscriptError(
            NO_SYNC_TONE.report(
                "no sync tone was played in this lesson",
                help="give the first ball's place in the video instead: --offset '12.5 s'",
            )
        )
    starts = sorted(played - heard for played in in_journal for heard in in_sound)
    fits = [(_explained(start, in_sound, in_journal), start) for start in starts]
    most = max(count for count, _ in fits)
    best = [start for count, start in fits if count == most]
    if best[-1] - best[0] > SAME_TONE_S:
        places = ", ".join(f"{heard:.1f} s" for heard in in_sound)
        raise _not_found(
            device,
            f"the lesson played {_count(in_journal)}, the sound holds {_count(in_sound)} "
            f"(at {places}), and which is which is open",
            "say which of the lesson's tones the sound holds (--tone 2)",
        )
    return sum(best) / len(best)


def _explained(start: float, in_sound: Sequence[float], in_journal: Sequence[float]) -> int:
    return sum(
        any(abs(played - start - heard) <= SAME_TONE_S for played in in_journal)
        for heard in in_sound
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
