"""The moving parts: drives with inertia, three axes at bounded rates, what a ball takes out.

Everything is known in closed form between commands, so that no time step is needed: an hour of a
lesson costs only what happens in it. What it leaves out is listed in the package's documentation.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from feedscript_drivers.wire.protocol import Times
from msgspec import Struct

from feedscript.launcher.change import recovers_s, wheel_rates
from feedscript.launcher.profile.drives import (
    Air,
    Arm,
    OneWheel,
    Spring,
    ThreeWheels,
    TwoWheels,
    Valve,
)
from feedscript.launcher.profile.model import Profile, Sweep
from feedscript_simulator.homing import Home, homes_of
from feedscript_simulator.ramp import Ramp

Fields = tuple[int, int, int, int, int, int]  # three drives, then pan, tilt, roll in hundredths

_ARRIVED_CDEG = 5.0
_COAST_SHARE = 0.2  # of the powered rate: friction alone slows a drive this much


class Rates(Struct, frozen=True):
    """How fast the parts of one launcher move, and how long a drive recovers from a ball."""

    up_per_s: float
    down_per_s: float
    recovery_s: Callable[[float], float]  # of the drive's value
    pan_cdeg_s: float
    tilt_cdeg_s: float
    roll_cdeg_s: float
    pan_cdeg_s2: float = 0.0  # 0: at its rate at once
    tilt_cdeg_s2: float = 0.0
    sweep: Sweep | None = None  # by itself, from side to side
    homes: tuple[Home | None, Home | None] = (None, None)  # of pan and tilt on stepping motors


def rates_of(profile: Profile) -> Rates:
    """The rates that the profile states; the planner reckons with the same."""
    drive, limits = profile.drive, profile.limits
    match drive:
        case TwoWheels() | ThreeWheels() | OneWheel():
            up, down = wheel_rates(drive.response)
        case Air():
            up, down = drive.fill_hpa_per_s, drive.vent_hpa_per_s
        case Spring():
            # Let go it stands at nothing, whatever it was drawn to; letting out is as slow.
            up = down = drive.draw_rate_mmps
        case Valve():
            # What comes back after a ball is the tank's pressure, in place of the opening; whatever
            # the opening was, within the time that the profile states.
            up, down = drive.table[-1][0] / max(drive.refill_s, 0.001), 1e6
        case Arm():
            # An arm swings only as it throws; between throws it is set, not turning.
            up = down = 1e6
    return Rates(
        up_per_s=up,
        down_per_s=down,
        recovery_s=partial(recovers_s, drive),
        pan_cdeg_s=limits.azimuth_rate_dps * 100,
        tilt_cdeg_s=limits.elevation_rate_dps * 100,
        pan_cdeg_s2=limits.azimuth_gain_dps2 * 100,
        tilt_cdeg_s2=limits.elevation_gain_dps2 * 100,
        sweep=profile.sweep,
        homes=homes_of(profile),
        roll_cdeg_s=drive.roll_rate_dps * 100 if isinstance(drive, TwoWheels) else 1e6,
    )


class Plant:
    """The parts at work. Times in ms of the launcher's clock, drives in their own unit."""

    def __init__(self, rates: Rates, settled: float) -> None:
        self.rates = rates
        self.settled = settled
        self.drives = [Ramp(rates.up_per_s / 1000, rates.down_per_s / 1000) for _ in range(3)]
        speeds = (rates.pan_cdeg_s, rates.tilt_cdeg_s, rates.roll_cdeg_s)
        gains = (rates.pan_cdeg_s2, rates.tilt_cdeg_s2, 0.0)
        self.axes = [
            Ramp(speed / 1000, speed / 1000, gain / 1e6)
            for speed, gain in zip(speeds, gains, strict=True)
        ]
        for home, axis in zip(rates.homes, self.axes, strict=False):
            if home is not None:
                axis.stand(home.found_cdeg, 0.0)
        self.powered_until_ms: float | None = 0.0  # None: powered until told otherwise
        self._ready_ms: float | None = None  # until something is told to move, or is jolted

    def aim(self, fields: Fields, now_ms: float) -> None:
        """Move towards a setting, drives powered."""
        self.powered_until_ms = self._ready_ms = None
        parts = self.drives + self.axes
        for ramp, target in zip(parts, fields, strict=True):
            if ramp.target != target:
                ramp.move(float(target), now_ms)
        for drive in self.drives:
            drive.rate_down = self.rates.down_per_s / 1000

    def homed_ms(self, now_ms: float) -> float | None:
        """The moment at which axes that begin now to look for their home have found it; None where
        none looks for one."""
        found = [
            home.found_after_ms(axis.value(now_ms))
            for home, axis in zip(self.rates.homes, self.axes, strict=False)
            if home is not None
        ]
        return now_ms + max(found) if found else None

    def stand_at_home(self, now_ms: float) -> None:
        """They have found it, and stand there."""
        self._ready_ms = None
        for home, axis in zip(self.rates.homes, self.axes, strict=False):
            if home is not None:
                axis.stand(home.edge_cdeg, now_ms)

    def ready_ms(self) -> float:
        """The moment from which every part is where it was asked to be."""
        if self._ready_ms is None:
            drives = [drive.within_ms(self.settled) for drive in self.drives]
            axes = [axis.within_ms(_ARRIVED_CDEG) for axis in self.axes]
            self._ready_ms = max(drives + axes)
        return self._ready_ms

    def run_down(self, now_ms: float) -> float:
        """Brake the drives, then take their power away; the moment at which that is done."""
        self._ready_ms = None
        for drive in self.drives:
            drive.move(0.0, now_ms)
        standing = max(drive.within_ms(0.5) for drive in self.drives)
        self.powered_until_ms = min(standing, now_ms + Times.RUN_DOWN)
        return self.powered_until_ms

    def power_off(self, now_ms: float) -> None:
        """Take the drives' power away; they coast."""
        self.powered_until_ms, self._ready_ms = now_ms, None
        for drive in self.drives:
            drive.rate_down = self.rates.down_per_s / 1000 * _COAST_SHARE
            drive.move(0.0, now_ms)

    def powered(self, now_ms: float) -> bool:
        """Whether any drive has power."""
        until = self.powered_until_ms
        if until is None:
            return any(drive.target for drive in self.drives)
        return now_ms < until

    def measured(self, now_ms: float) -> tuple[int, int, int]:
        """What the drives' sensors read."""
        first, second, third = (round(drive.value(now_ms)) for drive in self.drives)
        return first, second, third

    def pose(self, now_ms: float) -> tuple[int, int, int]:
        """Where it points: pan, tilt, roll in hundredths of a degree."""
        pan, tilt, roll = (round(axis.value(now_ms)) for axis in self.axes)
        return pan + self._swung_cdeg(now_ms), tilt, roll

    def _swung_cdeg(self, now_ms: float) -> int:
        """How far a head that swings by itself is from straight ahead: to and fro evenly."""
        if self.rates.sweep is None:
            return 0
        band, period_ms = self.rates.sweep.band_deg, self.rates.sweep.period_s * 1000
        share = now_ms / period_ms % 1.0
        turn_deg = band.least + (band.most - band.least) * (1 - abs(2 * share - 1))
        return round(turn_deg * 100)

    def ball_passed(self, now_ms: float) -> None:
        """A ball takes what the drives need the stated time to make good."""
        self._ready_ms = None
        for drive in self.drives:
            value = abs(drive.value(now_ms))
            lost = min(value, self.rates.recovery_s(value) * self.rates.up_per_s)
            if value > 0:
                drive.jolt(lost / value, now_ms)
