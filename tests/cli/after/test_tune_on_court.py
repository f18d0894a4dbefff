"""``feedscript tune --run``: which lesson it runs, and what it makes of the marks in it.

The page on which balls are sent and marked is looked at in ``tests/console/test_measuring.py``.
"""

from __future__ import annotations

import json
import time
from pathlib import Path

import msgspec
import numpy as np
import pytest

from feedscript.check.tuning_lesson import TuningLesson, title_of, tuning_lesson
from feedscript.cli.after import tune_on_court
from feedscript.flight.air import air_at
from feedscript.flight.motion.conditions import Conditions
from feedscript.journal.store import SessionStart, open_journal
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.launcher.tuning.shots import BY_HAND, predicted
from feedscript.launcher.tuning.write import write_beside
from feedscript.plan.canonical import canonical_bytes
from feedscript.plan.model import Plan
from feedscript.session.operator.commands import SeenBy
from feedscript.session.state.event_log import write_event
from feedscript.session.state.events import EVENT_FORMAT, FeedMarked
from feedscript.shipped import shipped_folder
from tests.cli.after.test_tune import tune
from tests.launcher.tuning.synthetic import profile_named, thrown
from tests.watch.lesson_filmed import write_balls

GARAGE = profile_named("garage")
AIR = Conditions(air=air_at(0.0, 20.0, None, None, (0.0, 0.0)))
BALLS = 3
SLIP = 0.86


@pytest.fixture(scope="module")
def lesson() -> TuningLesson:
    path = shipped_folder() / "launchers" / "garage.toml"
    found = tuning_lesson(path, GARAGE, AIR, BY_HAND, items=("court { air 20 C }",))
    assert isinstance(found, TuningLesson)
    return found


@pytest.fixture(scope="module")
def plan(lesson: TuningLesson) -> Plan:
    assert lesson.verdict.plan is not None, lesson.verdict.diagnostics
    return lesson.verdict.plan


def test_the_most_telling_balls_make_a_lesson_that_passes_every_rule(
    lesson: TuningLesson, plan: Plan
) -> None:
    """And the launcher is set as the design has it, so that each ball tells what it is to tell."""
    assert lesson.verdict.ok
    wanted = {one.setting.drives: one.setting for one in lesson.design.proposals}
    assert len(plan.feeds) == len(wanted) == 8
    for feed in plan.feeds:
        one = wanted[feed.setting.drives]
        assert feed.setting.tilt_deg == pytest.approx(one.tilt_deg, abs=0.02)
        assert feed.setting.pan_deg == pytest.approx(one.pan_deg, abs=0.02)
    assert {feed.setting.pan_deg > 1 for feed in plan.feeds} == {True, False}
    assert all(half <= factor.useful for factor, half in lesson.design.expected)


def write_lesson(folder: Path, plan: Plan, ending: str | None, marks: dict[int, SeenBy]) -> None:
    """Lesson 1 of a garage launcher that slips more than its profile says, each ball marked."""
    journal = open_journal(folder / "journal.sqlite")
    number = journal.begin_session(
        SessionStart(
            token=1,
            begun_utc_s=time.time() - 600,
            title=title_of(GARAGE),
            source=str(folder / "mine.toml"),
            rehearsal=False,
            plan=canonical_bytes(plan),
            profiles=msgspec.json.encode((read_profile(folder / "mine.toml").profile,)),
            group_json=msgspec.json.encode(plan.group).decode(),
            event_format=EVENT_FORMAT,
        )
    )
    left_s = [8.0 * count for count in range(BALLS * len(plan.feeds))]
    write_balls(journal, number, plan, left_s)
    for event in marked(plan, len(left_s), marks):
        write_event(journal, number, time.time(), event)
    if ending is not None:
        journal.end_session(number, ending, time.time())
    journal.close()


