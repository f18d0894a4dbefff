"""Page and terminal show what the view says, the same in every phase, and know no words of their
own for it."""

from __future__ import annotations

import re
from pathlib import Path

import anyio
import pytest
from playwright.async_api import Browser

from feedscript.console.access import Role
from feedscript.console.app import STATIC
from feedscript.console.serve import serve
from feedscript.plan.model import Result
from feedscript.session.operator.controls import Area, Control, Situation, controls_in
from feedscript.session.operator.phase_words import PHASES, STOPPING
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.view import LessonView
from feedscript.terminal.screen import render
from feedscript.terminal.terminal_state import TerminalState
from tests.console.browser import PHONE, SCREEN, new_page
from tests.console.lesson import RememberingLesson
from tests.console.test_page import in_control
from tests.session.operator.seen_views import at, stopping
from tests.terminal.test_screen import on_screen, words

TERMINAL = Path(render.__code__.co_filename).parent
#: These must work before any view has come.
STOPS = {"stop", "emergency-stop"}

SEEN = [*(at(phase) for phase in Phase), stopping(Phase.STOPPED), stopping(Phase.HELD)]


def known_words() -> set[str]:
    """What phases, acts and results are called, by people and by the code."""
    controls = controls_in(Situation(phase=Phase.SETTING_UP, next_step="x", asked_about=1))
    phases = [*PHASES.values(), STOPPING]
    said = [word for one in phases for word in (one.name, one.to_do, one.to_group) if word]
    named = [word for one in controls for word in (one.name, one.label, one.mark)]
    values = [*(phase.value for phase in Phase), *(result.value for result in Result)]
    return {word.lower() for word in (*said, *named, *values)} - {""}


def literals(source: str) -> list[str]:
    """The strings of a script, comments left out."""
    code = re.sub(r"^\s*//.*$", "", source, flags=re.M)
    return [found[1:-1] for found in re.findall(r""""[^"\n]*"|'[^'\n]*'|`[^`]*`""", code)]


@pytest.mark.parametrize("script", sorted(STATIC.glob("*.js")), ids=lambda path: path.name)
def test_no_script_knows_a_phase_an_act_or_a_label(script: Path) -> None:
    known = known_words() - STOPS - {"confirm"}  # what is sent for a step of the list
    own = {found.lower() for found in literals(script.read_text("utf-8"))}
    assert not own & known


def test_literals_finds_what_a_script_says() -> None:
    assert literals("// 'no'\nif (x === \"held\" || `b ${c}`) y('d');") == ["held", "b ${c}", "d"]


def test_the_pages_own_stops_are_called_as_the_view_calls_them() -> None:
    stops = [c for c in controls_in(Situation(phase=Phase.RUNNING)) if c.area is Area.STOP]
    page = (STATIC / "court-side.html").read_text("utf-8")
    for stop in stops:
        keys = " ".join(stop.keys)
        said = (
            f'data-control="{stop.name}" aria-keyshortcuts="{keys}">{{{{{stop.label}}}}}</button>'
        )
        assert said in page
    assert f">{{{{{stops[0].label}}}}}</button>" in (STATIC / "group.html").read_text("utf-8")


def test_the_chapters_table_has_every_key_that_presses_something() -> None:
    chapter = (STATIC.parent / "README.md").read_text("utf-8")
    rows = re.findall(r"^\| (.+) \| .+ \|$", chapter[chapter.index("| key | does |") :], re.M)
    told = set(re.split(r",? |, ", " ".join(rows).replace("Page ", "Page").replace("`", "")))
    told = {key.replace("−", "-").replace("arrows", "ArrowUp").strip(",") for key in told}
    names = {" ": "space", "Escape": "Esc", "ArrowUp": "ArrowUp"}
    arrows = {"ArrowDown", "ArrowLeft", "ArrowRight"}
    for view in SEEN:
        pressed = {key for control in view.controls for key in control.keys} - arrows
        assert {names.get(key, key) for key in pressed} <= told, view.phase_words


def test_the_faces_import_neither_the_words_nor_the_table() -> None:
    """All they know of a phase comes with the view; a rehearsal's report is no face of a lesson."""
    known = re.compile(r"operator.phase_words|import .*\b(Phase|PHASES|TRANSITIONS|allowed)\b")
    modules = [*TERMINAL.glob("*.py"), *STATIC.parent.glob("*.py")]
    found = {path.name for path in modules if known.search(path.read_text("utf-8"))}
    assert found <= {"rehearsal_report.py"}
    assert len(modules) > 15


def wanted(view: LessonView) -> list[Control]:
    return [
        one for one in view.controls if one.shown and one.can_be_done and one.area is not Area.STOP
    ]


@pytest.mark.parametrize("view", SEEN, ids=lambda view: view.phase_words)
def test_the_terminal_shows_what_can_be_done_and_nothing_else(view: LessonView) -> None:
    foot = words(on_screen(render(view, TerminalState()), 200, 60)[-3:])
    names = view.conventions.key_names
    for control in wanted(view):
        key = control.keys[0]
        assert f"{names.get(key, key)} {control.label}" in foot
    shown = {control.label for control in wanted(view)}
    for control in view.controls:
        if control.area is not Area.STOP and control.label not in shown and control.keys:
            key = control.keys[0]
            assert f"{names.get(key, key)} {control.label}" not in foot


@pytest.mark.anyio
async def test_the_page_shows_what_can_be_done_and_nothing_else(browser: Browser) -> None:
    """And the group's screen only the stop, with what everyone should know."""
    lesson, trouble = RememberingLesson(), []
    async with serve(lesson) as served:
        page = await in_control(await new_page(browser, PHONE, trouble), served)
        group = await new_page(browser, SCREEN, trouble)
        await group.goto(served.pairing_link(Role.VIEWER))
        await group.wait_for_selector(".next-up:has-text('Birch')")
        for view in SEEN:
            lesson.change(view)
            for screen in (page, group):
                await screen.wait_for_selector(f"#phase:text-is('{view.phase_words}')")
            found = await page.locator(".do [data-area] button:enabled:visible").all_inner_texts()
            assert found == [
                f"{one.mark} {one.label}".strip()
                for one in wanted(view)
                if one.area is not Area.LIST
            ], view.phase_words
            assert await page.inner_text("#waits") == view.waits_for
            assert await group.locator("button").all_inner_texts() == ["STOP"]
            if view.to_group:
                await group.wait_for_selector(f"#call:text-is('{view.to_group}')")
            with anyio.fail_after(2):
                while (await page.locator("#steps button").count()) != len(view.set_up):
                    await anyio.sleep(0.02)
    assert trouble == []
