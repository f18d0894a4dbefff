"""Pairing codes work once and briefly; control is held by one; guessing gets nowhere."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from feedscript.console.access import (
    ALPHABET,
    CODE_LENGTH,
    CODE_LIFE_S,
    CONTROL_SILENCE_S,
    TOKEN_LIFE_S,
    Access,
    Device,
    Role,
)
from feedscript.diagnostics import Diagnostic
from tests.console.conftest import Stage


class Clock:
    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def access(clock: Clock) -> Access:
    return Access(clock)


def paired(access: Access, role: Role = Role.COACH, name: str = "phone") -> tuple[str, Device]:
    done = access.pair(access.new_code(role), name)
    assert not isinstance(done, Diagnostic)
    return done.token, done.device


def test_a_code_works_once(access: Access) -> None:
    code = access.new_code(Role.COACH)
    assert not isinstance(access.pair(code, "phone"), Diagnostic)
    assert isinstance(access.pair(code, "phone"), Diagnostic)


def test_a_code_may_be_typed_in_small_letters_with_a_hyphen(access: Access) -> None:
    code = access.new_code(Role.VIEWER).lower()
    assert not isinstance(access.pair(f" {code[:4]}-{code[4:]} ", "tv"), Diagnostic)


def test_a_code_grows_stale(access: Access, clock: Clock) -> None:
    code = access.new_code(Role.COACH)
    clock.now += CODE_LIFE_S + 1
    assert isinstance(access.pair(code, "phone"), Diagnostic)


def test_a_newer_code_replaces_the_older_one_of_its_role(access: Access) -> None:
    old, viewer = access.new_code(Role.COACH), access.new_code(Role.VIEWER)
    access.new_code(Role.COACH)
    assert isinstance(access.pair(old, "phone"), Diagnostic)
    assert not isinstance(access.pair(viewer, "tv"), Diagnostic)


def test_ten_thousand_wrong_codes_never_lock_the_right_one_out(access: Access) -> None:
    code = access.new_code(Role.COACH)
    for guess in range(10_000):
        assert isinstance(access.pair(f"{guess:010d}", "stranger"), Diagnostic)
    assert not isinstance(access.pair(code, "phone"), Diagnostic)


def test_a_code_is_out_of_reach_of_whoever_guesses_as_fast_as_any_server_hears() -> None:
    guesses = 5_000 * CODE_LIFE_S
    assert guesses / len(ALPHABET) ** CODE_LENGTH < 1e-8
    assert len(set(ALPHABET)) == len(ALPHABET)


def test_a_token_is_no_token_after_its_time(access: Access, clock: Clock) -> None:
    token, device = paired(access)
    assert access.device(token) == device
    clock.now += TOKEN_LIFE_S + 1
    assert access.device(token) is None
    assert access.device("made up") is None
    assert access.device(None) is None
    assert access.device("") is None


def test_control_is_taken_from_a_silent_device_only(access: Access, clock: Clock) -> None:
    _, first = paired(access, name="first")
    _, second = paired(access, name="second")
    assert access.take_control(first) is None
    refused = access.take_control(second)
    assert refused is not None
    assert "first holds control" in refused.message
    clock.now += CONTROL_SILENCE_S - 1
    access.keep_alive(first)
    clock.now += CONTROL_SILENCE_S - 1
    assert access.take_control(second) is not None
    clock.now += 2
    assert access.take_control(second) is None
    assert not access.holds_control(first)


def test_a_viewer_never_gets_control(access: Access) -> None:
    _, viewer = paired(access, Role.VIEWER)
    assert access.take_control(viewer) is not None
    assert not access.holds_control(viewer)


class ControlOfALesson(RuleBasedStateMachine):
    """However devices come, speak and fall silent, at most one holds control, and it is a coach."""

    @initialize()
    def begin(self) -> None:
        self.clock = Clock()
        self.access = Access(self.clock)
        self.devices: list[Device] = []

    @rule(role=st.sampled_from(Role))
    def pair(self, role: Role) -> None:
        self.devices.append(paired(self.access, role)[1])

    @precondition(lambda self: self.devices)
    @rule(data=st.data(), seconds=st.floats(0, 20))
    def take(self, data: st.DataObject, seconds: float) -> None:
        self.clock.now += seconds
        self.access.take_control(data.draw(st.sampled_from(self.devices)))

    @precondition(lambda self: self.devices)
    @rule(data=st.data())
    def hand_over(self, data: st.DataObject) -> None:
        self.access.hand_over(data.draw(st.sampled_from(self.devices)))

    @invariant()
    def one_coach_at_most(self) -> None:
        holders = [device for device in self.devices if self.access.holds_control(device)]
        assert len(holders) <= 1
        assert all(device.role is Role.COACH for device in holders)


TestControlOfALesson = ControlOfALesson.TestCase


def test_the_review_is_for_a_coachs_device_and_not_while_the_lesson_runs(stage: Stage) -> None:
    """The same walls as for all else: a stranger and the group's screen get nothing of it."""
    view = stage.lesson.view
    over = msgspec.structs.replace(view, private=msgspec.structs.replace(view.private, review=True))
    answers = []
    for role in (None, Role.VIEWER, Role.COACH):
        if role is not None:
            stage.pair(role)
        for now in (view, over):
            stage.lesson.change(now)
            answer = stage.client.get("/review")
            answers.append(answer.status_code)
            assert ("REVIEW" in answer.text) == (answer.status_code == 200)
    assert answers == [403, 403, 403, 403, 409, 200]
    policy = answer.headers["content-security-policy"]
    assert "script-src" not in policy
    assert "default-src 'none'" in policy
