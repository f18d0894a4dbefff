"""``feedscript watch --look`` on a film: ended while it looks for balls, it goes on from there."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from feedscript.viewing import serve
from feedscript.viewing.viewing import Stage, Viewing
from feedscript.watch.unfinished import balls_in_file, beside
from tests.cli.after.test_watch import watch
from tests.watch.lesson_filmed import LEFT_S, film, flown, planned, write_journal


def looked_at(monkeypatch: pytest.MonkeyPatch, person: Callable[[Viewing], None]) -> None:
    def served(viewing: Viewing, listening: Any, told: Callable[[str], None]) -> None:
        listening.socket.close()
        person(viewing)

    monkeypatch.setattr(serve, "serve_viewing", served)


def says_no_to_the_second(viewing: Viewing) -> None:
    if viewing.stage is Stage.COURT:
        viewing.say_yes()
    assert viewing._thread is not None
    viewing._thread.join()
    assert viewing.say(2, "no")
    viewing.finish()


@pytest.mark.long
@pytest.mark.timeout(1800)
def test_a_page_that_was_ended_while_balls_were_looked_for_goes_on_and_ends_with_the_same_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    journal, video = tmp_path / "journal.sqlite", tmp_path / "lesson.mp4"
    plan, profile = planned()
    left_s = LEFT_S[:4]
    write_journal(journal, plan, profile, left_s)
    film(video, flown(plan, left_s), left_s[-1] + 2.0, size=(960, 540))
    words = (video, "--camera-at", "receiver", "--lesson", 1, "--journal", journal)
    words = (*words, "--offset", "1.2 s", "--look", "--no-browser", "--shots", "-o")
    out, unbroken = tmp_path / "found.json", tmp_path / "unbroken.json"

    def ends_it(viewing: Viewing) -> None:
        viewing.say_yes()
        while not (beside(out).exists() and balls_in_file(beside(out))):
            assert viewing.stage is Stage.LOOKING
            time.sleep(0.01)
        viewing.give_up(within_s=60.0)
        raise KeyboardInterrupt

    looked_at(monkeypatch, ends_it)
    ended = watch(*words, out)
    assert (ended.exit_code, out.exists()) == (1, False)
    assert "it goes on from there" in ended.output
    assert 0 < balls_in_file(beside(out)) < len(left_s)

    def goes_on(viewing: Viewing) -> None:
        assert viewing.stage is Stage.LOOKING  # the court is not asked about again
        says_no_to_the_second(viewing)

    looked_at(monkeypatch, goes_on)
    assert watch(*words, out).exit_code == 0
    looked_at(monkeypatch, says_no_to_the_second)
    assert watch(*words, unbroken).exit_code == 0
    assert out.read_bytes() == unbroken.read_bytes()
    assert {path.name for path in tmp_path.glob("found.json*")} == {"found.json"}
