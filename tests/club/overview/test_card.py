"""What a card says of a court, in each of the ways in which it may be unsure."""

from __future__ import annotations

import json

import msgspec
import pytest

from feedscript.club.batch import Event, Part
from feedscript.club.messages import Court, StopState, StopTold
from feedscript.club.overview.card import Tone, card_of, without_names
from feedscript.club.overview.followed import Followed, begin, follow
from tests.club.overview.courts import is_kind, until

COURT = Court(host="h", name="Court 1", heard=True, since_utc_s=50.0, lesson="1-00000007")
SILENT = msgspec.structs.replace(COURT, heard=False)


def stop(state: StopState) -> StopTold:
    return StopTold(order="0" * 16, host="h", by="the coach", state=state)


@pytest.fixture(scope="module")
def playing(lesson: Part) -> Followed:
    """Balls fly at two stations."""
    assert lesson.header is not None
    begun = begin(lesson.header)
    assert begun is not None
    last = until(lesson, is_kind("outcome", '"left"'), 20)
    found = follow(begun, lesson.events[:last], 50.0)
    assert found is not None
    return found


def told(after: Followed, kind: str, data: str) -> Followed:
    event = Event(number=after.number + 1, utc_s=after.utc_s, kind=kind, launcher=None, data=data)
    found = follow(after, [event], 50.0)
    assert found is not None
    return found


@pytest.mark.parametrize("state", [StopState.ASKED, StopState.HEARD])
def test_until_a_stop_is_acknowledged_the_court_is_stopping(
    playing: Followed, state: StopState
) -> None:
    card = card_of(COURT, playing, stop(state), 50.0)
    assert card.tone is Tone.STOPPING
    assert card.lesson is not None
    assert card.lesson.words == "Stopping"
    assert card.stop is not None
    assert "Stopped" not in card.stop.words


def test_a_stop_that_nobody_confirmed_calls_for_somebody(playing: Followed) -> None:
    card = card_of(COURT, playing, stop(StopState.LOST), 50.0)
    assert card.tone is Tone.ALARM
    assert card.stop is not None
    assert "Go there" in card.stop.words


def test_a_court_not_heard_while_it_plays_calls_for_somebody_and_its_clock_stands(
    playing: Followed,
) -> None:
    early, late = (card_of(SILENT, playing, None, now_s) for now_s in (60.0, 6000.0))
    assert early == late
    assert early.tone is Tone.ALARM
    assert early.lesson is not None
    assert not early.lesson.goes_on
    assert card_of(SILENT, None, None, 60.0).tone is Tone.QUIET


def test_the_clock_goes_as_fast_as_ours_whatever_the_courts_says(playing: Followed) -> None:
    begun = playing.header.begun_utc_s
    odd = msgspec.structs.replace(playing, utc_s=begun - 86_400.0)
    assert odd.run_s(51.0) == 0.0
    assert playing.run_s(62.0) == pytest.approx(playing.run_s(50.0) + 12.0)
    assert playing.run_s(40.0) == playing.run_s(50.0)  # our clock was put back


def test_a_lost_launcher_is_an_alarm_until_the_lesson_is_taken_up_again(playing: Followed) -> None:
    data = '{"event": "link-lost", "launcher": 1, "said": {"device_s": 0.0, "detail": "gone"}}'
    lost = told(playing, "event", data)
    card = card_of(COURT, lost, None, 50.0)
    assert card.tone is Tone.ALARM
    assert card.lesson is not None
    assert [one.alarm for one in card.lesson.launchers] == [False, True]
    broken = told(lost, "happened", '{"happening": "link-lost", "phase": "broken-off"}')
    again = told(broken, "resumed", '{"balls_left": 20}')
    card = card_of(COURT, again, None, 50.0)
    assert card.tone is Tone.PLAIN
    assert card.lesson is not None
    assert [one.words for one in card.lesson.launchers] == ["safe", "safe"]


