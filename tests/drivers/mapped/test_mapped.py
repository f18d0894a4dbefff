"""Other people's launchers: three invented devices, their mappings, what they cannot promise."""

from __future__ import annotations

import contextlib

import anyio
import pytest
import trio
import trio.testing
from feedscript_drivers.mapped.aim import Aim
from feedscript_drivers.mapped.answers import Answers, Verdict
from feedscript_drivers.mapped.description.keys import Mapping
from feedscript_drivers.mapped.description.read import read_mapping
from feedscript_drivers.mapped.driver import connect, open_mapped
from feedscript_drivers.mapped.guarantees import lost
from feedscript_simulator.mapped_devices import DEVICES, DeviceStream

from feedscript.launcher.port import (
    CommandRefusedError,
    ConnectOptions,
    Event,
    Fault,
    LauncherError,
    LauncherState,
    Left,
    OutcomeUnknown,
    ScheduledFeed,
    StopCategory,
)
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.launcher.setting import Setting
from feedscript.shipped import shipped_folder
from tests.drivers.conformance.port_suite import CHECKS, Lab, lacking, walk_through

FOLDER = shipped_folder() / "launchers" / "mapped"
PROFILE = read_profile(shipped_folder() / "launchers" / "garage.toml").profile
assert PROFILE is not None
SETTING = Setting(drives=(1200.0, 1000.0), pan_deg=3.0, tilt_deg=5.0)
#: Time enough for a first ball: 3.5 s of tilting over the whole range, and the words.
FIRST_S = 6.0
OPTIONS = ConnectOptions(profile=PROFILE, session=1)


def mapping_of(name: str) -> Mapping:
    return read_mapping(FOLDER / f"{name}.toml")


def on_bench(name: str, use, answer_s: float = 0.0):
    """Run ``use(launcher, stream)`` against a device on the virtual clock; the device."""

    async def run():
        stream = DeviceStream(DEVICES[name](), lambda: answer_s)
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(stream.keep_time)
            async with open_mapped(mapping_of(name), stream, OPTIONS, name) as launcher:
                await use(launcher, stream)
            tasks.cancel_scope.cancel()
        return stream.device

    return trio.run(run, clock=trio.testing.MockClock(autojump_threshold=0))


@pytest.mark.parametrize("name", DEVICES)
def test_every_mapped_device_passes_the_ports_suite_but_for_what_it_lacks(name: str) -> None:
    made: list[str] = []

    async def use(launcher, stream) -> None:
        async def nobody() -> None:
            await anyio.sleep(0.01)

        lab = Lab(
            "mapped",
            setting=SETTING,
            person_arms=nobody,
            ceiling=(1300.0, 1300.0),
            too_fast=Setting(drives=(1500.0, 1000.0), pan_deg=0.0, tilt_deg=5.0),
            cut=stream.aclose,
        )
        lab.lacks = frozenset(lost(mapping_of(name)))
        assert lacking("mapped") <= lab.lacks
        made.extend(await walk_through(launcher, lab))

    on_bench(name, use)
    assert set(made) == {guarantee for guarantee, _ in CHECKS} - set(lost(mapping_of(name)))


@pytest.mark.parametrize("name", DEVICES)
def test_a_device_gets_what_was_meant(name: str) -> None:
    """The device's own reading of drives and aim, within what its numbers can spell."""
    events: list[object] = []

    async def use(launcher, _stream) -> None:
        await launcher.arm((1200.0, 1000.0))
        await launcher.prepare(SETTING)
        now = anyio.current_time()
        await launcher.schedule(
            ScheduledFeed(feed_id=1, setting=SETTING, leave_at_device_s=now + FIRST_S)
        )
        async for event in launcher.events():
            events.append(event)
            if isinstance(event, Left):
                assert abs(event.device_s - (now + FIRST_S)) < 0.05
                break

    device = on_bench(name, use)
    assert [gone.drives for gone in device.hardware.left] == [(1200.0, 1000.0)]
    assert device.hardware.left[0].aim_deg == pytest.approx((3.0, 5.0), abs=0.05)


def test_a_ball_that_nobody_saw_is_unknown_and_never_asked_for_again() -> None:
    seen: list[object] = []

    async def use(launcher, stream) -> None:
        await launcher.arm((1200.0, 1000.0))
        await launcher.prepare(SETTING)
        stream.device.hardware.sticks = True
        now = anyio.current_time()
        await launcher.schedule(
            ScheduledFeed(feed_id=1, setting=SETTING, leave_at_device_s=now + FIRST_S)
        )
        async for event in launcher.events():
            seen.append(event)
            if isinstance(event, OutcomeUnknown):
                break
        await anyio.sleep(5)
        assert stream.device.hardware.thrown == 1

    on_bench("plain-words", use)
    assert not [event for event in seen if isinstance(event, Left)]


def test_stop_goes_out_at_once_and_reaches_the_drives() -> None:
    async def use(launcher, stream) -> None:
        await launcher.arm((1200.0, 1000.0))
        await launcher.prepare(SETTING)
        assert stream.device.hardware.asked()[0] == (1200.0, 1000.0)
        await launcher.stop(StopCategory.RUN_DOWN)
        assert stream.device.hardware.asked()[0] == (0.0, 0.0)

    on_bench("byte-frames", use)


