"""The time of day of a lesson, which goes on while the computer is suspended.

The clock that everything is scheduled by (``anyio.current_time``) stands still while a laptop
sleeps; the launchers' clocks and the time of day do not. Linux has a clock beside it that counts
the sleep (CLOCK_BOOTTIME, clock_gettime(2)), macOS one that does not (CLOCK_UPTIME_RAW; from
memory, not tried). On Windows the first goes on too (time.monotonic, Python's manual), and a
suspension is not noticed.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import msgspec

#: A shorter gap between two clocks is no suspension: they are read one after the other. Design
#: value; no computer sleeps and wakes within it.
SHORTEST_S = 0.3


def suspended_s() -> float:
    """For how long this computer was suspended in all, as far as its clocks tell."""
    if sys.platform == "win32":
        return 0.0
    with_sleep = getattr(time, "CLOCK_BOOTTIME", None)
    without = getattr(time, "CLOCK_UPTIME_RAW", None)
    if with_sleep is not None:
        return time.clock_gettime(with_sleep) - time.clock_gettime(time.CLOCK_MONOTONIC)
    if without is not None:
        return time.clock_gettime(time.CLOCK_MONOTONIC) - time.clock_gettime(without)
    return 0.0


def elapsed_s() -> float:
    """Seconds that only rise, those of a suspension among them."""
    return time.monotonic() + suspended_s()


def never() -> float:
    """What a clock tells that nobody puts to sleep."""
    return 0.0


class WallClock(msgspec.Struct, eq=False):
    """Host time (``anyio.current_time``) to UTC. ``asleep_s`` tells how long the host was suspended
    in all; ``naps`` are the suspensions since the beginning: when one was noticed, how long."""

    utc_s: float
    host_s: float
    asleep_s: Callable[[], float] = never
    naps: list[tuple[float, float]] = []
    _known_s: float = 0.0

    def __post_init__(self) -> None:
        self._known_s = self.asleep_s()

    def notice(self, now_s: float) -> float:
        """How long the computer slept since it was last asked; 0 where it did not."""
        nap_s = self.asleep_s() - self._known_s
        if nap_s < SHORTEST_S:
            return 0.0
        self._known_s += nap_s
        self.naps.append((now_s, nap_s))
        return nap_s

    def utc(self, host_s: float) -> float:
        slept_s = sum(nap_s for noticed_s, nap_s in self.naps if noticed_s <= host_s)
        return self.utc_s + host_s - self.host_s + slept_s

    def host(self, utc_s: float) -> float:
        """The moment of the host's clock; of one in its sleep, the moment it fell asleep."""
        host_s = self.host_s + utc_s - self.utc_s
        for noticed_s, nap_s in self.naps:
            if host_s > noticed_s:
                host_s = max(noticed_s, host_s - nap_s)
        return host_s
