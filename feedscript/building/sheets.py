"""All drawings for a profile and a build file, by the name of their file."""

from __future__ import annotations

from feedscript.building.build_file import Build
from feedscript.building.drawings.chute import chute_sheet
from feedscript.building.drawings.gate import gate_sheet
from feedscript.building.drawings.guard import guard_sheet
from feedscript.building.drawings.radio_circuit import radio_circuit_sheet
from feedscript.building.drawings.sensors import sensors_sheet
from feedscript.building.drawings.stop_circuit import stop_circuit_sheet
from feedscript.launcher.profile.drives import Air, Arm, Spring, TwoWheels, Valve
from feedscript.launcher.profile.model import Profile


def sheets(profile: Profile, build: Build) -> dict[str, str]:
    """SVG by file name; guard and sensors only where there are wheels, all of one size."""
    drawn = {
        "chute.svg": chute_sheet(profile, build),
        "gate.svg": gate_sheet(build),
        "radio-circuit.svg": radio_circuit_sheet(),
        "stop-circuit.svg": stop_circuit_sheet(),
    }
    drive = profile.drive
    unequal = isinstance(drive, TwoWheels) and bool(drive.bottom_wheel_diameter_m)
    if not (isinstance(drive, Air | Valve | Arm | Spring) or unequal):
        drawn["guard.svg"] = guard_sheet(drive, build)
        drawn["sensors.svg"] = sensors_sheet(profile, drive, build)
    return drawn
