"""Whether a launcher can make a throw at all: every limit of its profile at once."""

from __future__ import annotations

from feedscript.launcher.kinematics import drive_range, setting_for
from feedscript.launcher.profile.drives import Range, TwoWheels
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw, signed_spin_rpm


def able(profile: Profile, throw: Throw, facing_deg: float = 0.0) -> bool:
    """Whether there is a setting for the throw, and no limit that the throw or it is past."""
    setting = setting_for(profile, throw, facing_deg)
    if not isinstance(setting, Setting):
        return False
    limits, drives = profile.limits, drive_range(profile.drive)
    rolls = profile.drive.roll_deg if isinstance(profile.drive, TwoWheels) else Range(0.0, 0.0)
    return (
        limits.speed_mps.holds(throw.speed_mps)
        and limits.spin_rpm.holds(signed_spin_rpm(throw.top_rpm, throw.side_rpm))
        and limits.side_rpm.holds(throw.side_rpm)
        and limits.elevation_deg.holds(throw.elevation_deg)
        and limits.azimuth_deg.holds(setting.pan_deg)
        and rolls.holds(setting.roll_deg)
        and all(drives.holds(drive) for drive in setting.drives)
    )
