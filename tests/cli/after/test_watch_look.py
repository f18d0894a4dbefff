"""``feedscript watch --look``: what a person says on the page is what the command writes."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from feedscript.cli.after import watch_look
from feedscript.cli.after.watch_balls import Balls
from feedscript.court.lines import COURTS
from feedscript.journal.films import landings_seen
from feedscript.journal.store import open_journal, read_journal
from feedscript.launcher.tuning.landings_file import parse_landings
from feedscript.viewing import serve
from feedscript.viewing.viewing import Stage, Viewing
from feedscript.watch.asked import asked_of
from feedscript.watch.camera.camera import Camera
from feedscript.watch.found import Found, ball_of
from feedscript.watch.frames.video import open_video
from feedscript.watch.ruler.anew import Standing, standings
from feedscript.watch.ruler.stands import stills_of
from tests.cli.after.test_watch import film as film
from tests.cli.after.test_watch import lens as lens
from tests.cli.after.test_watch import watch
from tests.watch.fit.filmed import as_it_is
from tests.watch.lesson_filmed import planned, write_journal
from tests.watch.scene.lens import Lens
from tests.watch.test_asked import CLOCK
from tests.watch.test_found import measured

Person = Callable[[Viewing], None]


@pytest.fixture
def person(monkeypatch: pytest.MonkeyPatch) -> Callable[[Person], list[str]]:
    """Puts somebody before the page; gives the links that were shown."""
    links: list[str] = []

    def put(act: Person) -> list[str]:
        def served(viewing: Viewing, listening: Any, told: Callable[[str], None]) -> None:
            listening.socket.close()
            told("http://page/#CODE")
            act(viewing)

        monkeypatch.setattr(serve, "serve_viewing", served)
        monkeypatch.setattr("webbrowser.open", links.append)
        return links

    return put


@pytest.fixture(scope="module")
def found(film: Path, lens: Lens) -> tuple[Standing, ...]:
    """The court in the film, found once for all."""
    stills, _ = stills_of(open_video(film))
    return standings(stills, COURTS["singles"], start=as_it_is(lens))


@pytest.fixture(autouse=True)
def _is_found_at_once(found: tuple[Standing, ...], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("feedscript.watch.ruler.stands.stills_of", lambda film, progress: ((), ()))
    monkeypatch.setattr("feedscript.watch.ruler.anew.standings", lambda *_, **_words: found)


def says_yes(viewing: Viewing) -> None:
    viewing.say_yes()


def leaves(viewing: Viewing) -> None:
    raise KeyboardInterrupt


def test_a_yes_writes_what_the_command_would_write(
    film: Path, lens: Lens, tmp_path: Path, person: Callable[[Person], list[str]]
) -> None:
    links = person(says_yes)
    drawn, points = tmp_path / "over.png", tmp_path / "points.toml"
    words = (film, "--camera-at", "receiver", "--look", "-o", drawn, "--points-out", points)
    result = watch(*words, "--format", "json")
    assert result.exit_code == 0, result.output
    assert json.loads(result.stdout)["files"] == [str(drawn), str(points)]
    assert drawn.exists()
    assert points.exists()
    assert links == ["http://page/#CODE"]


def test_whoever_leaves_before_the_end_has_nothing_written(
    film: Path, tmp_path: Path, person: Callable[[Person], list[str]]
) -> None:
    links = person(leaves)
    drawn = tmp_path / "over.png"
    result = watch(film, "--camera-at", "receiver", "--look", "--no-browser", "-o", drawn)
    assert result.exit_code == 1
    assert "nothing is written" in result.output
    assert not drawn.exists()
    assert links == []


def test_a_no_stays_in_the_file_and_goes_neither_to_tuning_nor_into_the_record(
    film: Path,
    tmp_path: Path,
    person: Callable[[Person], list[str]],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plan, profile = planned()
    journal = tmp_path / "journal.sqlite"
    write_journal(journal, plan, profile, (1.0, 4.2))
    opened = open_journal(journal)
    lesson = asked_of(opened, 1)
    opened.close()

    def balls_in(seen: Any, camera: Camera, *_: object) -> Balls:
        balls = [ball_of(ball.feed, measured(ball.number, (0.5, 9.0))) for ball in lesson.balls]
        found = Found(
            lesson=1,
            launchers=("garage",),
            camera=camera,
            clock=CLOCK,
            places=(),
            balls=tuple(balls),
        )
        return Balls(found, lesson, ())

    def judges(viewing: Viewing) -> None:
        viewing.say_yes()
        assert viewing._thread is not None
        viewing._thread.join(20)
        assert viewing.stage is Stage.FINDS
        viewing.say(1, "no")
        viewing.finish()

    def says_no_and_leaves(viewing: Viewing) -> None:
        viewing.say_yes()
        assert viewing._thread is not None
        viewing._thread.join(20)
        viewing.say(1, "no")
        raise KeyboardInterrupt

    def goes_on(viewing: Viewing) -> None:
        assert viewing._thread is not None  # the court is not asked about again
        viewing._thread.join(20)
        viewing.finish()

    monkeypatch.setattr(watch_look, "balls_in", balls_in)
    person(judges)
    words = (
        film,
        "--camera-at",
        "receiver",
        "--lesson",
        1,
        "--journal",
        journal,
        "--look",
        "--offset",
        "1 s",
    )  # it has no sound
    table, found = tmp_path / "landings.csv", tmp_path / "found.json"
    assert watch(*words, "-o", table, "--into-journal").exit_code == 0
    reading = parse_landings(table.read_text(), "table", profile)
    assert reading.shots is not None
    assert len(reading.shots) == 1
    kept = read_journal(journal)
    seen = landings_seen(kept, 1)
    kept.close()
    assert [seen[number].landing_m for number in (1, 2)] == [None, (0.5, 9.0)]
    person(says_no_and_leaves)
    left = watch(*words, "-o", found)
    assert left.exit_code == 1
    assert "it goes on from there" in left.output
    assert not found.exists()
    person(goes_on)
    told = watch(*words, "-o", found)
    assert told.exit_code == 0
    assert sorted(path.name for path in tmp_path.glob("found.json*")) == ["found.json"]
    assert "2 of 2 measured; said no to 1 of them" in told.output
    assert [one["said"] for one in json.loads(found.read_text())["balls"]] == ["no", None]
