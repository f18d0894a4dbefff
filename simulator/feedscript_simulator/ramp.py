"""A quantity that moves towards a target at a bounded rate: a wheel's speed, an axis's angle."""

from __future__ import annotations

import math

from msgspec import Struct


class Ramp(Struct):
    """Rates are in units a millisecond, both positive; the value is known in closed form.

    With a ``gain`` (units a millisecond squared) it begins and ends at rest and its speed changes
    no faster than that; told anew on its way, it begins anew from rest.
    """

    rate_up: float
    rate_down: float
    gain: float = 0.0  # 0: at its rate at once
    target: float = 0.0
    _start: float = 0.0
    _start_ms: float = 0.0

    def _rate(self) -> float:
        # A wheel that changes its direction of turning first slows down: treated as slowing.
        return self.rate_up if abs(self.target) > abs(self._start) else self.rate_down

    def value(self, now_ms: float) -> float:
        """Where it is."""
        way = self.target - self._start
        moved = self._moved(abs(way), max(0.0, now_ms - self._start_ms))
        return self.target if moved >= abs(way) else self._start + (moved if way > 0 else -moved)

    def _moved(self, way: float, passed_ms: float) -> float:
        """How far of a way it has come."""
        rate = self._rate()
        if self.gain <= 0 or way <= 0:
            return rate * passed_ms
        peak = min(rate, math.sqrt(self.gain * way))
        whole_ms, change_ms = way / peak + peak / self.gain, peak / self.gain
        if passed_ms >= whole_ms:
            return way
        if passed_ms < change_ms:
            return self.gain * passed_ms**2 / 2
        if passed_ms > whole_ms - change_ms:
            return way - self.gain * (whole_ms - passed_ms) ** 2 / 2
        return peak * (passed_ms - change_ms / 2)

    def move(self, target: float, now_ms: float) -> None:
        """From now on towards ``target``."""
        self._start, self._start_ms = self.value(now_ms), now_ms
        self.target = target

    def stand(self, value: float, now_ms: float) -> None:
        """It is there, at rest, and wants nothing else."""
        self._start, self._start_ms, self.target = value, now_ms, value

    def jolt(self, share: float, now_ms: float) -> None:
        """Lose this share of the value at once, and move back towards the target."""
        self._start, self._start_ms = self.value(now_ms) * (1 - share), now_ms

    def within_ms(self, tolerance: float) -> float:
        """The moment from which it is within ``tolerance`` of its target."""
        whole = abs(self.target - self._start)
        way = whole - tolerance
        rate = self._rate()
        if way <= 0:
            return self._start_ms
        if self.gain > 0:  # to its very end: what is left there is soon done
            peak = min(rate, math.sqrt(self.gain * whole))
            return self._start_ms + whole / peak + peak / self.gain
        return self._start_ms + way / rate if rate > 0 else float("inf")
