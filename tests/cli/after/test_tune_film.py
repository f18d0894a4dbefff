"""``feedscript tune --watch``: from a film to a tuned profile in one command.

What is found in a film is judged elsewhere (``tests/watch``); the whole way through a rendered one
is walked by the test that is marked long.
"""

from __future__ import annotations

import json
import shlex
from pathlib import Path
from types import SimpleNamespace

import msgspec
import numpy as np
import pytest

from feedscript.cli.after import tune_film
from feedscript.cli.after.watch_balls import Balls
from feedscript.journal.store import open_journal
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.launcher.tuning.shots import predicted
from feedscript.session.operator.commands import SeenBy
from feedscript.session.state.event_log import write_event
from feedscript.session.state.events import FeedMarked
from feedscript.shipped import shipped_folder
from feedscript.watch.asked import AskedLesson
from feedscript.watch.camera.camera import Camera
from feedscript.watch.fit.measured import Value
from feedscript.watch.found import Found, Landed, Missed
from feedscript.watch.sync.align import Clock
from tests.cli.after.test_tune import tune
from tests.launcher.tuning.synthetic import AIR, thrown
from tests.watch.lesson_filmed import PROGRAM, UTC_S, planned, write_journal

LEFT_S = tuple(float(second) for second in range(1, 41, 4))
KEPT = ("squeeze", "drag_factor", "elevation_offset_deg")
SLIP = 0.90


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """A folder with the garage's profile, and the journal of a lesson on it."""
    shipped = (shipped_folder() / "launchers" / "garage.toml").read_text()
    (tmp_path / "mine.toml").write_text(shipped)
    write_journal(tmp_path / "journal.sqlite", *planned(), LEFT_S)
    (tmp_path / "lesson.mp4").write_bytes(b"stands for a film")
    return tmp_path


def found_in(lesson: AskedLesson, truth: Profile) -> Balls:
    """Where the balls of a launcher with another slip landed, as a film would tell; but for one."""
    settings = [ball.feed.setting for ball in lesson.balls]
    shots = thrown(truth, settings, 1, np.random.default_rng(5))
    told = predicted(truth, settings, AIR)[:, 2:]
    mouth_m = lesson.plan.launchers[0].mouth_m
    still, sure = Value(0.0, 0.01), ((0.0016, 0.0), (0.0, 0.0009))
    landed = [
        Landed(
            number=ball.number,
            launcher=1,
            landing_m=(mouth_m[0] + right_m, mouth_m[1] + along_m),
            covariance_m2=sure,
            region_m=(0.1, 0.07),
            region_turn_deg=90.0,
            asked_m=ball.feed.landing_m,
            left_s=still,
            bounce_s=Value(flight_s, 0.01),
            flight_s=Value(flight_s, 0.01),
            speed_mps=Value(speed_mps, 0.2),
            top_rpm=still,
            side_rpm=still,
            pictures=40,
        )
        for ball, (along_m, right_m, *_), (speed_mps, flight_s) in zip(
            lesson.balls, shots.seen.tolist(), told.tolist(), strict=True
        )
    ]
    missed = Missed(
        number=1, launcher=1, reason="not-in-view", why="its track is not in the picture"
    )
    camera = Camera(
        position_m=(0, 18, 3), rotation=(0, 0, 0), focal_px=900, width_px=1280, height_px=720,
        centre_px=(639.5, 359.5),
    )  # fmt: skip
    clock = Clock(0.0, 0.0, 0.01, 0.0, 1e-5, 18, 20)
    balls = (missed, *landed[1:])
    found = Found(
        lesson=lesson.number,
        launchers=tuple(one.name for one in lesson.profiles),
        camera=camera,
        clock=clock,
        balls=balls,
    )
    return Balls(found, lesson, ())


@pytest.fixture
def filmed(monkeypatch: pytest.MonkeyPatch) -> None:
    """A film in which everything is found."""
    profile = planned()[1]
    drive = msgspec.structs.replace(profile.drive, slip=SLIP)
    truth = msgspec.structs.replace(profile, drive=drive)

    def court(video: Path, court: str, _: str, options: dict[str, object]) -> SimpleNamespace:
        from feedscript.cli.after.watch_balls import lesson_of
        from feedscript.court.lines import COURTS

        assert video.name == "lesson.mp4"
        return SimpleNamespace(
            lesson=lesson_of(COURTS[court], options, "text"), troubles=lambda: ()
        )

    monkeypatch.setattr(tune_film, "look_for_the_court", court)
    monkeypatch.setattr(tune_film, "look_for_balls", lambda at, *_: found_in(at.lesson, truth))
    monkeypatch.setattr(tune_film, "court_words", lambda _: "by its lines")


#: Where a person with a tape found the ball that the film does not show.
MARK_M = (0.12, 8.9)


