"""Axes on stepping motors look for their home between the person's act and *armed*.

A profile says by its gain or its step that such a motor leads an axis. What else that takes stands
in a board's own file, of which a stand-in has none: the home sensor's edge lies straight ahead, or
at the end of the range that is nearest to it; each stop is a degree behind the range's end, and the
axis starts at a quarter of its rate (design values). When the power comes it stands at the end of
its range that is furthest from home: nobody knows where hands have left it. The way is the
firmware's: out of the covered side, back into it, then step by step to the edge.
"""

from __future__ import annotations

from typing import Final

from msgspec import Struct

from feedscript.launcher.profile.drives import Range
from feedscript.launcher.profile.model import Profile

_START_SHARE: Final = 0.25
_BEHIND_CDEG: Final = 100.0
_STEP_CDEG: Final = 4.5  # where the profile says none: 8,000 a turn
_LOOK_MS: Final = 20.0  # from one look at the sensor to the next
_SETTLE_MS: Final = 100.0


class Home(Struct, frozen=True):
    """Where one axis finds its home, and how it goes there. Angles in hundredths of a degree."""

    edge_cdeg: float
    found_cdeg: float  # where the power that comes finds it
    travel_cdeg: float
    start_cdeg_s: float
    step_cdeg: float

    def found_after_ms(self, at_cdeg: float) -> float:
        """How long it looks, from where it stands."""
        beyond = abs(at_cdeg - self.edge_cdeg)
        return self._on_its_way_ms(beyond) + self._creeping_ms()

    def longest_ms(self) -> float:
        """The most that it may take, found or not: the whole travel out, and all of it back."""
        return 2 * self._on_its_way_ms(self.travel_cdeg) + self._creeping_ms()

    def _on_its_way_ms(self, way_cdeg: float) -> float:
        return way_cdeg / self.start_cdeg_s * 1000 + 2 * _LOOK_MS

    def _creeping_ms(self) -> float:
        """The last stride went past the edge by as much as its own length; then it settles."""
        steps = self.start_cdeg_s * _LOOK_MS / 1000 / self.step_cdeg
        return (steps + 2) * _LOOK_MS + _SETTLE_MS


def homes_of(profile: Profile) -> tuple[Home | None, Home | None]:
    """Those of pan and tilt; None where a servo leads, which has none."""
    limits = profile.limits
    pan = (limits.azimuth_deg, limits.azimuth_rate_dps)
    tilt = (limits.elevation_deg, limits.elevation_rate_dps)
    return (
        _home(*pan, limits.azimuth_gain_dps2, limits.azimuth_step_deg),
        _home(*tilt, limits.elevation_gain_dps2, limits.elevation_step_deg),
    )


def _home(ends: Range, rate_dps: float, gain_dps2: float, step_deg: float) -> Home | None:
    if gain_dps2 <= 0 and step_deg <= 0:
        return None
    edge_deg = min(max(0.0, ends.least), ends.most)
    return Home(
        edge_cdeg=edge_deg * 100,
        found_cdeg=max(ends.least, ends.most, key=lambda end: abs(end - edge_deg)) * 100,
        travel_cdeg=(ends.most - ends.least) * 100 + 2 * _BEHIND_CDEG,
        start_cdeg_s=rate_dps * 100 * _START_SHARE,
        step_cdeg=step_deg * 100 if step_deg > 0 else _STEP_CDEG,
    )
