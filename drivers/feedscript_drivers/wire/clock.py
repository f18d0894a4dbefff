"""The launcher's clock seen from the host: offset, uncertainty and drift from round trips.

A round trip that left at t0 and was back at t1 bounds the moment at which the launcher read its
clock, so ``offset = device - (t0 + t1) / 2`` within ``(t1 - t0) / 2`` (Cristian 1989, Probabilistic
clock synchronization, Distributed Computing 3:146-158). The shortest trips bound it best.
"""

from __future__ import annotations

from collections import deque

from msgspec import Struct, field

from feedscript.launcher.port import ClockReading

_WRAP = 2**32
_RESOLUTION_S = 0.0005  # a clock that counts whole milliseconds is known to half of one
_WINDOW = 32
_STEADY = 1e-3  # no clock that works drifts as fast
_JUMP_S = 0.05  # less is no jump
_DRIFT_SPAN_S = 20.0  # drift from a shorter stretch would be mostly noise


class Sample(Struct, frozen=True):
    """One round trip: the host's middle moment, the offset there, and half the trip."""

    host_s: float
    offset_s: float
    half_trip_s: float


def _contradicts(sample: Sample, before: Sample) -> bool:
    """Whether one of the two clocks stood still in between, as a suspended host's does."""
    doubt_s = sample.half_trip_s + before.half_trip_s + _STEADY * (sample.host_s - before.host_s)
    return abs(sample.offset_s - before.offset_s) > doubt_s + _JUMP_S


class DeviceClock(Struct):
    """Turns the 32-bit millisecond clock into seconds and keeps its relation to the host's."""

    _turns: int = 0
    _last_ms: int = 0
    _recent: deque[Sample] = field(default_factory=lambda: deque(maxlen=_WINDOW))
    _anchor: Sample | None = None

    def seconds(self, ms: int) -> float:
        """The launcher's clock in seconds, wraps counted; for moments near the last one seen."""
        nearest = round((self._turns * _WRAP + self._last_ms - ms) / _WRAP)
        return (nearest * _WRAP + ms) / 1000

    def see(self, ms: int) -> None:
        """Note a reading that came in order, so that wraps are noticed."""
        total = round(self.seconds(ms) * 1000)
        self._turns, self._last_ms = divmod(total, _WRAP)

    @staticmethod
    def milliseconds(device_s: float) -> int:
        """A moment as the wire carries it."""
        return round(device_s * 1000) % _WRAP

    def round_trip(self, sent_s: float, heard_s: float, ms: int) -> None:
        """Learn from one round trip that read the clock at ``ms``."""
        self.see(ms)
        middle = (sent_s + heard_s) / 2
        half = (heard_s - sent_s) / 2
        sample = Sample(middle, self.seconds(ms) + _RESOLUTION_S - middle, half)
        if self._recent and _contradicts(sample, self._recent[-1]):
            self._recent.clear()
            self._anchor = None
        self._recent.append(sample)
        if self._anchor is None or (
            middle - self._anchor.host_s < _DRIFT_SPAN_S and half < self._anchor.half_trip_s
        ):
            self._anchor = sample

    def age_s(self, now_s: float) -> float:
        """How old the newest sample is."""
        return now_s - self._recent[-1].host_s if self._recent else float("inf")

    def samples(self) -> int:
        return len(self._recent)

    def measured(self, now_s: float) -> ClockReading:
        """The best bound on the offset at ``now_s``. At least one round trip must be known."""
        drift = self._drift()
        worst_drift = 100e-6 if drift is None else 5e-6  # a resonator's tolerance until measured

        def doubt(sample: Sample) -> float:
            return sample.half_trip_s + worst_drift * (now_s - sample.host_s)

        best = min(self._recent, key=doubt)
        return ClockReading(
            offset_s=best.offset_s + (drift or 0.0) * (now_s - best.host_s),
            uncertainty_s=doubt(best) + _RESOLUTION_S,
            drift_ppm=(drift or 0.0) * 1e6,
        )

    def _drift(self) -> float | None:
        if self._anchor is None or len(self._recent) < 4:
            return None
        best = min(self._recent, key=lambda sample: sample.half_trip_s)
        span = best.host_s - self._anchor.host_s
        if span < _DRIFT_SPAN_S:
            return None
        return (best.offset_s - self._anchor.offset_s) / span
