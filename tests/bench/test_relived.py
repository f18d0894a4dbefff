"""A capture lived through again: the same host decides the same, and a changed one is named."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from feedscript_drivers.transports.decisions import (
    HAND,
    RACE,
    Decision,
    decisions,
    like,
    parting_of,
)
from feedscript_drivers.transports.replay import Timed, read_timed
from feedscript_drivers.wire import wire_launcher
from feedscript_drivers.wire.messages import Command, EventLine
from feedscript_drivers.wire.protocol import StopCharacter
from feedscript_drivers.wire.wire_launcher import WireLauncher
from msgspec.structs import replace

from feedscript.bench.relived import Parted, relive
from feedscript.cli import verbs
from feedscript.launcher.port import ScheduledFeed, StopCategory
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.session.rehearsal.tried import Tried
from tests.bench.trials.programs import LESSON, checked, shipped

Patch = pytest.MonkeyPatch


def captured(path: Path, fault: str = "") -> Path:
    trials = (shipped()[fault],) if fault else ()
    verdict = checked()
    assert verdict.plan is not None
    tried = Tried(trials, capture=path)
    rehearse(verdict.plan, verdict.profiles, "lesson.feed", tried=tried)
    return path


def lived_again(capture: Path, fault: str = "") -> tuple[Parted, ...]:
    trials = (shipped()[fault],) if fault else ()
    verdict = checked()
    assert verdict.plan is not None
    return relive(verdict.plan, verdict.profiles, "lesson.feed", [capture], trials)


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return captured(tmp_path_factory.mktemp("then") / "lesson.capture")


@pytest.fixture(scope="module")
def held(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return captured(tmp_path_factory.mktemp("then") / "held.capture", "the coach holds")


def test_the_same_host_decides_the_same(lesson: Path) -> None:
    found = list(decisions(read_timed(lesson)))
    assert sum(one.words.startswith("FEED") for one in found) == 20
    assert lived_again(lesson) == ()


def test_what_was_decided_at_one_moment_has_no_order() -> None:
    """Two captures whose tasks were due together part nowhere; two moments are never exchanged."""
    ball = Decision(2.0, "FEED 1", leaves_s=5.0)
    stop, hold = Decision(2.0, "the character for stop"), Decision(2.5, "the character for hold")
    assert like([ball, stop, hold], [stop, ball, hold]) == [ball, stop, hold]
    assert like([ball, hold, stop], [ball, stop, hold]) == [ball, stop, hold]
    assert like([ball, stop], [stop]) == [stop]


#: Faults of launcher and link of which the capture has all that the host heard.
FAULTS = ("a ball jams", "the answer to a feed is lost", "the coach holds")


@pytest.mark.parametrize("fault", FAULTS)
def test_so_it_does_where_something_went_wrong(tmp_path: Path, fault: str) -> None:
    assert lived_again(captured(tmp_path / "then.capture", fault), fault) == ()


def test_a_race_parts_nowhere_or_is_said_to_be_one(tmp_path: Path) -> None:
    """Whether a ball is still asked for as the launcher's fault is told is chance, every time."""
    fault = "two balls come at once"
    parted = lived_again(captured(tmp_path / "then.capture", fault), fault)
    assert [one.undecided for one in parted if one.undecided != RACE] == []


FEED = Timed(2.0, Command(7, "FEED", (1, 5000, 2307, 2307, 0, 0, 1507, 0)))
FAULT = Timed(2.0, EventLine(3, 2000, "FAULT", (6, 0)))
STOPS = Timed(2.1, StopCharacter.STOP)
DISARMS = Timed(4.0, Command(9, "DISARM"))


@pytest.mark.parametrize(
    ("then", "now", "why"),
    [
        ([FAULT, STOPS, DISARMS], [FAULT, FEED, STOPS, DISARMS], RACE),
        ([FEED, FAULT, STOPS, DISARMS], [FAULT, STOPS, DISARMS], RACE),
        ([replace(FAULT, at_s=1.9), STOPS], [replace(FAULT, at_s=1.9), FEED, STOPS], ""),
        ([STOPS, DISARMS], [FEED, STOPS, DISARMS], ""),
        ([STOPS, DISARMS], [DISARMS], HAND),
        ([STOPS, DISARMS], [replace(DISARMS, at_s=2.1)], ""),
        ([DISARMS], [STOPS, DISARMS], ""),
    ],
)
def test_only_what_chance_or_a_hand_may_decide_is_undecided(
    then: list[Timed], now: list[Timed], why: str
) -> None:
    parting = parting_of(then, now)
    assert parting is not None
    assert parting.undecided == why, parting


