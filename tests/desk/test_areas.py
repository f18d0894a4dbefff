"""Targets, areas and people of the picture in a real browser: dragged, and their words follow."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from playwright.async_api import Page, expect

from tests.desk.test_page import Paired, anyio_backend, folder, paired

__all__ = ["anyio_backend", "folder", "paired"]

pytestmark = pytest.mark.anyio

WITH_AREAS = """feedscript 1
title "Areas"
court { surface hard }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group {
    players "Ann"   player "Cy" { receiver 2 m behind baseline, 1 m to ad of centre line }
    level club
}
coach { walks deuce alley }
target "deep" { between 2 m behind service line, on centre line and on baseline, on ad sideline }
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h }
lesson {
    show speed of deep
    exercise "Depth" {
        target "deep"  goal 2 of 3 in target
        for each player { repeat 4 { send deep after 5 s }  rest 10 s }
    }
}
"""
DEEP = "between 2 m behind service line, on centre line and on baseline, on ad sideline"


@pytest.fixture
def program(folder: Path) -> Path:
    path = folder / f"areas-{len(list(folder.glob('*.feed')))}.feed"
    path.write_text(WITH_AREAS, "utf-8")
    return path


@pytest.fixture
async def desk(paired: Paired, program: Path) -> AsyncIterator[Page]:
    trouble: list[str] = []
    page = await paired.page(program, trouble)
    yield page
    await page.close()
    assert not trouble


async def pull(page: Page, key: str, metres: tuple[float, float]) -> None:
    """Drag a thing of the picture by so many metres along the court, and across it."""
    box = await page.locator(f"#above [data-key='{key}']").last.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    metre = await page.evaluate("document.getElementById('above').getScreenCTM().a")
    await page.mouse.move(x, y)
    await page.mouse.down()
    await page.mouse.move(x + metres[0] * metre / 2, y + metres[1] * metre / 2, steps=3)
    await expect(page.locator("#above .ghost")).to_be_visible()
    await page.mouse.move(x + metres[0] * metre, y + metres[1] * metre, steps=3)
    await page.mouse.up()


async def becomes(page: Page, program: Path, old: str, new: str) -> None:
    """Only these words of the file are others."""
    await expect(page.locator(".cm-content")).to_contain_text(" ".join(new.split()[:4]))
    await expect(page.locator("#kept")).to_have_text("saved")
    assert program.read_text("utf-8") == WITH_AREAS.replace(old, new)


OVERLAPS = """() => {
  const words = [...document.querySelectorAll("#above .area text")];
  const boxes = words.map((one) => one.getBoundingClientRect());
  const meet = (one, other) => one.left < other.right && other.left < one.right
    && one.top + 1 < other.bottom && other.top + 1 < one.bottom;
  return words.filter((_, at) => boxes.some((box, other) => other < at && meet(box, boxes[at])))
    .map((one) => one.textContent);
}"""
CUT_OFF = """(id) => {
  const shown = document.getElementById(id).getBoundingClientRect();
  return [...document.querySelectorAll(`#${id} text`)].filter((one) => {
    const box = one.getBoundingClientRect();
    return box.left < shown.left || box.right > shown.right
      || box.top < shown.top || box.bottom > shown.bottom;
  }).map((one) => one.textContent);
}"""
NAMES = ("past the service line", "behind the service line", "well past the service line")


async def test_words_in_the_pictures_lie_apart_and_are_not_cut_off(
    desk: Page, program: Path
) -> None:
    """Targets of several exercises in one place too, by their several names."""
    target = "".join(f'target "{name}" {{ {DEEP} }}\n' for name in NAMES)
    exercise = WITH_AREAS[WITH_AREAS.index("    exercise") : -len("}\n")]
    exercises = "".join(
        exercise.replace('"deep"', f'"{name}"').replace("Depth", f"To {name}") for name in NAMES
    )
    words = WITH_AREAS.removesuffix("}\n").replace("feed deep", f"{target}feed deep")
    words = words.replace("speed 80 km/h", "apex 3.5 m")
    program.with_name("many-areas.feed").write_text(f"{words}{exercises}}}\n", "utf-8")
    await desk.locator("#choose").click()
    await desk.locator("#own-list button", has_text="many-areas").click()
    await expect(desk.locator("#above .area text")).to_have_count(5)
    await expect(desk.locator("#side text").first).to_be_visible()
    assert await desk.evaluate(OVERLAPS) == []
    for view in ("above", "side"):
        assert await desk.evaluate(CUT_OFF, view) == []


async def test_a_target_is_held_by_a_corner(desk: Page, program: Path) -> None:
    await desk.locator("#above [data-key='target deep 0']").click()
    await expect(desk.locator("#above .handle")).to_have_count(4)
    await expect(desk.locator(".w-chosen").first).to_contain_text("between")
    await pull(desk, "target deep 0 1,1", (-1.02, 1.0))
    await becomes(desk, program, DEEP, DEEP.replace("2 m behind", "3 m behind").replace(
        "on centre line", "1 m to deuce of centre line"
    ))  # fmt: skip
    await expect(desk.locator("#verdict")).to_contain_text("it passes")
    await desk.locator(".cm-content").click()
    await desk.keyboard.press("Control+z")
    await expect(desk.locator(".cm-content")).to_contain_text("2 m behind service line")


async def test_keys_move_an_area_and_its_corners(desk: Page, program: Path) -> None:
    await desk.locator("#above [data-key='target deep 0']").focus()
    await desk.keyboard.press("Enter")
    corner = desk.locator("#above [data-key='target deep 0 1,1']")
    await corner.focus()
    await desk.keyboard.press("Shift+ArrowLeft")
    await expect(desk.locator(".cm-content")).to_contain_text("3 m behind service line")
    await expect(corner).to_be_focused()
    await desk.keyboard.press("ArrowRight")
    await becomes(desk, program, "2 m behind service", "2.9 m behind service")


async def test_a_coach_walks_on_the_other_side(desk: Page, program: Path) -> None:
    await pull(desk, "keep out coach 0", (0.0, 9.5))
    await desk.get_by_role("button", name="Make it the ad alley").click()
    await becomes(desk, program, "walks deuce alley", "walks ad alley")


async def test_a_player_waits_elsewhere(desk: Page, program: Path) -> None:
    await pull(desk, "player Cy", (1.0, 0.0))
    await becomes(desk, program, "receiver 2 m behind", "receiver 3 m behind")


async def test_what_a_target_cannot_be_is_said(desk: Page, program: Path) -> None:
    await pull(desk, "target deep 0", (15.0, 0.0))
    await expect(desk.locator("#told")).to_contain_text("launcher's side of the net")
    assert program.read_text("utf-8") == WITH_AREAS
