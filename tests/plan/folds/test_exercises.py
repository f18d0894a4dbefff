"""Exercises, and a person's jumps among them: what the tree says holds in every such run."""

from __future__ import annotations

import random
from collections import Counter

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from feedscript.plan.folds.across import across
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.folds.pairs import pairs
from feedscript.plan.interpreter.actions import (
    Action,
    Ask,
    BeginExercise,
    PickUp,
    Reply,
    SendBall,
    ToStep,
    WatchSpeed,
)
from feedscript.plan.interpreter.interpret import interpret
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Collect, Exercise, Plan, ShowSpeed
from feedscript.safety.hazards.order import sends
from feedscript.safety.hazards.work import balls_of_each
from tests.plan.folds.test_against_brute_force import _apart_of, _end_ms, _pairs_of
from tests.plan.random_plans import exercises
from tests.plan.small_plans import plan, send

FILTERED = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]


class Jumping:
    """Somebody who answers at random, and jumps wherever it is allowed."""

    def __init__(self, whole: Plan, seed: int, often: float = 0.15) -> None:
        self.whole, self.often = whole, often
        self.random = random.Random(seed)
        self.begun: Counter[int] = Counter()
        self.left: list[Action] = []  # actions that a jump was answered to: they are not done

    def at_step(self, step: int) -> None:
        self.begun[step] += 1

    def run(self) -> list[Action]:
        """What was done."""
        actions = list(run_through(self.whole, self.reply, at_step=self.at_step))
        return [one for one in actions if not any(one is other for other in self.left)]

    def reply(self, action: Action) -> Reply:
        targets = self.targets()
        if not action.station and targets and self.random.random() < self.often:
            self.left.append(action)
            return ToStep(self.random.choice(targets))
        if isinstance(action, Ask):
            return self.random.random() < 0.5
        return None

    def targets(self) -> list[int]:
        steps = self.whole.steps
        if not any(isinstance(one, Exercise) for one in steps):
            return []
        most = [1 + one.repeats if isinstance(one, Exercise) else 1 for one in steps]
        return [step for step in range(len(steps)) if self.begun[step] < most[step]] + [len(steps)]


def agrees(whole: Plan, seed: int) -> None:
    person = Jumping(whole, seed)
    run = person.run()
    event(f"{min(len(person.left), 3)} jumps")
    found = bounds(whole)
    balls = [one for one in run if isinstance(one, SendBall | WatchSpeed)]
    assert len(balls) <= found.most_balls
    most_s = found.repeated_s if found.repeated_s is not None else found.time_s[1]
    assert _end_ms(run) / 1000 <= most_s + 1e-9
    met: dict = {}
    _pairs_of(run, whole, met)
    known = {(one.launcher, one.before, one.after): one.least_gap_s for one in pairs(whole)}
    assert met.keys() <= known.keys()
    assert all(known[key] <= gap / 1000 + 1e-9 for key, gap in met.items())
    near: dict = {}
    _apart_of(run, whole, near)
    beside = {(one.before, one.after): one.least_gap_s for one in across(whole)}
    assert near.keys() <= beside.keys()
    assert all(beside[key] <= gap / 1000 + 1e-9 for key, gap in near.items())
    assert_each_as_often_as_it_may(person)
    assert_shown_before_sent(whole, run)
    assert_share(whole, run)


def assert_each_as_often_as_it_may(person: Jumping) -> None:
    for number, step in enumerate(person.whole.steps):
        most = 1 + step.repeats if isinstance(step, Exercise) else 1
        assert person.begun[number] <= most


def assert_shown_before_sent(whole: Plan, run: list[Action]) -> None:
    """Whatever was passed over, a ball comes no sooner after nothing faster than certified."""
    least = {
        (one.feed, one.line): one.shown_mps
        for one in sends(whole.steps, whole.feeds, len(whole.launchers))
    }
    shown = dict.fromkeys(range(len(whole.launchers)), 0.0)
    for action in run:
        if isinstance(action, WatchSpeed):
            speed = whole.feeds[action.feed].speed_mps
            shown[action.launcher] = max(shown[action.launcher], speed)
        elif isinstance(action, SendBall):
            assert shown[action.launcher] >= least[action.feed, action.line]


def assert_share(whole: Plan, run: list[Action]) -> None:
    """What one player gets in turns, of a plan in which all balls come in turns."""
    sent = [one for one in run if isinstance(one, SendBall)]
    if whole.group.players and all(one.player is not None for one in sent):
        each = Counter(one.player for one in sent)
        assert max(each.values(), default=0) <= max(balls_of_each(whole)) + 1e-9


@settings(max_examples=300, suppress_health_check=FILTERED)
@given(exercises(), st.integers(0, 2**32))
def test_what_is_known_of_a_lesson_holds_whatever_a_person_jumps_to(whole, seed):
    agrees(whole, seed)


@pytest.mark.long
@pytest.mark.timeout(3600)
@settings(max_examples=5000, suppress_health_check=FILTERED)
@given(exercises(2), st.integers(0, 2**32))
def test_so_it_does_in_5000_lessons(whole, seed):
    agrees(whole, seed)


A, B = (
    Exercise(title=title, repeats=1, body=(send(feed, 4.0), send(feed, 4.0)), line=2 + feed)
    for feed, title in ((0, "A"), (1, "B"))
)
LESSON = plan(ShowSpeed(feed=0, line=1), A, ShowSpeed(feed=1, line=1), B, Collect(line=9))


def walk(*replies: tuple[int, Reply]) -> list[str]:
    """The actions of the lesson, in short, with these replies to those of these numbers."""
    steps, told, found = interpret(LESSON), dict(replies), []
    action = next(steps)
    try:
        while True:
            found.append(_short(action))
            action = steps.send(told.get(len(found) - 1))
    except StopIteration:
        return found


def _short(action: Action) -> str:
    match action:
        case BeginExercise(title=title):
            return title
        case WatchSpeed(feed=feed):
            return f"show {feed}"
        case SendBall(feed=feed):
            return f"send {feed}"
        case PickUp():
            return "collect"
        case _:
            return "."


def test_a_lesson_without_jumps_goes_through_its_exercises():
    assert walk() == [
        *("show 0", "A", "send 0", "send 0", ".", "show 1", "B", "send 1", "send 1", "."),
        "collect",
    ]


def test_a_jump_ahead_collects_first_and_shows_what_should_have_been_shown():
    assert walk((2, ToStep(3))) == [
        *("show 0", "A", "send 0", "collect", "show 1", "B", "send 1", "send 1", "."),
        "collect",
    ]


def test_after_a_jump_back_what_was_done_is_not_done_again():
    assert walk((7, ToStep(1))) == [
        *("show 0", "A", "send 0", "send 0", ".", "show 1", "B", "send 1"),
        *("collect", "A", "send 0", "send 0", ".", "collect"),
    ]


def test_an_exercise_without_a_repeat_left_is_passed_over():
    again = ((7, ToStep(1)), (12, ToStep(1)))
    found = walk(*again)
    assert found.count("A") == 2