@pytest.mark.parametrize("watchdog_s", [1.0, None, "untold"])
def test_a_launcher_that_is_reached_no_more_is_still_only_when_its_watchdog_has_had_its_time(
    playing: Followed, watchdog_s: object
) -> None:
    """The lesson's end is written down when that time is over, where there is one."""
    said = "{}" if watchdog_s == "untold" else json.dumps({"watchdog_s": watchdog_s})
    greeted = told(playing, "event", f'{{"event": "hello", "launcher": 1, "said": {said}}}')
    armed = '{"event": "state", "launcher": 1, "said": {"state": "armed", "reason": ""}}'
    data = '{"event": "link-lost", "launcher": 1, "said": {"device_s": 0.0, "detail": "gone"}}'
    lost = told(told(greeted, "event", armed), "event", data)
    broken = told(lost, "happened", '{"happening": "link-lost", "phase": "broken-off"}')
    others_stand = '{"event": "state", "launcher": 0, "said": {"state": "safe", "reason": ""}}'
    card = card_of(COURT, told(broken, "event", others_stand), None, 50.0)
    assert card.lesson is not None
    assert (card.lesson.words, card.tone) == ("Stopping", Tone.ALARM)
    over = told(
        told(broken, "event", others_stand), "ended", '{"phase": "broken-off", "cause": "gone"}'
    )
    card = card_of(COURT, over, None, 50.0)
    assert card.lesson is not None
    still = (card.lesson.words, card.tone) == ("Broken off", Tone.QUIET)
    assert still is (watchdog_s == 1.0)
    assert still or (card.lesson.words, card.tone) == ("Stopping", Tone.ALARM)


@pytest.mark.parametrize(
    ("act", "phase", "state", "hold"),
    [("stop", "stopped", "stopping", False), ("hold", "held", "held", True)],
)
def test_a_state_that_was_told_is_no_acknowledgement(
    playing: Followed, act: str, phase: str, state: str, hold: bool
) -> None:
    """The driver of a described device tells it before the device has answered."""
    after = told(playing, "act", json.dumps({"act": act, "by": "keys", "phase": phase}))
    for launcher in range(2):
        said = {"event": "state", "launcher": launcher, "said": {"state": state, "reason": ""}}
        after = told(after, "event", json.dumps(said))
    for launcher in range(2):
        card = card_of(COURT, after, None, 50.0)
        assert card.lesson is not None
        assert (card.lesson.words, card.tone) == ("Stopping", Tone.STOPPING)
        said = {"event": "acknowledged", "launcher": launcher, "said": {"hold": hold}}
        after = told(after, "event", json.dumps(said))
    card = card_of(COURT, after, None, 50.0)
    assert card.lesson is not None
    assert card.lesson.words == ("Held" if hold else "Stopped")


def test_whoever_may_see_no_names_is_sent_none(playing: Followed) -> None:
    card = card_of(COURT, playing, None, 50.0)
    players = [player.name for player in playing.plan.group.players]
    whole, bare = (
        str(msgspec.to_builtins(one, enc_hook=str)) for one in (card, without_names(card))
    )
    assert [name for name in players if f"'on': '{name}'" in whole]
    assert not [name for name in players if f"'{name}'" in bare or f"{name} to" in bare]


def test_what_is_missing_or_unknown_is_not_guessed(playing: Followed, lesson: Part) -> None:
    assert lesson.header is not None
    after = lesson.events[playing.number + 1 : playing.number + 2]
    assert follow(playing, after, 50.0) is None  # one is missing between
    odd = Event(number=playing.number + 1, utc_s=1.0, kind="newer", launcher=None, data="{}")
    assert follow(playing, [odd], 50.0) is None
    impossible = msgspec.structs.replace(odd, kind="resumed", data='{"balls_left": "many"}')
    assert follow(playing, [impossible], 50.0) is None
    assert follow(playing, lesson.events[:5], 50.0) == playing  # old ones again
    assert begin(msgspec.structs.replace(lesson.header, plan='{"version": 999}')) is None
