"""A mapped device fed through the lesson: what left, by the device, held to what was meant."""

from __future__ import annotations

import anyio
import pytest
from feedscript_drivers.mapped.aim import Aim
from feedscript_drivers.mapped.launcher import MappedLauncher
from feedscript_simulator.mapped_devices import DEVICES, DeviceStream, framed

from feedscript.launcher.setting import Setting
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.phases import Act, Phase
from tests.drivers.mapped.mapped_sessions import drawn, plan_of, run_lesson
from tests.session.coach import say, see_balls, see_phase

SLOW = Setting(drives=(1200.0, 1000.0), pan_deg=-6.0, tilt_deg=4.0)
FAST = Setting(drives=(2800.0, 2400.0), pan_deg=9.0, tilt_deg=12.0)
ANSWERS_S = (0.0, pytest.param(0.01, marks=pytest.mark.long), 0.3)


def faults(engine: Engine) -> list[str]:
    return [found.message for found in engine.lesson.troubles if found.slug == "launcher-fault"]


@pytest.mark.parametrize("answer_s", ANSWERS_S)
@pytest.mark.parametrize("name", DEVICES)
def test_every_ball_leaves_at_its_own_setting(name: str, answer_s: float) -> None:
    order = [1, 0, 0, 1, 1, 0]
    session = run_lesson(plan_of([SLOW, FAST], order), name, lambda: answer_s)
    assert session.ending.phase is Phase.FINISHED, session.ending.diagnostics
    assert session.strays() == []
    assert len(session.device.hardware.left) == len(order) + 1
    assert {ball["outcome"] for ball in session.balls} == {"left"}


def check_sessions(seeds: range) -> int:
    balls = 0
    for seed in seeds:
        session, planned = drawn(seed)
        assert session.strays() == [], seed
        assert session.ending.phase is Phase.FINISHED, (seed, session.ending.diagnostics)
        assert len(session.device.hardware.left) == planned, seed
        balls += planned
    return balls


def test_so_it_is_in_sessions_drawn_from_seeds() -> None:
    assert check_sessions(range(6)) > 6


@pytest.mark.long
@pytest.mark.timeout(1800)
def test_so_it_is_in_five_hundred_sessions() -> None:
    assert check_sessions(range(500)) > 500


def strays_of_a_lesson() -> list[str]:
    """In a lesson that changes between slow and fast; a lesson that ends otherwise counts too."""
    session = run_lesson(plan_of([SLOW, FAST], [1, 0, 1, 0]), "chatty-lines", lambda: 0.1)
    return session.strays()


def test_without_setting_the_device_for_each_feed_balls_would_stray(monkeypatch) -> None:
    truly = MappedLauncher._set

    async def only_once(self: MappedLauncher, setting: Setting, feed_id: int) -> str | None:
        if self._aim._target is None:
            return await truly(self, setting, feed_id)
        self._aim.for_feed, self._aim.ready_s = feed_id, anyio.current_time()
        return None

    assert strays_of_a_lesson() == []
    monkeypatch.setattr(MappedLauncher, "_set", only_once)
    assert strays_of_a_lesson() != []


def test_without_waiting_for_the_parts_balls_would_stray(monkeypatch) -> None:
    def at_once(self: Aim, feed_id: int, now_s: float) -> None:
        self.for_feed, self.ready_s = feed_id, now_s

    monkeypatch.setattr(Aim, "told", at_once)
    plan = plan_of([SLOW, FAST], [1, 0, 1, 0])
    # An engine in a hurry: it gives the launcher no time either.
    monkeypatch.setattr("feedscript.session.engine.feed_scheduler.need_s", lambda *_: 0.0)
    assert run_lesson(plan, "chatty-lines").strays() != []


def test_a_feed_whose_setting_is_not_reached_in_time_is_not_sent(monkeypatch) -> None:
    """The host's own fence: the engine here asks far too early."""
    monkeypatch.setattr("feedscript.session.engine.feed_scheduler.need_s", lambda *_: 0.0)
    session = run_lesson(plan_of([SLOW, FAST], [1, 0, 1, 0]), "byte-frames", lambda: 0.3)
    assert session.strays() == []
    missed = [ball for ball in session.balls if ball["outcome"] == "not-sent"]
    assert missed
    assert {ball["reason"] for ball in missed} <= {"not-ready", "launcher-refused", "host-line"}
    assert "not-ready" in {ball["reason"] for ball in missed}


@pytest.mark.parametrize("name", DEVICES)
def test_a_setting_that_the_device_refuses_is_never_fed(name: str) -> None:
    async def refuses(_engine: Engine, stream: DeviceStream) -> None:
        def hear(data: bytes, now_s: float) -> bytes:
            said = obey(data, now_s)
            return said if stream.device.hardware.asked()[0][0] < 2000 else NO[name]

        obey = stream.device.hear
        stream.device.hear = hear

    plan = plan_of([SLOW, FAST], [0, 1, 0])
    session = run_lesson(plan, name, lambda: 0.05, refuses)
    assert session.ending.phase is Phase.BROKEN_OFF
    assert session.strays() == []
    assert len(session.device.hardware.left) == 2
    assert session.balls[2]["outcome"] == "not-sent"
    assert session.balls[2]["reason"] == "setting-refused"
    assert any("setting-refused" in fault for fault in faults(session.engine))
    assert session.device.hardware.asked()[0] == (0.0, 0.0)


NO = {
    "chatty-lines": b"NEVER THAT FAST|%02X\r\n" % (sum(b"NEVER THAT FAST") % 256),
    "plain-words": b"no\n",
    "byte-frames": framed(b"\x81\x10"),
}


