"""Six foreign devices, each described from the page of keys alone, through whole lessons."""

from __future__ import annotations

import anyio
import pytest
from feedscript_drivers.mapped import answers
from feedscript_drivers.mapped.answers import Answers, Verdict
from feedscript_drivers.mapped.driver import open_mapped
from feedscript_drivers.mapped.frames import FrameReader
from feedscript_drivers.mapped.launcher import MappedLauncher
from feedscript_drivers.mapped.news import Heard, News
from feedscript_simulator.ramp import Ramp

from feedscript.launcher.port import ConnectOptions
from feedscript.launcher.setting import Setting
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.phases import Phase
from tests.drivers.mapped.devices import FOREIGN
from tests.drivers.mapped.devices.attic_lines import AtticLines
from tests.drivers.mapped.devices.crc_frames import CrcFrames
from tests.drivers.mapped.foreign_sessions import (
    Faults,
    ForeignStream,
    drawn_session,
    foreign_lesson,
    wrongs,
)
from tests.drivers.mapped.test_frames import PROFILE, mapping_of
from tests.session.coach import see_balls, see_phase
from tests.virtual_time import in_virtual_time

OPTIONS = ConnectOptions(profile=PROFILE, session=1)
SLOW = Setting(drives=(1500.0, 1300.0), pan_deg=-6.0, tilt_deg=4.0)
FAST = Setting(drives=(2500.0, 2700.0), pan_deg=9.0, tilt_deg=12.0)


@pytest.mark.parametrize("name", FOREIGN)
def test_every_ball_leaves_at_its_own_setting(name: str) -> None:
    session, _ = foreign_lesson(name, [SLOW, FAST], [1, 0, 1])
    assert session.ending.phase is Phase.FINISHED, session.ending.diagnostics
    assert session.strays() == []
    assert [ball["outcome"] for ball in session.balls] == ["left"] * 4


def check_sessions(seeds: range) -> int:
    """Whole lessons over bad lines, on each device; how many balls left."""
    balls = 0
    for name in FOREIGN:
        for seed in seeds:
            session, stream, planned = drawn_session(name, seed)
            assert wrongs(session) == [], (name, seed)
            if stream.faults == Faults():
                assert session.ending.phase is Phase.FINISHED, (name, seed, session.ending)
                assert len(stream.device.hardware.left) == planned, (name, seed)
            balls += len(stream.device.hardware.left)
    return balls


def test_every_ball_is_written_down_as_it_was_on_bad_lines() -> None:
    assert check_sessions(range(2, 3)) > 12


@pytest.mark.long
@pytest.mark.timeout(3600)
def test_so_it_is_in_three_hundred_lessons_on_each() -> None:
    assert check_sessions(range(300)) > 5000


# Each protection, and what happens without it.


async def with_slow_parts(_engine: Engine, stream: ForeignStream) -> None:
    """The wheels need three times as long as the profile says."""
    stream.device.hardware._drives = (Ramp(0.36, 0.25), Ramp(0.36, 0.25))


def test_a_device_that_says_when_it_is_in_place_is_waited_for() -> None:
    session, _ = foreign_lesson("attic-lines", [SLOW, FAST], [1, 0, 1], script=with_slow_parts)
    assert wrongs(session) == []
    assert "not-ready" in {ball["reason"] for ball in session.balls}


def test_the_word_counts_also_in_one_piece_with_the_last_answer() -> None:
    """As it comes from a device that stands there already."""

    async def says_both_at_once(_engine: Engine, stream: ForeignStream) -> None:
        hear, tick = stream.device.hear, stream.device.tick

        def both(data: bytes, now_s: float) -> list[bytes]:
            said = hear(data, now_s)
            return [b"".join([*said, *tick(now_s)])] if said else []

        stream.device.hear = both

    session, _ = foreign_lesson("attic-lines", [SLOW], [0, 0, 0], script=says_both_at_once)
    assert [ball["outcome"] for ball in session.balls] == ["left"] * 4


