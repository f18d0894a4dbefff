"""The drawings: those in the guide are today's, and what they say is as long as it is drawn."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET

import msgspec
import pytest

from feedscript.building.build_file import example_file
from feedscript.building.drawings.guard import nearest_wheel_mm
from feedscript.building.drawings.sensors import beam_mm
from feedscript.building.sheets import sheets
from feedscript.launcher.profile.drives import Air, Arm, TwoWheels, Valve
from tests.building.draw_sheets import FOLDER, drawn, with_table
from tests.building.test_parts import BUILD, GARAGE, profile_named

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("name", sorted(drawn()))
def test_the_guide_shows_todays_drawing(name: str) -> None:
    """After a change: python -m tests.building.draw_sheets"""
    assert (FOLDER / name).read_text("utf-8") == drawn()[name]
    pages = "".join(page.read_text("utf-8") for page in FOLDER.glob("*.md"))
    assert f"]({name})" in pages


def test_the_guide_shows_todays_ratings_and_the_shipped_example() -> None:
    page = (FOLDER / "README.md").read_text("utf-8")
    assert page == with_table(page)
    assert f"```toml\n{example_file().read_text('utf-8')}```" in page


def dimensions(svg: str) -> list[tuple[str, float, float]]:
    """Each dimension's words, the length they say, and how long it is drawn."""
    found = []
    for group in ET.fromstring(svg).iter(f"{SVG}g"):
        if group.attrib.get("class") != "dimension":
            continue
        *_, main = group.findall(f"{SVG}line")
        x1, y1, x2, y2 = (float(main.attrib[key]) for key in ("x1", "y1", "x2", "y2"))
        (words,) = [text.text or "" for text in group.findall(f"{SVG}text")]
        found.append((words, float(re.findall(r"[\d.]+", words)[-1]), math.hypot(x2 - x1, y2 - y1)))
    return found


@pytest.mark.parametrize("profile", ["garage", "three-wheels", "single-wheel", "turning-head"])
@pytest.mark.parametrize(("sheet", "least"), [("guard.svg", 7), ("gate.svg", 5), ("chute.svg", 5)])
def test_every_dimension_is_to_scale(profile: str, sheet: str, least: int) -> None:
    """Within the rounding of what is written."""
    shown = dimensions(sheets(profile_named(profile), BUILD)[sheet])
    assert len(shown) >= least
    scale = max(px / mm for _, mm, px in shown if mm >= 40)
    for words, mm, px in shown:
        assert px / scale == pytest.approx(mm, abs=0.8 + 0.01 * mm), words


def test_a_number_of_the_build_file_changes_the_drawing() -> None:
    longer = msgspec.structs.replace(BUILD, tunnel_mm=850.0, finger_mm=10.0, chute_deg=20.0)
    before, after = sheets(GARAGE, BUILD), sheets(GARAGE, longer)
    assert "tunnel 850" in after["guard.svg"]
    assert {name for name in before if before[name] != after[name]} == {
        "guard.svg", "gate.svg", "chute.svg", "sensors.svg",
    }  # fmt: skip


def test_the_tunnel_is_measured_from_where_a_wheel_stands_into_it() -> None:
    """By walking along the tunnel's wall until it is outside of the wheel."""
    drive = GARAGE.drive
    assert isinstance(drive, TwoWheels)
    x_mm = 0.0
    while math.hypot(x_mm, 26.0 + 100.0 - 38.3) < 100.0:
        x_mm += 0.01
    assert nearest_wheel_mm(drive) == pytest.approx(x_mm, abs=0.02)


def test_a_launcher_without_wheels_has_no_guard_drawn_around_them() -> None:
    for name in ("air-barrel", "timed-valve", "notched-spring", "unequal-wheels"):
        assert "guard.svg" not in sheets(profile_named(name), BUILD)


@pytest.mark.parametrize("name", ["garage", "three-wheels", "single-wheel", "turning-head"])
def test_a_ball_in_the_beam_touches_no_wheel(name: str) -> None:
    """Its middle is further from the axle than both radii; and the beam is inside of the tunnel."""
    drive = profile_named(name).drive
    assert not isinstance(drive, Air | Valve | Arm)
    radius_mm = 500 * drive.wheel_diameter_m
    axle_mm = radius_mm + 500 * drive.gap_m
    assert math.hypot(beam_mm(drive, BUILD), axle_mm) > radius_mm + 33.5
    assert radius_mm + BUILD.guard_mm < beam_mm(drive, BUILD)
    assert beam_mm(drive, BUILD) < nearest_wheel_mm(drive) + BUILD.tunnel_mm
