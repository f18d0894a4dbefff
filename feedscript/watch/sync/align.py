"""A lesson's times laid beside the sudden sounds of a film.

Each event that is expected is either heard, near its time, or lost among sounds that come by
chance at the rate of all of them: the likelihood of a mixture, as for points in clutter (Y.
Bar-Shalom & T. E. Fortmann, "Tracking and Data Association", 1988, ch. 6; cited from memory). The
film's beginning and its clock's gain are those that make the sounds likeliest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.diagnostics import Diagnostic
from feedscript.watch.sync.pages import NOT_TOGETHER

Floats = NDArray[np.float64]

#: Ordinary clocks of quartz keep within 100 parts in a million of one another (from memory).
_MOST_GAIN = 100e-6
_GAIN_SD = _MOST_GAIN / 2
#: Starts are looked for in steps of so long, and the best of them are fitted.
_BIN_S, _FITTED = 0.02, 40
#: Starts that lie closer together are the same.
_SAME_S = 0.25
#: The one that is taken must be a thousand times as likely as any other, and as chance.
_SURELY = math.log(1000.0)
#: How far a person may be off who says where a ball leaves.
_SAID_WITHIN_S = 0.6


class Event(msgspec.Struct, frozen=True):
    """Something that should be heard: when it happens by the journal (UTC), how long its sound
    takes to the camera, how surely that is known, and how likely it is heard at all (0 to 1)."""

    at_utc_s: float
    takes_s: float
    sd_s: float
    share: float


class Clock(msgspec.Struct, frozen=True):
    """Where a moment of the lesson lies in the film, and how surely.

    ``of_s`` is the film's time at ``utc_s``, with the standard deviation ``sd_s``; from there the
    film's clock gains ``gain`` seconds a second, known to ``gain_sd``.
    """

    utc_s: float
    of_s: float
    sd_s: float
    gain: float
    gain_sd: float
    heard: int  # events that have a sound near them; by sight: balls that agree
    expected: int  # events within the film; by sight: balls that were looked for
    by: str = "sound"  # or "sight"

    def film_s(self, utc_s: float) -> float:
        """The film's time at a moment of the journal's."""
        return self.of_s + (utc_s - self.utc_s) * (1.0 + self.gain)

    def error_s(self, utc_s: float) -> float:
        """One standard deviation of that."""
        return math.hypot(self.sd_s, (utc_s - self.utc_s) * self.gain_sd)


class _Way(msgspec.Struct, frozen=True):
    clock: Clock
    merit: float  # logarithm of how much likelier the sounds are by it than by chance


class _Known(msgspec.Struct, frozen=True, eq=False):
    """Events as arrays, times from ``zero_utc_s`` on and as they reach the camera."""

    zero_utc_s: float
    at_s: Floats
    sd_s: Floats
    share: Floats
    sounds_s: Floats
    length_s: float

    @property
    def by_chance_hz(self) -> float:
        return (len(self.sounds_s) + 1) / self.length_s


def align(
    events: Sequence[Event],
    sounds_s: Floats,
    length_s: float,
    device: str,
    said: tuple[float, float] | None = None,
) -> Clock | Diagnostic:
    """The film's clock, by the sudden sounds, shape (n,), of a film so long.

    ``said``: a moment (UTC) and about where in the film a person says that it is. A diagnostic
    (``not-together``) where nothing agrees, or two starts do.
    """
    if not events:
        return _not_together("no ball of the lesson left", device)
    known = _known(events, sounds_s, length_s)
    ways = [_fitted(known, start_s) for start_s in _starts(known, said)]
    ways.sort(key=lambda way: -way.merit)
    chance = _SURELY + (0.0 if said else math.log(1 + length_s / _BIN_S))
    if not ways or ways[0].merit < chance:
        what = "too few of its sounds agree with the times of the lesson's balls to be sure of it"
        return _not_together(what, device)
    best = ways[0]
    for other in ways[1:]:
        apart_s = abs(other.clock.of_s - best.clock.film_s(other.clock.utc_s))
        if apart_s > _SAME_S and other.merit > best.merit - _SURELY:
            return _not_together(
                f"its sounds agree with the lesson in two ways, {apart_s:.1f} s apart", device
            )
    return best.clock


def _known(events: Sequence[Event], sounds_s: Floats, length_s: float) -> _Known:
    zero = min(one.at_utc_s for one in events)
    return _Known(
        zero,
        np.array([one.at_utc_s - zero + one.takes_s for one in events]),
        np.array([one.sd_s for one in events]),
        np.array([one.share for one in events]),
        np.sort(np.asarray(sounds_s, np.float64)),
        length_s,
    )


def _starts(known: _Known, said: tuple[float, float] | None) -> list[float]:
    """Where in the film the first event may be: the fullest of small steps, over several gains."""
    if not len(known.sounds_s):
        return []
    found: dict[int, float] = {}
    reach_s = float(np.ptp(known.at_s)) + 1.0
    steps = min(math.ceil(_MOST_GAIN * reach_s / _BIN_S), 20)
    for gain in np.linspace(-_MOST_GAIN, _MOST_GAIN, 2 * steps + 1):
        starts = (known.sounds_s[:, None] - known.at_s * (1 + gain)).ravel()
        if said is not None:
            about_s = said[1] - (said[0] - known.zero_utc_s)
            starts = starts[np.abs(starts - about_s) < _SAID_WITHIN_S]
        bins, counts = np.unique(np.round(starts / _BIN_S).astype(np.int64), return_counts=True)
        for one, count in zip(bins.tolist(), counts.tolist(), strict=True):
            found[one] = max(found.get(one, 0.0), count)
    full = {one: sum(found.get(one + k, 0.0) for k in (-1, 0, 1)) for one in found}
    best = sorted(full, key=lambda one: -full[one])[: 5 * _FITTED]
    apart: list[int] = []
    for one in best:
        if all(abs(one - other) > 2 for other in apart):
            apart.append(one)
    return [one * _BIN_S for one in apart[:_FITTED]]


def _fitted(known: _Known, start_s: float) -> _Way:
    """Start and gain by least squares over the sounds near by, each as likely as it is the one."""
    middle_s = float(known.at_s.mean())
    of_s, gain = start_s + middle_s, 0.0
    spread = np.diag([1.0, _GAIN_SD**2])
    for round_ in range(8):
        wide = 2.0 if round_ < 3 else 1.0
        left, likely, _ = _nearest(known, of_s, gain, middle_s, wide)
        weight = likely / known.sd_s**2
        columns = np.column_stack([np.ones(len(left)), known.at_s - middle_s])
        pull = (columns * weight[:, None]).T @ columns + np.diag([1e-6, _GAIN_SD**-2])
        push = (columns * weight[:, None]).T @ left - np.array([0.0, gain * _GAIN_SD**-2])
        change = np.linalg.solve(pull, push)
        of_s, gain = of_s + float(change[0]), gain + float(change[1])
        spread = np.linalg.inv(pull)
    _, likely, merit = _nearest(known, of_s, gain, middle_s, 1.0)
    inside = _inside(known, of_s, gain, middle_s)
    clock = Clock(
        utc_s=known.zero_utc_s + middle_s,
        of_s=of_s,
        sd_s=float(np.sqrt(spread[0, 0])),
        gain=gain,
        gain_sd=float(np.sqrt(spread[1, 1])),
        heard=int((likely > 0.5).sum()),
        expected=int(inside.sum()),
    )
    return _Way(clock, merit)


def _inside(known: _Known, of_s: float, gain: float, middle_s: float) -> NDArray[np.bool_]:
    film_s = of_s + (known.at_s - middle_s) * (1 + gain)
    return np.asarray((film_s >= 0) & (film_s <= known.length_s))


def _nearest(
    known: _Known, of_s: float, gain: float, middle_s: float, wide: float
) -> tuple[Floats, Floats, float]:
    """Of each event how far the nearest sound is off, and how likely that is its own; and how much
    likelier, as a logarithm, all of it is than by chance."""
    film_s = of_s + (known.at_s - middle_s) * (1 + gain)
    after = np.clip(np.searchsorted(known.sounds_s, film_s), 1, max(len(known.sounds_s) - 1, 1))
    both = np.stack([after - 1, np.minimum(after, len(known.sounds_s) - 1)])
    off = known.sounds_s[both] - film_s
    left = off[np.abs(off).argmin(0), np.arange(len(film_s))]
    sd = known.sd_s * wide
    bell = np.exp(-0.5 * (left / sd) ** 2) / (sd * math.sqrt(2 * math.pi))
    own = known.share * bell / known.by_chance_hz
    inside = _inside(known, of_s, gain, middle_s)
    likely = np.where(inside, own / (own + 1 - known.share), 0.0)
    merit = float(np.log(own + 1 - known.share)[inside].sum())
    return left, likely, merit


def _not_together(message: str, device: str) -> Diagnostic:
    return NOT_TOGETHER.report(
        message,
        device=device,
        help="say where the first ball leaves: --offset '12.5 s' (with --at-ball another one)",
    )