def test_a_stop_is_carried_out_also_when_whoever_asked_for_it_is_gone() -> None:
    async def use(launcher, stream) -> None:
        await launcher.arm((1200.0, 1000.0))
        await launcher.prepare(SETTING)
        with anyio.move_on_after(0.01):
            await launcher.stop(StopCategory.RUN_DOWN)
        assert (await launcher.status()).state is LauncherState.STOPPING
        await anyio.sleep(0.5)
        assert (await launcher.status()).state is LauncherState.SAFE
        assert stream.device.hardware.asked()[0] == (0.0, 0.0)

    on_bench("plain-words", use, answer_s=0.1)


def test_a_device_that_hears_no_stop_is_not_kept_alive_and_stops_by_itself() -> None:
    async def use(launcher, stream) -> None:
        await launcher.arm((1200.0, 1000.0))
        await launcher.prepare(SETTING)
        obey = stream.device.hear
        stream.device.hear = lambda data, now_s: b"" if b"REST" in data else obey(data, now_s)
        with anyio.move_on_after(1.1), contextlib.suppress(LauncherError):
            await launcher.stop(StopCategory.RUN_DOWN)
        assert stream.device.hardware.asked()[0] == (0.0, 0.0)
        assert (await launcher.status()).state is LauncherState.STOPPING

    on_bench("chatty-lines", use)


@pytest.mark.parametrize(("stop_s", "late_s"), [(0.7, 1.05), (0.9, 1.05), (0.9, 1.3)])
def test_a_late_answer_to_a_setting_is_not_taken_for_that_to_a_stop(
    stop_s: float, late_s: float
) -> None:
    """The device answers the setting long after its time, and never hears the first two stops."""

    async def use(launcher, stream) -> None:
        await launcher.arm((1200.0, 1000.0))
        await launcher.prepare(SETTING)
        obey, stops = stream.device.hear, []

        def slow(data: bytes, now_s: float) -> bytes:
            if data != b"stop\n":
                return b"" if data.startswith(b"upper") else obey(data, now_s)
            stops.append(now_s)
            return b"" if len(stops) <= 2 else obey(data, now_s)

        stream.device.hear = slow
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(_prepared, launcher)
            await anyio.sleep(stop_s)
            tasks.start_soon(launcher.stop, StopCategory.RUN_DOWN)
            await anyio.sleep(late_s - stop_s)
            stream.come(b"ok\n")
            with anyio.fail_after(3.0):
                while (await launcher.status()).state is not LauncherState.SAFE:
                    await anyio.sleep(0.01)
            assert stream.device.hardware.asked()[0] == (0.0, 0.0), "it turns, and was called safe"
            tasks.cancel_scope.cancel()

    on_bench("plain-words", use)


async def _prepared(launcher) -> None:
    with contextlib.suppress(LauncherError):
        await launcher.prepare(SETTING)


async def heard(launcher, kind: type[Event]) -> Event:
    """The next event of a kind."""
    async for event in launcher.events():
        if isinstance(event, kind):
            return event
    raise AssertionError("the events ended")


async def send(launcher, feed_id: int, in_s: float) -> None:
    leave_s = anyio.current_time() + in_s
    await launcher.schedule(
        ScheduledFeed(feed_id=feed_id, setting=SETTING, leave_at_device_s=leave_s)
    )


def test_trouble_that_comes_while_it_stops_stays() -> None:
    """A ball that nobody asked for: the stop is acknowledged after that, and changes nothing."""

    async def use(launcher, stream) -> None:
        await launcher.arm((1200.0, 1000.0))
        await launcher.prepare(SETTING)
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(launcher.stop, StopCategory.RUN_DOWN)
            await anyio.sleep(0.01)
            stream.come(b"ball out\n")
            fault = await heard(launcher, Fault)
        assert fault.kind == "stray-ball"
        assert (await launcher.status()).state is LauncherState.FAULT
        await launcher.disarm()
        assert (await launcher.status()).state is LauncherState.SAFE

    on_bench("plain-words", use, answer_s=0.3)


def test_an_emergency_stop_is_not_undone_by_a_stop_of_before() -> None:
    """Whichever the device acknowledges last."""

    async def use(launcher, stream) -> None:
        await launcher.arm((1200.0, 1000.0))
        obey = stream.device.hear
        stream.device.hear = lambda data, now_s: (
            b"" if data == b"stop\n" and anyio.current_time() < 1.0 else obey(data, now_s)
        )
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(launcher.stop, StopCategory.RUN_DOWN)
            await anyio.sleep(0.01)
            await launcher.stop(StopCategory.POWER_OFF)
        assert (await launcher.status()).state is LauncherState.STOPPED

    on_bench("plain-words", use)


