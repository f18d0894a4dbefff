"""What a person says is written down at once, and whoever was interrupted goes on from there."""

from __future__ import annotations

import asyncio
import signal
import stat
import threading
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
import uvicorn

from feedscript.diagnostics import Diagnostic
from feedscript.viewing.answers import Answers
from feedscript.viewing.apart import apart
from feedscript.viewing.serve import PageServer
from feedscript.viewing.viewing import Look, Sought, Stage, Viewing
from feedscript.watch.frames.container import unusable
from feedscript.watch.ruler.anew import Standing
from tests.viewing.looked import LOST, film, finds
from tests.watch.clips.shown import Shown


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "found.json.answers"


def begun(one: Shown, path: Path, look: Look | None = None, parts: int = 1) -> Viewing:
    """By the same command, at another time."""
    shown = film(one, look or finds(one), parts)
    return Viewing(msgspec.structs.replace(shown, answers=Answers(path, "a key")))


def looked_for(viewing: Viewing) -> Viewing:
    assert viewing._thread is not None
    viewing._thread.join(20)
    return viewing


def test_a_yes_to_the_court_and_a_no_to_a_ball_are_there_the_next_time(
    one: Shown, path: Path
) -> None:
    first = begun(one, path)
    assert not path.exists()
    first.say_yes()
    assert looked_for(first).stage is Stage.FINDS
    first.say(0, "yes")
    first.say(0, "no")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    again = looked_for(begun(one, path))
    assert again.stage is Stage.FINDS
    assert again.said == {0: "no"}
    known, before = again.places[0].known, first.places[0].known
    assert known is not None
    assert before is not None
    assert known.camera == before.camera
    assert known.by_lines


def test_parts_that_were_answered_are_not_asked_about_again(one: Shown, path: Path) -> None:
    first = begun(one, path, parts=3)
    first.leave_out()
    first.say_yes()
    again = begun(one, path, parts=3)
    assert (again.stage, again.part) == (Stage.COURT, 2)
    assert [place.known is None for place in again.places] == [True, False]


def test_what_was_let_go_is_not_said_any_more(one: Shown, path: Path) -> None:
    first = begun(one, path)
    first.say_yes()
    looked_for(first).say(0, "no")
    first.go_back()
    assert begun(one, path).stage is Stage.COURT
    first.say_yes()
    assert looked_for(begun(one, path)).said == {}


def test_of_a_ball_that_is_not_measured_this_time_nothing_is_said(one: Shown, path: Path) -> None:
    answers = Answers(path, "a key")
    first = begun(one, path)
    first.say_yes()
    looked_for(first)
    answers = Answers(path, "a key")
    answers.of_ball(LOST, "yes")
    assert looked_for(begun(one, path)).said == {}


def test_a_search_that_fails_the_next_time_asks_about_the_court_again(
    one: Shown, path: Path
) -> None:
    first = begun(one, path)
    first.say_yes()
    looked_for(first)

    def fails(places: tuple[Standing, ...], progress: Callable[[float], None]) -> Diagnostic:
        return unusable(path, "it is gone").diagnostic

    again = looked_for(begun(one, path, fails))
    assert again.stage is Stage.COURT
    assert Answers(path, "a key").courts == []


def test_answers_to_another_film_are_none_to_this(one: Shown, path: Path) -> None:
    begun(one, path).say_yes()
    assert Answers(path, "another key").courts == []


def test_a_full_disk_keeps_nobody_from_going_on(one: Shown, path: Path) -> None:
    viewing = begun(one, path / "no" / "such" / "folder")
    viewing.say_yes()
    assert looked_for(viewing).stage is Stage.FINDS
    assert viewing.film.answers is not None
    assert viewing.film.answers.lost


def test_whoever_ends_the_page_waits_for_no_search(one: Shown, path: Path) -> None:
    goes_on = threading.Event()

    def deaf(
        places: tuple[Standing, ...], progress: Callable[[float], None]
    ) -> Sought | Diagnostic:
        goes_on.wait(60)
        return unusable(path, "too late").diagnostic

    viewing = begun(one, path, deaf)
    viewing.say_yes()
    viewing.end()
    assert viewing._thread is not None
    assert viewing._thread.is_alive()
    assert viewing._thread.daemon  # the program's end does not wait for it either
    goes_on.set()
    looked_for(viewing)
    assert viewing.stage is Stage.LOOKING  # what came too late is not taken


def test_whoever_ends_the_page_waits_for_no_act() -> None:
    acts, goes_on = threading.Event(), threading.Event()

    def act() -> bool:
        acts.set()
        return goes_on.wait(60)

    async def page() -> None:
        waiting = asyncio.create_task(apart(act))
        while not acts.is_set():
            await asyncio.sleep(0)
        waiting.cancel()

    asyncio.run(page())
    assert not goes_on.is_set()
    goes_on.set()


def test_what_an_act_gives_or_raises_comes_back() -> None:
    def fails() -> None:
        raise ValueError("so")

    assert asyncio.run(apart(lambda: 3)) == 3
    with pytest.raises(ValueError, match="so"):
        asyncio.run(apart(fails))


def test_a_finished_page_answers_to_the_end_and_ctrl_c_waits_for_nobody() -> None:
    server = PageServer(uvicorn.Config(lambda: None))
    server.should_exit = True
    assert not server.force_exit
    server = PageServer(uvicorn.Config(lambda: None))
    server.handle_exit(signal.SIGINT, None)
    assert server.should_exit
    assert server.force_exit