def mark_by_tape(bench: Path) -> None:
    """That ball, and one that the film shows too: there the film counts."""
    journal = open_journal(bench / "journal.sqlite")
    for number in (1, 2):
        mark = FeedMarked(feed_id=number, seen_by=SeenBy.TAPE, landing_m=MARK_M)
        write_event(journal, 1, UTC_S, mark)
    journal.close()


@pytest.mark.usefixtures("filmed")
def test_a_film_becomes_a_tuned_profile_and_the_steps_are_shown(bench: Path) -> None:
    mark_by_tape(bench)
    kept = [word for key in KEPT for word in ("--keep", key)]
    words = ("--watch", bench / "lesson.mp4", "--journal", bench / "journal.sqlite", *kept)
    result = tune(bench / "mine.toml", *words, "--tape", "6 cm")
    assert result.exit_code == 0, result.output
    for step in (
        "1. The court in",
        "2. The balls of lesson 1",
        "3. Tuned by 9 balls and 1 that were marked by hand",
        "wrote ",
    ):
        assert step in result.stdout
    table = bench / "mine.lesson-1.csv"
    (*rows, marked) = table.read_text().splitlines()
    assert len(rows) == 2 + 9
    mouth_m = planned()[0].launchers[0].mouth_m
    along_m, right_m = MARK_M[1] - mouth_m[1], MARK_M[0] - mouth_m[0]
    assert marked.endswith(f",{along_m:.6g},{right_m:.6g},,,0.06,0.06,0")
    tuned = read_profile(bench / "mine.tuned.toml").profile
    assert tuned is not None
    assert tuned.drive.slip == pytest.approx(SLIP, abs=0.01)
    # The table that was kept gives the same again, without the film.
    command = next(row for row in result.stdout.splitlines() if "the same again: " in row)
    words = shlex.split(command.partition(": ")[2])
    again = tune(*words[2:], *kept, "--format", "json")
    slip = next(one for one in json.loads(again.stdout)["factors"] if one["key"] == "slip")
    assert slip["value"] == pytest.approx(tuned.drive.slip, abs=1e-4)


@pytest.mark.usefixtures("filmed")
def test_a_program_says_what_was_asked_where_no_journal_does(bench: Path) -> None:
    head = PROGRAM.split("lesson {")[0]
    sends = "repeat 5 { send deep after 5 s  send wide after 5 s }"
    (bench / "lesson.feed").write_text(f"{head}lesson {{ show speed of deep  {sends} }}")
    kept = [word for key in KEPT for word in ("--keep", key)]
    words = ("--watch", bench / "lesson.mp4", "--program", bench / "lesson.feed", *kept)
    result = tune(bench / "mine.toml", *words)
    assert result.exit_code == 0, result.output
    assert "2. The balls of the program" in result.stdout
    assert (bench / "mine.lesson.csv").exists()
    tuned = read_profile(bench / "mine.tuned.toml").profile
    assert tuned is not None
    assert tuned.drive.slip == pytest.approx(SLIP, abs=0.01)


@pytest.mark.parametrize(
    ("words", "code", "complaint"),
    [
        (("--watch", "lesson.mp4", "--altitude", "600 m"), 2, "the lesson says it"),
        (("--propose", "--camera-at", "receiver"), 2, "it goes with --watch"),
        (("--watch", "lesson.mp4", "--propose"), 2, "give one of"),
        (("--propose", "--program", "tuesday-two"), 2, "it goes with --watch"),
        (("--watch", "lesson.mp4", "--seed", 3), 2, "--seed goes with --program"),
        (("--watch", "lesson.mp4", "--program", "x", "--lesson", 1), 2, "give --lesson, or"),
        (("--watch", "lesson.mp4"), 1, "video-unusable"),
    ],
)
def test_what_cannot_be_done_is_told_before_anybody_waits(
    bench: Path, words: tuple[object, ...], code: int, complaint: str, monkeypatch
) -> None:
    monkeypatch.chdir(bench)
    journal = () if "--propose" in words else ("--journal", bench / "journal.sqlite")
    result = tune(bench / "mine.toml", *words, *journal)
    assert result.exit_code == code, result.output
    assert complaint in result.output
    assert not list(bench.glob("*.csv"))


def test_a_launcher_that_no_lesson_was_on_is_refused_by_its_name(bench: Path) -> None:
    text = (bench / "mine.toml").read_text().replace("Garage two-wheel", "Another")
    (bench / "other.toml").write_text(text)
    asked = ("--watch", bench / "lesson.mp4", "--journal", bench / "journal.sqlite")
    result = tune(bench / "other.toml", *asked)
    assert result.exit_code == 1
    assert "no lesson in the journal was on 'Another'" in result.output
    assert "--lesson" in result.output