@pytest.mark.parametrize("name", DEVICES)
def test_no_balls_is_told_as_empty_and_not_as_a_jam(name: str) -> None:
    async def few(_engine: Engine, stream: DeviceStream) -> None:
        stream.device.hardware.balls = 2

    session = run_lesson(plan_of([SLOW, FAST], [0, 1, 0]), name, lambda: 0.05, few)
    assert session.strays() == []
    assert [ball["outcome"] for ball in session.balls][:3] == ["left", "left", "not-sent"]
    (fault,) = faults(session.engine)
    assert "empty" in fault
    assert "jam" not in fault


def test_a_ball_that_does_not_come_is_a_jam_and_its_outcome_is_asked_for() -> None:
    async def sticks(engine: Engine, stream: DeviceStream) -> None:
        await see_balls(engine, 2)
        stream.device.hardware.sticks = True

    plan = plan_of([SLOW], [0, 0, 0])
    session = run_lesson(plan, "plain-words", lambda: 0.05, sticks)
    assert any("jam" in fault for fault in faults(session.engine))
    assert session.device.hardware.thrown == 3


@pytest.mark.parametrize("name", DEVICES)
def test_answers_do_not_shift_after_a_stop(name: str) -> None:
    """A stop goes out at once and again until it is answered: the device answers each. What is
    acknowledged afterwards must be what was done: here the device no longer takes a setting."""

    async def stops(engine: Engine, stream: DeviceStream) -> None:
        await see_balls(engine, 2)
        await see_phase(engine, Phase.RUNNING)
        for _ in range(3):
            await say(engine, Act.STOP)
        obey = stream.device.hear

        def deaf_to_settings(data: bytes, now_s: float) -> bytes:
            return b"" if any(word in data for word in SETS[name]) else obey(data, now_s)

        stream.device.hear = deaf_to_settings

    plan = plan_of([SLOW, FAST], [1, 0, 1, 0])
    session = run_lesson(plan, name, lambda: 0.45, stops, fixes=50)
    assert session.strays() == []
    assert len(session.device.hardware.left) == 2
    assert session.ending.cause


SETS = {
    "chatty-lines": (b"WHEELS", b"LOOK"),
    "plain-words": (b"upper", b"lower", b"pan", b"tilt"),
    "byte-frames": (b"\x5a\xa7\x0b\x10",),
}


def test_a_killed_answer_does_not_feed_at_the_wrong_setting() -> None:
    """Every seventh answer is lost, and some come twice."""

    async def loses(_engine: Engine, stream: DeviceStream) -> None:
        say_, count = stream._say, 0

        def lossy(data: bytes) -> None:
            nonlocal count
            if data and b"GONE" not in data:
                count += 1
                if count % 7 == 0:
                    return
                if count % 11 == 0:
                    say_(data)
            say_(data)

        stream._say = lossy

    plan = plan_of([SLOW, FAST], [1, 0, 1])
    session = run_lesson(plan, "chatty-lines", lambda: 0.2, loses, fixes=50)
    assert session.strays() == []


def test_a_stop_ends_the_setting_that_is_under_way() -> None:
    """No part of a setting goes out after a stop: it would turn the drives again."""
    after: list[bytes] = []

    async def stops(engine: Engine, stream: DeviceStream) -> None:
        await see_balls(engine, 2)
        await see_phase(engine, Phase.RUNNING)
        while stream.device.hardware.asked()[0][0] != FAST.drives[0]:
            await anyio.sleep(0.01)
        obey = stream.device.hear

        def noted(data: bytes, now_s: float) -> bytes:
            after.append(data)
            return obey(data, now_s)

        stream.device.hear = noted
        await say(engine, Act.STOP)

    plan = plan_of([SLOW, FAST], [0, 1, 0])
    session = run_lesson(plan, "plain-words", lambda: 0.3, stops)
    assert session.ending.phase is Phase.BROKEN_OFF
    assert set(after) == {b"stop\n"}
    assert session.device.hardware.asked()[0] == (0.0, 0.0)


def test_answers_that_come_after_their_time_feed_nothing_that_was_refused() -> None:
    """Each comes so late that its command has been sent again: one is then taken for another's.
    The part of the setting that the device refuses seems to be done, until one answer too many."""

    async def refuses_to_look(_engine: Engine, stream: DeviceStream) -> None:
        obey = stream.device.hear

        def hear(data: bytes, now_s: float) -> bytes:
            return NO["chatty-lines"] if b"LOOK" in data else obey(data, now_s)

        stream.device.hear = hear

    session = run_lesson(plan_of([SLOW], [0]), "chatty-lines", lambda: 1.2, refuses_to_look)
    assert session.device.hardware.thrown == 0
    assert session.ending.phase is Phase.BROKEN_OFF
    assert any("setting-not-reached" in fault for fault in faults(session.engine))


def test_a_feed_that_the_device_refuses_did_not_leave_and_is_no_jam() -> None:
    async def refuses(engine: Engine, stream: DeviceStream) -> None:
        await see_balls(engine, 1)
        stream.device.hardware.refuses = True

    session = run_lesson(plan_of([SLOW], [0, 0]), "plain-words", lambda: 0.1, refuses)
    assert [ball["outcome"] for ball in session.balls][:2] == ["left", "not-sent"]
    (fault,) = faults(session.engine)
    assert "feed-refused no" in fault
    assert session.device.hardware.asked()[0] == (0.0, 0.0)
