"""A quantity that moves towards a target at a bounded rate: a wheel's speed, an axis's angle."""

from __future__ import annotations

from msgspec import Struct


class Ramp(Struct):
    """Rates are in units a millisecond, both positive; the value is known in closed form."""

    rate_up: float
    rate_down: float
    target: float = 0.0
    _start: float = 0.0
    _start_ms: float = 0.0

    def _rate(self) -> float:
        # A wheel that changes its direction of turning first slows down: treated as slowing.
        return self.rate_up if abs(self.target) > abs(self._start) else self.rate_down

    def value(self, now_ms: float) -> float:
        """Where it is."""
        way = self.target - self._start
        moved = self._rate() * max(0.0, now_ms - self._start_ms)
        return self.target if moved >= abs(way) else self._start + (moved if way > 0 else -moved)

    def move(self, target: float, now_ms: float) -> None:
        """From now on towards ``target``."""
        self._start, self._start_ms = self.value(now_ms), now_ms
        self.target = target

    def jolt(self, share: float, now_ms: float) -> None:
        """Lose this share of the value at once, and move back towards the target."""
        self._start, self._start_ms = self.value(now_ms) * (1 - share), now_ms

    def within_ms(self, tolerance: float) -> float:
        """The moment from which it is within ``tolerance`` of its target."""
        way = abs(self.target - self._start) - tolerance
        rate = self._rate()
        if way <= 0:
            return self._start_ms
        return self._start_ms + way / rate if rate > 0 else float("inf")
