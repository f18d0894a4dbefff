"""Speeds in a message are told as programs are written, and what it offers to write holds."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from feedscript.check.check_program import check_program
from feedscript.shipped import shipped_folder

PROGRAM = """feedscript 1
court {{ surface hard }}
balls {{ type 2  load 30 }}
launcher {{ profile "own.toml"  stands 1 m behind centre mark }}
group {{ 2 players  level touring }}
feed drive {{ land 3 m inside baseline, on centre line  speed {speed}  spin top 1500 rpm }}
lesson {{ show speed of drive  send drive after 8 s }}
"""


def told(speed: str, range_mps: str, tmp_path: Path) -> dict[str, tuple[str, str]]:
    """Message and mend of each error, by its slug."""
    garage = (shipped_folder() / "launchers" / "garage.toml").read_text(encoding="utf-8")
    own, count = re.subn(r"(?m)^speed_mps = .*$", f"speed_mps = {range_mps}", garage)
    assert count == 1
    (tmp_path / "own.toml").write_text(own, encoding="utf-8")
    path = tmp_path / "lesson.feed"
    path.write_text(PROGRAM.format(speed=speed), encoding="utf-8")
    errors = [one for one in check_program(path).diagnostics if one.is_error]
    return {one.slug: (str(one.message), one.help) for one in errors}


@pytest.mark.parametrize(
    ("speed", "range_mps", "least", "most"),
    [
        ("110 km/h", "[8.0, 30.0]", "28.8", "108"),
        ("110 km/h", "[8.01, 30.01]", "28.9", "108"),  # 28.836 and 108.036: inward
        ("70 km/h", "[20.03, 30.0]", "72.2", "108"),  # 72.108
    ],
)
def test_the_range_of_a_launcher_is_told_in_km_h_and_never_beyond_its_ends(
    speed: str, range_mps: str, least: str, most: str, tmp_path: Path
) -> None:
    message, mend = told(speed, range_mps, tmp_path)["past-speed"]
    span = f"{least} to {most} km/h"
    asked = f"{float(speed.split()[0]):.1f} km/h"
    assert message == f"drive leaves at {asked}; its launcher does {span}"
    assert mend == f"give the feed a speed that the launcher has: {span}"
    for end in (least, most):
        assert "past-speed" not in told(f"{end} km/h", range_mps, tmp_path)


def test_a_speed_hardly_past_the_end_is_told_apart_from_it(tmp_path: Path) -> None:
    message, _ = told("108.01 km/h", "[8.0, 30.0]", tmp_path)["past-speed"]
    assert message == "drive leaves at 108.01 km/h; its launcher does 28.8 to 108 km/h"