def test_a_ball_that_nobody_asked_for_stops_the_device() -> None:
    async def use(launcher, stream) -> None:
        await launcher.arm((1200.0, 1000.0))
        await launcher.prepare(SETTING)
        stream.come(b"ball out\n")
        assert (await heard(launcher, Fault)).kind == "stray-ball"
        await anyio.sleep(0.1)
        assert (await launcher.status()).state is LauncherState.FAULT
        assert stream.device.hardware.asked()[0] == (0.0, 0.0)

    on_bench("plain-words", use)


def test_balls_keep_their_least_interval_and_those_taken_back_do_not_count() -> None:
    async def use(launcher, _stream) -> None:
        await launcher.arm((1200.0, 1000.0))
        await launcher.prepare(SETTING)
        await send(launcher, 1, 6.0)
        with pytest.raises(CommandRefusedError, match="too soon"):
            await send(launcher, 2, 7.0)
        await launcher.hold()
        await launcher.go_on()
        await send(launcher, 2, 5.0)
        await heard(launcher, Left)
        with pytest.raises(CommandRefusedError, match="too soon"):
            await send(launcher, 3, 1.4)

    on_bench("byte-frames", use)


def test_on_its_way_it_may_be_anywhere_between() -> None:
    """Taken back half-way: from wherever it is then, the parts get the time of the longest way."""
    assert PROFILE is not None
    fast = Setting(drives=(3500.0, 3500.0), pan_deg=0.0, tilt_deg=0.0)
    slow = Setting(drives=(900.0, 900.0), pan_deg=0.0, tilt_deg=0.0)
    aim = Aim(PROFILE)
    aim.begin(fast, 10.0)
    aim.told(1, 10.0)
    aim.begin(slow, 10.5)
    aim.told(2, 10.5)
    # From 3,500 rpm down at 750 rpm/s, recovery and settling after it; by hand.
    assert aim.ready_s == pytest.approx(10.5 + 2600 / 750 + 0.6 + 0.25)
    aim.begin(fast, 20.0)
    aim.told(3, 20.0)
    assert aim.ready_s == pytest.approx(20.0 + 2600 / 1100 + 0.6 + 0.25)
    aim.stopped()
    aim.begin(slow, 30.0)
    aim.told(4, 30.0)
    assert aim.ready_s == pytest.approx(30.0 + 2600 / 750 + 0.6 + 0.25)


def test_a_part_of_a_setting_waits_for_answers_that_are_still_to_come() -> None:
    async def use(launcher, stream) -> None:
        await launcher.arm((1200.0, 1000.0))
        said: list[tuple[float, bytes]] = []
        obey = stream.device.hear

        def noted(data: bytes, now_s: float) -> bytes:
            said.append((now_s, data))
            return b"" if len(said) == 1 else obey(data, now_s)

        stream.device.hear = noted
        await launcher.stop(StopCategory.RUN_DOWN)  # its first word is not answered
        await launcher.arm((1200.0, 1000.0))
        await launcher.prepare(SETTING)
        stops = [at_s for at_s, data in said if data == b"stop\n"]
        assert len(stops) == 2
        first = next(at_s for at_s, data in said if data.startswith(b"upper"))
        assert first >= stops[1] + 2 * 0.5  # the answer could have been the first's

    on_bench("plain-words", use)


class Count:
    """How often the answers were found out of step."""

    def __init__(self) -> None:
        self.doubts = 0

    def __call__(self) -> None:
        self.doubts += 1


def test_answers_belong_to_commands_in_their_order_and_too_few_or_too_many_are_told() -> None:
    doubt = Count()
    answers = Answers(mapping_of("plain-words"), doubt)
    first, second = answers.sent("stop", 1.0), answers.sent("set", 1.0)
    assert answers.hear("ok", 0.5) is first
    assert (first.verdict, second.verdict, doubt.doubts) == (Verdict.DONE, None, 0)
    assert answers.hear("no", 0.6) is second
    assert (second.verdict, doubt.doubts) == (Verdict.REFUSED, 0)
    assert answers.hear("humming", 0.7) is None
    assert doubt.doubts == 0
    assert answers.hear("ok", 0.8) is None  # nobody is owed it
    assert doubt.doubts == 1
    lost, last = answers.sent("set", 1.0), answers.sent("stop", 2.0)
    assert answers.hear("no", 1.5) is last  # no device refuses a stop: it was the setting's, late
    assert (lost.verdict, doubt.doubts) == (Verdict.LOST, 3)


def test_an_answer_that_names_its_command_is_that_ones() -> None:
    doubt = Count()
    answers = Answers(mapping_of("byte-frames"), doubt)
    before, meant = answers.sent("set", 9.0), answers.sent("stop", 9.0)
    assert answers.hear("8030", 1.0) is meant
    assert (before.verdict, doubt.doubts) == (Verdict.LOST, 1)
    assert answers.sent("alive", 9.0).verdict is Verdict.DONE  # this device answers none


def test_an_address_without_a_place_is_refused() -> None:
    async def run() -> None:
        async with connect("device.toml", OPTIONS):
            pass

    with pytest.raises(LauncherError) as caught:
        anyio.run(run)
    assert caught.value.diagnostic.slug == "launcher-address"
