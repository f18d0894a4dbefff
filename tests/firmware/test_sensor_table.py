"""Which tables of sensors suffice for a launcher to throw, and what it says that it has."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from tests.firmware.far_end import FIRMWARE

BALL, TWO_BALLS = "{SENSES_BALL,0u},", "{SENSES_BALL,0u},{SENSES_BALL,1u},"
WHEELS = "{SENSES_WHEEL,0u},{SENSES_WHEEL,1u},"
TANK, SUPPLY = "{SENSES_TANK,0u},", "{SENSES_SUPPLY,0u},"
HOT = "{SENSES_TEMPERATURE,4u},{SENSES_TEMPERATURE,7u},"
PAN, TILT = "{SENSES_HOME,0u},", "{SENSES_HOME,1u},"
#: A launcher's build, its table; and whether it may throw.
TABLES = {
    "nothing": ("", "", False),
    "two wheels": ("", BALL + WHEELS, True),
    "in any order": ("", WHEELS + BALL, True),
    "no ball sensor": ("", WHEELS, False),
    "one of two wheels": ("", BALL + "{SENSES_WHEEL,1u},", False),
    "a wheel twice": ("", BALL + "{SENSES_WHEEL,0u},{SENSES_WHEEL,0u},", False),
    "one wheel": ("-DWHEELS=1u", BALL + "{SENSES_WHEEL,0u},", True),
    "three wheels": ("-DWHEELS=3u", BALL + WHEELS + "{SENSES_WHEEL,2u},", True),
    "two of three wheels": ("-DWHEELS=3u", BALL + WHEELS, False),
    "two ball sensors": ("-DSENSORS=2u", TWO_BALLS + WHEELS, True),
    "one of two ball sensors": ("-DSENSORS=2u", BALL + WHEELS, False),
    "air": ("-DVALVE=1u", BALL + TANK, True),
    "air of unknown pressure": ("-DVALVE=1u", BALL + WHEELS, False),
    "tilt finds home": ("-DSTEPPERS=2u", BALL + WHEELS + TILT, True),
    "tilt has pan's sensor": ("-DSTEPPERS=2u", BALL + WHEELS + PAN, False),
    "both find home": ("-DSTEPPERS=3u", BALL + WHEELS + TILT + PAN, True),
    "one of two finds home": ("-DSTEPPERS=3u", BALL + WHEELS + TILT, False),
    "everything": ("", BALL + WHEELS + SUPPLY + HOT, True),
}


def told_of(build: str, table: str, folder: Path) -> list[str]:
    """Whether it suffices, capabilities, supply and temperature."""
    program = folder / "suffice"
    core = FIRMWARE / "core"
    subprocess.run(
        ["gcc", "-std=gnu11", "-Wall", "-Werror", f"-I{core}", f"-DROWS={table}", *build.split(),
         "-o", program, FIRMWARE / "tests" / "suffice.c", core / "sensing" / "sensors.c"],
        check=True,
    )  # fmt: skip
    return subprocess.run([program], check=True, capture_output=True, text=True).stdout.split()


@pytest.mark.parametrize("name", TABLES)
def test_a_launcher_throws_only_by_what_it_senses(name: str, tmp_path: Path) -> None:
    build, table, suffices = TABLES[name]
    assert told_of(build, table, tmp_path)[0] == str(int(suffices))


@pytest.mark.parametrize(
    ("table", "told"),
    [
        (BALL + WHEELS + SUPPLY + HOT, ["438", "12000", "-14"]),
        (BALL + WHEELS, ["408", "-1", "-1"]),
        (BALL, ["8", "-1", "-1"]),
        (SUPPLY, ["10", "12000", "-1"]),
        (HOT, ["20", "-1", "-14"]),
    ],
)
def test_what_it_measures_is_what_has_a_row(table: str, told: list[str], tmp_path: Path) -> None:
    """Of two motors below freezing the warmer one, too."""
    assert told_of("", table, tmp_path)[1:] == told