def marked(plan: Plan, balls: int, marks: dict[int, SeenBy]) -> list[FeedMarked]:
    """Seen from behind the launcher, some 20 cm off."""
    random = np.random.default_rng(6)
    drive = msgspec.structs.replace(GARAGE.drive, slip=SLIP)
    truth = msgspec.structs.replace(GARAGE, drive=drive)
    settings = [plan.feeds[count % len(plan.feeds)].setting for count in range(balls)]
    shots = thrown(truth, settings, 1, random)
    mouth_m, events = plan.launchers[0].mouth_m, []
    for number, (along_m, right_m, *_) in enumerate(shots.seen.tolist(), start=1):
        seen_by = marks.get(number, SeenBy.EYE)
        place = np.add((mouth_m[0] + right_m, mouth_m[1] + along_m), random.normal(0, 0.2, 2))
        told = seen_by in (SeenBy.EYE, SeenBy.TAPE)
        x_m, y_m = place.tolist()
        events.append(
            FeedMarked(feed_id=number, seen_by=seen_by, landing_m=(x_m, y_m) if told else None)
        )
    return events


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    text = (shipped_folder() / "launchers" / "garage.toml").read_text()
    assert write_beside(tmp_path / "x", text, tmp_path / "mine.toml") == tmp_path / "mine.toml"
    return tmp_path


def run(bench: Path, *words: object):
    on = ("--on", "sim:", "--journal", bench / "journal.sqlite")
    return tune(bench / "mine.toml", "--run", *on, *words)


def test_the_marks_of_a_lesson_that_is_over_become_a_tuned_profile(bench: Path, plan: Plan) -> None:
    write_lesson(bench, plan, "finished", {2: SeenBy.NOBODY, 5: SeenBy.TAPE})
    result = run(bench, "--lesson", 1, "--format", "json")
    assert result.exit_code == 0, result.output
    told = json.loads(result.stdout)
    assert told["landings"] == str(bench / "mine.lesson-1.csv")
    tuned = read_profile(bench / "mine.tuned.toml").profile
    assert tuned is not None
    assert tuned.drive.slip == pytest.approx(SLIP, abs=0.03)
    gain = told["improvement"]
    assert gain["after"]["most_m"] < gain["before"]["least_m"]
    rows = (bench / "mine.lesson-1.csv").read_text().splitlines()
    assert len(rows) == 2 + BALLS * len(plan.feeds) - 1
    assert sum(row.endswith(",0.04,0.04,0") for row in rows) == 1  # the one by tape
    settings = [feed.setting for feed in plan.feeds]
    off = predicted(tuned, settings, AIR)[:, 0] - predicted(GARAGE, settings, AIR)[:, 0]
    assert np.all(off < -0.5)  # it throws shorter than the profile said


def test_a_lesson_that_is_not_over_is_gone_on_with(
    bench: Path, plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_lesson(bench, plan, None, {})
    gone_on: list[int | None] = []

    def lesson(_: object, number: int | None, __: object) -> int:
        gone_on.append(number)
        return 1

    monkeypatch.setattr(tune_on_court, "_run", lesson)
    result = run(bench)
    assert result.exit_code == 0, result.output
    assert gone_on == [1]
    assert "24 balls are marked" in result.stdout
    assert "it is not over, and nothing is lost" in result.stdout
    assert not list(bench.glob("*.tuned.toml"))


def test_balls_that_were_filmed_wait_for_their_film(bench: Path, plan: Plan) -> None:
    write_lesson(bench, plan, "finished", {3: SeenBy.FILM, 4: SeenBy.FILM})
    result = run(bench, "--lesson", 1)
    assert result.exit_code == 0, result.output
    assert "2 to be found in a film" in result.stdout
    assert "--watch FILM --lesson 1" in result.stdout


def test_another_lesson_is_none_of_tuning(bench: Path, plan: Plan) -> None:
    write_lesson(bench, plan, "finished", {})
    result = run(bench, "--lesson", 9)
    assert result.exit_code == 1
    assert "lesson 9 is none of tuning this launcher" in result.output