def test_a_hand_that_is_not_there_now_is_said(held: Path) -> None:
    (one,) = lived_again(held)
    assert one.undecided == HAND
    assert lived_again(held, "the coach holds") == ()


# -- drivers that are changed


def _drives(patch: Patch) -> None:
    fields = wire_launcher.setting_fields
    patch.setattr(
        wire_launcher, "setting_fields", lambda one: (fields(one)[0] + 1, *fields(one)[1:])
    )


def _pan(patch: Patch) -> None:
    fields = wire_launcher.setting_fields
    patch.setattr(
        wire_launcher,
        "setting_fields",
        lambda one: (*fields(one)[:3], -fields(one)[3], *fields(one)[4:]),
    )


def _later(patch: Patch) -> None:
    schedule = WireLauncher.schedule

    async def late(self: WireLauncher, feed: ScheduledFeed) -> None:
        await schedule(self, replace(feed, leave_at_device_s=feed.leave_at_device_s + 0.2))

    patch.setattr(WireLauncher, "schedule", late)


def _ceiling(patch: Patch) -> None:
    arm = WireLauncher.arm

    async def higher(self: WireLauncher, ceiling: tuple[float, ...]) -> None:
        await arm(self, tuple(one + 100 for one in ceiling))

    patch.setattr(WireLauncher, "arm", higher)


def _prepares(patch: Patch) -> None:
    schedule = WireLauncher.schedule

    async def twice(self: WireLauncher, feed: ScheduledFeed) -> None:
        await self._do("HOLD")
        await schedule(self, feed)

    patch.setattr(WireLauncher, "schedule", twice)


def _stops(patch: Patch) -> None:
    async def stop(self: WireLauncher) -> None:
        await self.stop(StopCategory.RUN_DOWN)

    patch.setattr(WireLauncher, "disarm", stop)


def _stops_for_hold(patch: Patch) -> None:
    patch.setattr(WireLauncher, "hold", lambda self: self.stop(StopCategory.RUN_DOWN))


#: A change, and what is told of it: what it was, and what it is now.
CHANGES: list[tuple[Callable[[Patch], None], str, str]] = [
    (_drives, "FEED 1 2307 2307", "FEED 1 2308 2307"),
    (_later, "FEED 1", "FEED 1"),
    (_ceiling, "ARM 2307", "ARM 2407"),
    (_prepares, "FEED 1", "HOLD"),
    (_stops, "DISARM", "the character for stop"),
]


@pytest.mark.parametrize(("change", "then", "now"), CHANGES)
def test_a_changed_driver_is_told_by_its_first_other_decision(
    monkeypatch: Patch, lesson: Path, change: Callable[[Patch], None], then: str, now: str
) -> None:
    change(monkeypatch)
    (one,) = lived_again(lesson)
    assert (one.then.startswith(then), one.now.startswith(now)) == (True, True), one
    assert one.then != one.now


def test_a_hold_that_became_a_stop_is_told(monkeypatch: Patch, held: Path) -> None:
    _stops_for_hold(monkeypatch)
    (one,) = lived_again(held, "the coach holds")
    assert (one.then, one.now) == ("the character for hold", "the character for stop")


def test_a_pan_to_the_other_side_is_told_at_the_first_ball_that_has_one(
    monkeypatch: Patch, lesson: Path
) -> None:
    _pan(monkeypatch)
    (one,) = lived_again(lesson)
    assert one.then.split()[1] == one.now.split()[1] == "3"


# -- the command


def typed(*words: object) -> tuple[int, str]:
    result: Any = CliRunner().invoke(verbs, list(map(str, words)))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, result.output


def test_the_command_says_where_it_parts(monkeypatch: Patch, lesson: Path, tmp_path: Path) -> None:
    program = tmp_path / "lesson.feed"
    program.write_text(LESSON, encoding="utf-8")
    words = ("relive", program, "--capture", lesson)
    assert typed(*words)[0] == 0
    assert typed("relive", program)[0] == 2
    assert typed("relive", program, "--capture", program)[0] == 3
    _ceiling(monkeypatch)
    code, told = typed(*words)
    assert (code, "decision 2" in told, "ARM 2407" in told) == (1, True, True), told
    assert '"decision": 2' in typed(*words, "--format", "json")[1]
