"""What can be pressed in each phase: the table of phases judges it, and no key means two things."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.plan.model import Result
from feedscript.session.operator.commands import RecordResult, SimpleCommand
from feedscript.session.operator.controls import (
    Area,
    Control,
    Situation,
    control_of_key,
    controls_in,
)
from feedscript.session.operator.phase_words import PHASES
from feedscript.session.operator.phases import ENDED, TO_EXERCISES, TRANSITIONS, Act, Phase

situations = st.builds(
    Situation,
    phase=st.sampled_from(Phase),
    stopping=st.booleans(),
    closed=st.booleans(),
    next_step=st.none() | st.just("power"),
    asked_about=st.none() | st.just(9),
    balls=st.booleans(),
    records=st.booleans(),
    exercise=st.booleans(),
    on_request=st.booleans(),
    asked=st.booleans(),
    target=st.booleans(),
    hour=st.booleans(),
    near_end=st.booleans(),
    ends_at_hour=st.booleans(),
)


@given(situations)
def test_a_clicker_counts_shots_in_the_target_where_there_is_one(now: Situation) -> None:
    pressed = control_of_key(controls_in(now), "PageDown")
    back = control_of_key(controls_in(now), "PageUp")
    assert pressed is not None
    assert back is not None
    target = next(control for control in controls_in(now) if control.name == "target")
    records = "target" if target.shown else "in"
    assert (pressed.name, back.name) == ("send-one" if now.on_request else records, "undo")
    assert now.target or not (target.shown or target.can_be_done)


def acts(controls: tuple[Control, ...]) -> dict[Act, Control]:
    return {
        control.command.act: control
        for control in controls
        if isinstance(control.command, SimpleCommand)
    }


@given(situations)
def test_no_key_means_two_things(now: Situation) -> None:
    keys = Counter(key for control in controls_in(now) for key in control.keys)
    assert not [key for key, count in keys.items() if count > 1]


@given(situations)
def test_what_can_be_done_is_what_the_table_of_phases_holds(now: Situation) -> None:
    """After the end only the wait for late taps may be ended; nothing while a launcher is not
    still, that would bring somebody near it or set it going."""
    near = {Act.SET_UP_AGAIN, Act.COLLECTED, Act.GO_ON}
    for act, control in acts(controls_in(now)).items():
        can = (now.phase, act) in TRANSITIONS or (now.phase in ENDED and act is Act.QUIT)
        if now.closed or (now.stopping and act in near):
            can = False
        if act in TO_EXERCISES and not now.exercise:
            can = False
        if act is Act.SEND_ONE and (now.asked or not now.on_request):
            can = False
        if act in (Act.END_AT_HOUR, Act.PLAY_ON) and (
            not now.hour or now.ends_at_hour is (act is Act.END_AT_HOUR)
        ):
            can = False
        assert control.can_be_done is can, act


@given(situations)
def test_the_stops_are_always_shown_and_always_sent(now: Situation) -> None:
    for act in (Act.STOP, Act.EMERGENCY_STOP):
        stop = acts(controls_in(now))[act]
        assert stop.shown
        assert stop.at_once
        assert stop.area is Area.STOP
    assert control_of_key(controls_in(now), "s") is acts(controls_in(now))[Act.STOP]


@given(situations)
def test_what_is_not_possible_says_why_and_what_is_shown_outside_the_pad_is_possible(
    now: Situation,
) -> None:
    for control in controls_in(now):
        if control.why_not:
            assert control.why_not.startswith(f"{control.label}: not now, ")
            always = (Area.PAD, Area.STOP, Area.REQUEST)
            assert control.area in always or not control.shown


@given(situations)
def test_a_yes_must_have_been_read_and_a_hold_never_waits(now: Situation) -> None:
    yes = control_of_key(controls_in(now), "Enter")
    assert yes is None or (yes.to_be_read and yes.shown)
    assert acts(controls_in(now))[Act.HOLD].at_once


@pytest.mark.parametrize(
    ("phase", "yes"),
    [
        (Phase.CONNECTING, None),
        (Phase.SETTING_UP, "Done"),
        (Phase.ARMING, None),
        (Phase.SHOWING, "Nobody in front: send it"),
        (Phase.WATCHING, None),
        (Phase.JUDGING, "Speed is right"),
        (Phase.READY, "Go on"),
        (Phase.RUNNING, None),
        (Phase.REGROUPING, None),
        (Phase.HELD, "Go on"),
        (Phase.MAKING_SAFE, None),
        (Phase.COLLECTING, "All collected"),
        (Phase.ASKING, None),
        (Phase.STOPPED, "Set up again"),
        (Phase.DISARMING, None),
        (Phase.FINISHED, "End lesson"),
        (Phase.BROKEN_OFF, "End lesson"),
    ],
)
def test_what_enter_says_yes_to(phase: Phase, yes: str | None) -> None:
    step = "power" if phase is Phase.SETTING_UP else None
    found = control_of_key(controls_in(Situation(phase=phase, next_step=step)), "Enter")
    assert (found and found.label) == yes


def test_a_clicker_records_and_sends_a_ball_where_they_come_on_request() -> None:
    """Its second button takes back a result either way."""
    for on_request, first in ((False, "In"), (True, "Send one")):
        now = Situation(phase=Phase.RUNNING, on_request=on_request)
        for key, label in (("PageDown", first), ("PageUp", "Undo")):
            found = control_of_key(controls_in(now), key)
            assert found is not None
            assert found.label == label


def test_to_leave_balls_on_request_is_to_say_that_there_are_enough() -> None:
    for on_request, label in ((False, "Next"), (True, "Enough")):
        now = Situation(phase=Phase.RUNNING, on_request=on_request)
        assert acts(controls_in(now))[Act.NEXT].label == label


def test_enter_ends_no_lesson_when_the_list_is_done_or_a_launcher_is_not_still() -> None:
    for now in (
        Situation(phase=Phase.SETTING_UP),
        Situation(phase=Phase.STOPPED, stopping=True),
    ):
        assert control_of_key(controls_in(now), "Enter") is None


def test_every_act_result_and_phase_has_its_words() -> None:
    controls = controls_in(Situation(phase=Phase.RUNNING))
    assert set(acts(controls)) == set(Act) - {Act.CONFIRM, Act.ANSWER, Act.TO_EXERCISE}
    recorded = {c.command.result for c in controls if isinstance(c.command, RecordResult)}
    assert recorded == set(Result)
    assert set(PHASES) == set(Phase)


@given(situations)
def test_the_pad_lies_as_the_court_lies(now: Situation) -> None:
    """Three by three, seen from behind the player: long is up, the net is down. Beside them the one
    for a target, which lies where it will."""
    pad = [control.name for control in controls_in(now) if control.area is Area.PAD]
    assert pad == [
        "undo", "long", "next",
        "left", "in", "right",
        "slower", "net", "faster",
        "target",
    ]  # fmt: skip
