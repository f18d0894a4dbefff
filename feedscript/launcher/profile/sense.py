"""Whether a profile's limits and its drive belong together."""

from __future__ import annotations

from collections.abc import Iterator

from feedscript.launcher import arm
from feedscript.launcher.envelope import across_range, speed_range, top_range
from feedscript.launcher.profile.drives import Arm, Range
from feedscript.launcher.profile.issue import ProfileIssue
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.pages import PROFILE_CONTRADICTION
from feedscript.tables import KeyPath

_SPEEDS = 25


def promises_broken(profile: Profile) -> list[ProfileIssue]:
    """A warning for each limit that promises more than the drive gives."""
    return [ProfileIssue(PROFILE_CONTRADICTION, *promise) for promise in _promises(profile)]


def _promises(profile: Profile) -> Iterator[tuple[KeyPath, str, str]]:
    drive, limits = profile.drive, profile.limits
    reach = speed_range(drive)
    yield from _wider(("limits", "speed_mps"), limits.speed_mps, reach, "m/s", "%.1f")
    speeds = [reach.least + (reach.most - reach.least) * k / (_SPEEDS - 1) for k in range(_SPEEDS)]
    tops = [found for speed in speeds if (found := top_range(drive, speed)) is not None]
    sides = [found for speed in speeds if (found := across_range(drive, speed)) is not None]
    yield from _wider(("limits", "spin_rpm"), limits.spin_rpm, _hull(tops), "rpm", "%.0f")
    yield from _wider(("limits", "side_rpm"), limits.side_rpm, _hull(sides), "rpm", "%.0f")
    if profile.sweep is not None and limits.azimuth_deg != Range(0.0, 0.0):
        yield (
            ("limits", "azimuth_deg"),
            "the launcher swings by itself, and azimuth_deg promises that it can be pointed",
            "write `azimuth_deg = [0.0, 0.0]`, or take the [sweep] out",
        )
    if isinstance(drive, Arm) and drive.arm_rpm.most > arm.fastest_rpm(drive):
        yield (
            ("drive", "arm_rpm"),
            f"the torque swings the arm to {arm.fastest_rpm(drive):.0f} rpm at most, "
            f"and the range goes to {drive.arm_rpm.most:.0f}",
            f"end the range at {arm.fastest_rpm(drive):.0f}, or fix torque, inertia or sweep",
        )


def _hull(ranges: list[Range]) -> Range:
    """From the least to the most of all; zero is always among it (no spin, or none at all)."""
    return Range(
        min([0.0, *(found.least for found in ranges)]),
        max([0.0, *(found.most for found in ranges)]),
    )


def _wider(
    path: KeyPath, promised: Range, given: Range, unit: str, digits: str
) -> Iterator[tuple[KeyPath, str, str]]:
    """Whether the promise sticks out by more than a hundredth of what is given."""
    slack = 0.01 * max(abs(given.least), abs(given.most)) + 1e-6
    if promised.least >= given.least - slack and promised.most <= given.most + slack:
        return
    ends = [digits % end for end in (promised.least, promised.most, given.least, given.most)]
    yield (
        path,
        f"{path[-1]} promises {ends[0]} to {ends[1]} {unit}; the drive gives {ends[2]} to "
        f"{ends[3]} {unit}",
        f"keep the limit inside [{ends[2]}, {ends[3]}], or fix the numbers of the drive",
    )
