"""A coach's short way through the desk in a second engine, on a device that is set to dark."""

from __future__ import annotations

from pathlib import Path

from tests.desk.desk_process import desk_on
from tests.desk.engine import CONTROL, RIGHT, SHIFT, Engine
from tests.desk.firefox import dark_firefox

DEEP = """feedscript 1
title "Deep"
court { surface hard }
balls { type 2  load 60 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { 4 players  level club }
feed deep {
    land 3 m inside baseline, on centre line
    speed 80 km/h
}
lesson {
    show speed of deep
    for each player { repeat 4 { send deep after 5 s }  rest 10 s }
}
"""
#: The button whose words begin so, marked for the hand to find.
_MARKED = """(() => {
  document.querySelector("[data-marked]")?.removeAttribute("data-marked");
  const all = [...document.querySelectorAll("button")];
  const one = all.find((one) => one.textContent.startsWith(%r) && one.getClientRects().length);
  if (one) one.dataset.marked = "";
  return Boolean(one);
})()"""
#: Where a word of the editor begins on the screen.
_WORD = """(() => {
  const content = document.querySelector(".cm-content");
  const walker = document.createTreeWalker(content, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const at = node.textContent.indexOf(%r);
    if (at < 0) continue;
    const range = document.createRange();
    range.setStart(node, at);
    range.setEnd(node, at + 1);
    const box = range.getBoundingClientRect();
    return [Math.ceil(box.x), box.y + box.height / 2];
  }
})()"""


def press_button(page: Engine, words: str) -> None:
    page.wait(_MARKED % words)
    page.click("[data-marked]")


def write(page: Engine, old: str, new: str) -> None:
    """A click before a word, which is marked by keys, and another word typed over it.

    Two clicks are one on the word only where the machine has time for both in half a second.
    """
    page.click_at(*page.evaluate(_WORD % old))
    page.press(RIGHT * len(old), held=SHIFT)
    page.press(new)
    page.wait(f"document.querySelector('.cm-content').innerText.includes({f'{new} '!r})")


def saved(page: Engine, program: Path) -> str:
    page.wait("document.querySelector('#kept').textContent === 'saved'")
    return program.read_text("utf-8")


def test_a_coach_writes_mends_drags_and_plays_in_firefox(tmp_path: Path) -> None:
    with dark_firefox(tmp_path / "home") as page:
        a_coachs_way(page, tmp_path / "coach")


def a_coachs_way(page: Engine, folder: Path, narrow: int = 390) -> None:
    """From a program to its lesson played, on a screen; then on a tablet's and a phone's."""
    folder.mkdir()
    program = folder / "deep.feed"
    program.write_text(DEEP, "utf-8")
    with desk_on(folder) as link:
        page.size(1280, 800)
        page.go(link)
        page.wait_for_words("#verdict", "it passes")
        in_the_dark(page)
        a_mistake_and_its_fix(page, program)
        a_landing_is_dragged(page, program)
        page.wait("document.querySelector('#sliders .band .allowed') !== null")  # all is in place
        press_button(page, "Play the lesson")
        page.wait("document.querySelectorAll('#above .ball').length > 0")
        for width, height in ((1024, 768), (narrow, 844)):
            page.size(width, height)
            page.wait(f"innerWidth === {width}")
            assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        assert page.trouble == []


def in_the_dark(page: Engine) -> None:
    red, green, blue = page.evaluate(
        "getComputedStyle(document.body).backgroundColor.match(/[0-9.]+/g).slice(0, 3).map(Number)"
    )
    assert max(red, green, blue) < 60


def a_mistake_and_its_fix(page: Engine, program: Path) -> None:
    write(page, "speed", "sped")
    page.wait("document.querySelectorAll('.finding.error').length === 1")
    assert "sped 80" in saved(page, program)
    press_button(page, "Look for a fix")
    press_button(page, "Write speed")
    page.wait_for_words("#verdict", "it passes")
    page.wait("document.querySelector('.finding.error') === null")
    assert saved(page, program) == DEEP


def a_landing_is_dragged(page: Engine, program: Path) -> None:
    """A metre and a half nearer, and back by the editor's undo."""
    metre = page.evaluate("document.getElementById('above').getScreenCTM().a")
    page.drag("#above .feed .hit", -1.5 * metre, 0)
    page.wait("document.querySelector('.cm-content').innerText.includes('4.5 m inside baseline')")
    page.wait_for_words("#verdict", "it passes")
    dragged = DEEP.replace("3 m inside baseline", "4.5 m inside baseline")
    assert saved(page, program) == dragged
    page.click(".cm-content")
    page.press("z", held=CONTROL)
    page.wait("document.querySelector('.cm-content').innerText.includes('land 3 m inside')")
    assert saved(page, program) == DEEP