def test_without_that_word_balls_would_stray(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(MappedLauncher, "_is_ready", True)
    session, _ = foreign_lesson("attic-lines", [SLOW, FAST], [1, 0, 1], script=with_slow_parts)
    assert any("written down as left" in wrong for wrong in wrongs(session))


def test_an_answer_is_for_the_request_whose_number_it_has() -> None:
    answers = Answers(mapping_of("numbered"), lambda: pytest.fail("nothing is in doubt here"))
    first, second = answers.sent("set", 1.0, 100), answers.sent("set", 1.0, 101)
    assert answers.hear('{"n":101,"is":"done"}', 0.1) is second
    assert answers.hear('{"n":101,"is":"done"}', 0.2) is None
    assert answers.hear('{"n":444,"is":"refused"}', 0.2) is None
    assert first.verdict is None
    assert answers.hear('{"n":100,"is":"refused"}', 0.3) is first
    assert (first.verdict, second.verdict) == (Verdict.REFUSED, Verdict.DONE)


def test_without_the_numbers_another_requests_answer_would_be_taken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(answers, "number_in", lambda *_: 100)
    owed = Answers(mapping_of("numbered"), lambda: None)
    first, _ = owed.sent("set", 1.0, 100), owed.sent("set", 1.0, 101)
    assert owed.hear('{"n":101,"is":"done"}', 0.1) is first


@pytest.mark.parametrize("no", [b"\x15\x03", b"\x0e"], ids=["refused", "empty"])
def test_a_no_to_the_second_copy_of_a_command_does_not_deny_the_ball_of_the_first(
    no: bytes,
) -> None:
    """The yes to the first copy is lost."""

    async def comes_twice(_engine: Engine, stream: ForeignStream) -> None:
        device = stream.device
        assert isinstance(device, CrcFrames)
        obey = device.obey

        def twice(payload: bytes, now_s: float) -> bytes:
            said = obey(payload, now_s)
            return no if payload == b"\x03" and said == b"\x06\x03" else said

        device.obey = twice  # type: ignore[method-assign]

    session, _ = foreign_lesson("crc-frames", [SLOW, FAST], [0, 1], script=comes_twice)
    assert wrongs(session) == []
    assert [ball["outcome"] for ball in session.balls].count("left") == 3
    told = " ".join(one.message for one in session.ending.diagnostics)
    assert "stray-ball" not in told
    assert ("feed-refused" in told) == (no != b"\x0e")


def state(count: int, ready: int = 0, balls: int = 40, fault: int = 0) -> str:
    """What is in the answer to a poll of the device that never speaks unasked."""
    return f"86{count:02X}{ready:02X}{balls:02X}{fault:02X}000000"


def test_a_counter_tells_each_ball_once_and_goes_round() -> None:
    news = News(mapping_of("asked-only"))
    assert not news.knows_count
    told = [news.hear(state(count)).balls for count in (14, 14, 15, 15, 0, 0, 2)]
    assert told == [0, 0, 1, 0, 1, 0, 2]
    assert news.knows_count


def test_one_text_may_say_several_things() -> None:
    news = News(mapping_of("asked-only"))
    news.hear(state(3))
    assert news.hear(state(4, ready=1, balls=39, fault=2)) == Heard(
        balls=1, ready=True, hopper=39, fault="low-voltage"
    )


def test_a_polled_fault_stops_and_is_told_once_until_it_is_over() -> None:
    async def runs_low(engine: Engine, stream: ForeignStream) -> None:
        await see_balls(engine, 2)
        stream.device.fault = 2
        await anyio.sleep(3.0)
        stream.device.fault = 0

    session, _ = foreign_lesson("asked-only", [SLOW, FAST], [1, 0, 1], script=runs_low, gap_s=4.0)
    faults = [one for one in session.engine.lesson.troubles if one.slug == "launcher-fault"]
    assert 1 <= len(faults) <= 3
    assert all("low-voltage" in one.message for one in faults)
    assert wrongs(session) == []


def test_a_count_that_jumps_is_a_ball_that_nobody_asked_for() -> None:
    async def another_hand(engine: Engine, stream: ForeignStream) -> None:
        await see_balls(engine, 2)
        await see_phase(engine, Phase.RUNNING)
        gone = stream.device.hardware.left
        gone += gone[-1:] * 2
        await anyio.sleep(1.0)
        del gone[-2:]

    session, _ = foreign_lesson("numbered", [SLOW], [0, 0, 0], script=another_hand, gap_s=5.0)
    assert any("stray-ball" in one.message for one in session.engine.lesson.troubles)


def test_a_handshake_goes_on_when_its_answer_comes_late() -> None:
    """The first word is lost: what comes then answers the second, and is taken for the first's."""

    async def greets() -> float:
        stream = ForeignStream(AtticLines(), Faults(), 0, packets=False)
        hear = stream.device.hear
        stream.device.hear = lambda data, now_s: hear(data, now_s) if now_s > 0.3 else []
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(stream.keep_time)
            mapping = mapping_of("attic-lines")
            async with open_mapped(mapping, stream, OPTIONS, "bench"):
                took_s = anyio.current_time()
            tasks.cancel_scope.cancel()
        return took_s

    assert in_virtual_time(greets) < 2.0


def test_a_spoilt_length_does_not_swallow_what_follows() -> None:
    mapping = mapping_of("crc-frames")
    reader = FrameReader(mapping)
    good = CrcFrames.frame(b"\x0b")
    spoilt = good[:1] + b"\x60" + good[2:]
    assert reader.feed(spoilt, 1.0) == []
    assert reader.feed(good, 1.0 + 2 * mapping.device.answer_within_s) == ["0B"]
    assert FrameReader(mapping).feed(spoilt + good) == []  # as it would be without
