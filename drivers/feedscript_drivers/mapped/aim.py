"""Where a mapped device points, as far as the host can know: it is told nothing back.

The host knows what it asked for, what was acknowledged, and from the profile how long the parts
need. While they move the device may be anywhere between where it was and where it goes.
"""

from __future__ import annotations

import math

from msgspec import Struct

from feedscript.launcher.change import moving_s
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting


class Aim(Struct):
    """Moments are of the host's clock. ``for_feed`` is 0 while it is set for no feed."""

    profile: Profile
    for_feed: int = 0
    ready_s: float = math.inf
    _target: Setting | None = None
    _sound: bool = False  # nothing spoke against what was acknowledged
    _between: tuple[Setting | None, ...] = (None,)  # None: at rest

    def begin(self, setting: Setting, now_s: float) -> None:
        """The parts of this setting are told to the device from now on."""
        if now_s >= self.ready_s:
            self._between = (self._target,)
        self._may_be_at(setting)
        self.doubt()
        self._target, self._sound = setting, True

    def told(self, feed_id: int, now_s: float) -> None:
        """The device has acknowledged every part; it is there when the slowest has arrived."""
        if self._target is None or not self._sound:
            return
        ways = [moving_s(self.profile, before, self._target) for before in self._between]
        self.for_feed, self.ready_s = feed_id, now_s + max(ways)

    def spent(self) -> None:
        """The feed that it was set for is over: each is set for anew."""
        self.for_feed = 0

    def doubt(self) -> None:
        """What was acknowledged may not have been done."""
        self.for_feed, self.ready_s, self._sound = 0, math.inf, False

    def stopped(self) -> None:
        """The drives run down."""
        self._may_be_at(None)
        self.doubt()

    def _may_be_at(self, setting: Setting | None) -> None:
        if setting not in self._between:
            self._between = (*self._between, setting)
