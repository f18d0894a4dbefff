"""The page in a language that puts every word of ours between marks: nothing else is to be read on
it but names, numbers, what the program says, and how keys and languages call themselves."""

from __future__ import annotations

from pathlib import Path

import anyio
import pytest
from playwright.async_api import Browser

from feedscript.console.access import Role
from feedscript.console.serve import serve
from feedscript.session.operator.phases import Phase
from tests.console.browser import PHONE, new_page
from tests.console.lesson import RememberingLesson
from tests.console.test_page import in_control
from tests.session.operator.seen_views import at, in_exercise, on_request, stopping
from tests.tongues import pseudo
from tests.tongues.test_nothing_outside import data_of, left_over

#: Every text that can be seen or is read out, of the whole page.
SEEN = """() => {
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const parent = walker.currentNode.parentElement;
    if (!parent.closest("script, style, template")) found.push(walker.currentNode.textContent);
  }
  for (const one of document.querySelectorAll("[aria-label], [title], [placeholder]")) {
    for (const name of ["aria-label", "title", "placeholder"]) {
      if (one.hasAttribute(name)) found.push(one.getAttribute(name));
    }
  }
  found.push(document.title);
  return found;
}"""


VIEWS = [
    *(at(phase) for phase in Phase),
    stopping(Phase.STOPPED),
    in_exercise(at(Phase.RUNNING)),
    on_request(at(Phase.RUNNING)),
]


@pytest.mark.anyio
async def test_the_page_and_the_groups_screen(browser: Browser, tmp_path: Path) -> None:
    lesson, trouble = RememberingLesson(VIEWS[0]), []
    async with serve(lesson, tongues=pseudo.with_marks(tmp_path)) as served:
        page = await new_page(browser, PHONE, trouble, pseudo.LANGUAGE)
        await page.goto(served.url)
        assert not left_over(await page.evaluate(SEEN), set())
        page = await in_control(page, served)
        group = await new_page(browser, PHONE, trouble, pseudo.LANGUAGE)
        await group.goto(served.pairing_link(Role.VIEWER))
        for view in VIEWS:
            lesson.change(view)
            told = pseudo.tongue()(view.phase_words)
            for screen in (page, group):
                await screen.wait_for_selector(f"#phase:text-is('{told}')")
            await anyio.sleep(0.3)  # what goes by the clock is written four times a second
            for screen in (page, group):
                found = left_over(await screen.evaluate(SEEN), data_of(view) | {"qps"})
                assert found == set(), (view.phase, found)
    assert not trouble
