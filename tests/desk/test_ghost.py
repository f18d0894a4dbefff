"""A landing under way: the ball's flight and scatter follow the hand, as they would be there."""

from __future__ import annotations

import random
from collections.abc import AsyncIterator
from pathlib import Path

import msgspec
import numpy as np
import pytest
from playwright.async_api import Page, expect

from feedscript.desk.under_way.ghosts import Ghosts, ghosts
from feedscript.editor.document import Document, open_document
from feedscript.plan.aiming.field import POINTS, POINTS_AFTER
from tests.console.browser import chromium
from tests.desk.desk_process import desk_on

pytestmark = pytest.mark.anyio

PROGRAM = """feedscript 1
court {{ surface hard {air} }}
balls {{ type 2  load 60 }}
launcher {{ profile "garage.toml"  stands 1 m behind baseline, 1 m ad of centre mark }}
group {{ 2 players  level club }}
feed one {{ land at {x:.2f} m, {y:.2f} m  {given} }}
lesson {{ show speed of one  send one after 6 s }}
"""
FLIGHT_TO = """async ([field, places]) => {
  const { flightTo } = await import("/desk/ghost.js");
  return places.map((place) => flightTo(field, place));
}"""


def checked(x: float, y: float, given: str, air: str) -> Document:
    text = PROGRAM.format(x=x, y=y, given=given, air=air)
    return open_document(Path("/nowhere/ghost.feed"), text)


def field_of(document: Document) -> Ghosts:
    found = ghosts(document, 0)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def anyio_backend() -> str:
    return "asyncio"


@pytest.fixture(scope="module")
async def page(anyio_backend: str, tmp_path_factory: pytest.TempPathFactory) -> AsyncIterator[Page]:
    folder = tmp_path_factory.mktemp("coach")
    words = PROGRAM.format(x=0, y=9, given="speed 84 km/h  spin top 900 rpm", air="")
    (folder / "ghost.feed").write_text(words, "utf-8")
    async with chromium() as browser:
        with desk_on(folder) as link:
            page = await browser.new_page(viewport={"width": 1280, "height": 800})
            await page.goto(link)
            await expect(page.locator("#verdict")).to_contain_text("it passes")
            await page.goto(link.split("#")[0] + "#ghost")
            await page.reload()
            await expect(page.locator("#verdict")).to_contain_text("it passes")
            yield page


@pytest.mark.parametrize("air", ["", "wind head 2 m/s, ad 3 m/s"])
@pytest.mark.parametrize(
    "given", ["speed 84 km/h  spin top 900 rpm", "apex 4 m", "flight 1.3 s  spin back 500 rpm"]
)
async def test_what_is_read_between_the_places_is_what_is_flown_there(
    page: Page, given: str, air: str
) -> None:
    field = msgspec.to_builtins(field_of(checked(0.0, 9.0, given, air)))
    chance = random.Random(given + air)
    places = [(chance.uniform(-4.5, 4.5), chance.uniform(4.0, 12.0)) for _ in range(6)]
    places = [(round(x, 2), round(y, 2)) for x, y in places]
    told = await page.evaluate(FLIGHT_TO, [field, places])
    looked = 0
    for (x, y), ghost in zip(places, told, strict=True):
        document = checked(x, y, given, air)
        facts = document.verdict.facts
        if ghost is None or facts is None:
            continue
        looked += 1
        throws = facts.batches[0].throws
        path = np.array(ghost["path"]).reshape(-1, 3)
        assert np.abs(path - throws.before(POINTS).place_m[0]).max() < 0.02
        assert np.abs(path[-1, :2] - (x, y)).max() < 0.005
        surface = facts.plan.court.surface
        assert surface == "hard"
        scatter = facts.plan.feeds[0].scatter
        spread = ghost["spread"]
        mean, apart = (spread[0] + spread[2]) / 2, np.hypot((spread[0] - spread[2]) / 2, spread[1])
        axes = np.sqrt([mean + apart, mean - apart])
        assert np.abs(axes - (scatter.major_m, scatter.minor_m)).max() < 0.02
        assert len(ghost["after"]) == 3 * POINTS_AFTER
    assert looked >= 4


async def test_the_flight_follows_the_hand(page: Page) -> None:
    feed = page.locator("#above [data-index='0'] .hit")
    box = await feed.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    await page.mouse.move(x, y)
    await page.mouse.down()
    ends = []
    for step in range(1, 60):
        await page.mouse.move(x - 10 - step, y + step / 2)
        ghost = page.locator("#above .ghost polyline").first
        if await ghost.count():
            ends.append((await ghost.get_attribute("points") or "").split()[-1])
            if len(ends) == 5:
                break
    assert len(set(ends)) == 5
    assert await page.locator("#side .ghost polyline").count() == 2
    assert await page.locator("#above .ghost ellipse").count() == 2
    assert not await page.locator("#above .ghost line").count()
    centre = await page.locator("#above .ghost circle").first.evaluate(
        "(mark) => [mark.cx.baseVal.value, mark.cy.baseVal.value]"
    )
    end = await page.locator("#above .ghost polyline").first.get_attribute("points") or ""
    assert [float(one) for one in end.split()[-1].split(",")] == pytest.approx(centre, abs=0.01)
    await page.keyboard.press("Escape")
    await page.mouse.up()
