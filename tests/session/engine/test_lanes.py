"""Several launchers in one lesson: each in its own state, all under one stop.

Stations run side by side on stand-ins of their own, the real driver between, in virtual time.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import anyio
import pytest
from feedscript_simulator.faults import Faults, LineFaults
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.journal.store import open_journal
from feedscript.launcher.faults import fault_words
from feedscript.launcher.port import LauncherError, LauncherState
from feedscript.plan.model import Collect, Plan, Repeat, ShowSpeed, Station, Step, Together, Turns
from feedscript.plan.scene import Player
from feedscript.session.engine.connect import Links, connect_lesson
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.start import Setting
from feedscript.session.operator.commands import Answer
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import LessonView
from tests.plan.small_plans import rest, send
from tests.session.coach import say, see, see_balls, see_phase
from tests.session.rehearsing import GARAGE, OpenFences, Rig, Run, lesson_plan, rehearse

BALLS = 12  # of each station
#: The wire's own limits: an answer takes 50 ms at most, a stop and the gate's clearing time.
ANSWER_S = 0.05
CLEARING_S = 0.4
WATCHDOG_S = 1.0


def lane(launcher: int, times: int = BALLS // 2, gap_s: float = 4.0) -> tuple[Step, ...]:
    """The body of a launcher's station: its two feeds in turn."""
    pair = (send(2 * launcher, gap_s), send(2 * launcher + 1, gap_s))
    return (Repeat(times=times, body=pair, line=5),)


def fork(*bodies: tuple[Step, ...], players: tuple[tuple[int, ...], ...] = ()) -> Together:
    stations = tuple(
        Station(
            name=f"station {number}",
            launcher=number,
            players=players[number] if players else (),
            body=body,
            line=4,
        )
        for number, body in enumerate(bodies)
    )
    return Together(stations=stations, for_s=200.0, line=3)


def side_by_side(launchers: int, *after: Step) -> Plan:
    shows = [ShowSpeed(feed=2 * launcher, line=1) for launcher in range(launchers)]
    stations = fork(*(lane(launcher) for launcher in range(launchers)))
    return lesson_plan(*shows, stations, *after, launchers=launchers)


def left_of(run: Run, launcher: int) -> list[str]:
    return [str(b["feed"])[0] for b in run.left() if b["launcher"] == launcher]


def all_sent(run: Run, launchers: int) -> None:
    """Every station sent what the plan has, its watched ball first, numbered without a gap."""
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    for launcher in range(launchers):
        assert "".join(left_of(run, launcher)) == "a" + "ab" * (BALLS // 2)
        numbers = [b["ball_no"] for b in run.left() if b["launcher"] == launcher]
        assert numbers == list(range(1, BALLS + 2))


@pytest.mark.parametrize("launchers", [2, 3])
def test_stations_run_side_by_side_each_on_its_own_beat(launchers: int) -> None:
    """Clocks that run apart by 80 parts in a million do not drive the stations apart."""
    rig = Rig({number: Faults(clock_ppm=40.0 * (-1) ** number) for number in range(launchers)})
    run = rehearse(side_by_side(launchers), rig=rig)
    all_sent(run, launchers)
    times = [
        [float(str(b["left_utc_s"])) for b in run.left() if b["launcher"] == n][1:]
        for n in range(launchers)
    ]
    for station in times:
        assert station == pytest.approx([times[0][0] + 4.0 * i for i in range(BALLS)], abs=0.01)


def test_players_take_turns_at_every_station_and_nobody_stands_at_two() -> None:
    names = ("Ash", "Bay", "Cob", "Den", "Elm")
    turns = [
        (Turns(slots=slots, passes=1, body=lane(launcher, times=2), line=6),)
        for launcher, slots in enumerate((3, 2))
    ]
    plan = lesson_plan(
        ShowSpeed(feed=0, line=1),
        ShowSpeed(feed=2, line=1),
        fork(*turns, players=((0, 1, 2), (3, 4))),
        launchers=2,
        players=tuple(Player(name=name) for name in names),
    )
    on: list[tuple[str, ...]] = []

    async def coach(engine: Engine) -> None:
        async for state in engine.views():
            on.append(tuple(p.player for p in state.places if p.role.value == "hitter"))

    run = rehearse(plan, coach)
    assert Counter(b["player"] for b in run.left() if b["player"]) == dict.fromkeys(names, 4)
    assert all(len(set(hitters)) == len(hitters) for hitters in on)
    assert any(len(hitters) == 2 for hitters in on)


# -- what one launcher finds stops all -----------------------------------------------------


def jam(rig: Rig, engine: Engine) -> None:
    feeder = rig.stand_ins[1].end.machine.feeder
    feeder.jams_at = frozenset({feeder.openings + 1})


def run_empty(rig: Rig, engine: Engine) -> None:
    rig.stand_ins[1].end.machine.feeder.hopper = 0


def turn_off(rig: Rig, engine: Engine) -> None:
    rig.stand_ins[1].advance(anyio.current_time())
    rig.stand_ins[1].end.machine.turn_switch(False)
    rig.stand_ins[1].changed()


def unplug(rig: Rig, engine: Engine) -> None:
    rig.lines[1].cut = True


def is_out(state: LessonView) -> bool:
    return state.phase not in (Phase.RUNNING, Phase.REGROUPING)


@pytest.mark.parametrize(
    ("trouble", "slug", "words"),
    [
        (jam, "launcher-fault", f"l1: {fault_words('jam', '0')}"),
        (run_empty, "launcher-fault", f"l1: {fault_words('empty', '0')}"),
        (turn_off, "stopped-by-itself", "l1: stopping (switch)"),
    ],
)
def test_trouble_at_one_launcher_stops_every_other_until_all_are_armed_anew(
    trouble: Callable[[Rig, Engine], None], slug: str, words: str
) -> None:
    rig = Rig()
    seen: list[LessonView] = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 10)
        trouble(rig, engine)
        await see(engine, is_out)
        out_s = anyio.current_time()
        await anyio.sleep(ANSWER_S + CLEARING_S)
        others = [rig.stand_ins[n].end.machine for n in (0, 2)]
        assert all(machine.state is not LauncherState.ARMED for machine in others)
        before = [len(rig.thrown_s(n)) for n in range(3)]
        for _ in range(20):  # somebody walks over and fixes it
            await anyio.sleep(1.0)
            assert not any(m.plant.powered(m.now_ms) for m in others)
        assert [len(rig.thrown_s(n)) for n in range(3)] == before
        assert all(at_s <= out_s + CLEARING_S for n in range(3) for at_s in rig.thrown_s(n))
        seen.append(engine.view)
        for ball in engine.view.asked_about:
            await engine.command(Answer(feed_id=ball.feed_id, left=False))
        await see_phase(engine, Phase.STOPPED)
        await say(engine, Act.SET_UP_AGAIN)
        state = await see_phase(engine, Phase.ARMING)
        assert all(launcher.state is not LauncherState.ARMED for launcher in state.launchers)

    run = rehearse(side_by_side(3), coach, rig=rig)
    all_sent(run, 3)
    (state,) = seen
    assert [(t.slug, t.message.partition(";")[0]) for t in state.troubles] == [(slug, words)]
    assert not any(launcher.state is LauncherState.ARMED for launcher in state.launchers)
    assert [bool(launcher.reason) for launcher in state.launchers]


def test_a_fault_keeps_its_name_in_the_launchers_own_state() -> None:
    rig = Rig()
    reasons: list[tuple[LauncherState, str]] = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 10)
        run_empty(rig, engine)
        await see(engine, is_out)
        await anyio.sleep(5.0)
        reasons.extend((each.state, each.reason) for each in engine.view.launchers)
        await say(engine, Act.QUIT)

    rehearse(side_by_side(2), coach, rig=rig)
    assert reasons == [
        (LauncherState.SAFE, "drives-off"),
        (LauncherState.FAULT, fault_words("empty", "0")),
    ]


def test_a_lost_link_stops_the_others_ends_the_lesson_and_says_whose_it_was() -> None:
    rig = Rig()
    cut_s: list[float] = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 10)
        unplug(rig, engine)
        cut_s.append(anyio.current_time())

    run = rehearse(side_by_side(2), coach, rig=rig)
    assert run.ending.phase is Phase.BROKEN_OFF
    assert run.ending.cause
    assert [(d.slug, d.device) for d in run.ending.diagnostics] == [("link-lost", "l1")]
    # The host sees it within 0.7 s and stops the launcher it can still reach.
    assert rig.stand_ins[0].end.machine.state is not LauncherState.ARMED
    for number in (0, 1):
        assert all(at_s <= cut_s[0] + WATCHDOG_S for at_s in rig.thrown_s(number))


# -- one stop for all -------------------------------------------------------------------------


@settings(max_examples=3)
@given(st.integers(2, 3), st.floats(10.0, 50.0), st.sampled_from([Act.STOP, Act.EMERGENCY_STOP]))
def test_one_stop_stops_all_at_any_moment_and_each_has_acknowledged(
    launchers: int, at_s: float, act: Act
) -> None:
    """Every line takes 5 ms each way. The command returns when all launchers have answered."""
    slow = Faults(line=LineFaults(least_delay_s=0.005))
    rig = Rig(dict.fromkeys(range(launchers), slow))

    async def coach(engine: Engine) -> None:
        await anyio.sleep(at_s)
        began_s = anyio.current_time()
        await say(engine, act)
        took_s = anyio.current_time() - began_s
        states = {stand_in.end.machine.state for stand_in in rig.stand_ins}
        assert states <= {LauncherState.STOPPING, LauncherState.STOPPED, LauncherState.SAFE}
        assert took_s <= 2 * 0.005 + ANSWER_S + CLEARING_S
        thrown = [len(rig.thrown_s(n)) for n in range(launchers)]
        await anyio.sleep(30.0)
        assert [len(rig.thrown_s(n)) for n in range(launchers)] == thrown
        await say(engine, Act.QUIT)

    rehearse(side_by_side(launchers), coach, rig=rig)


def test_a_launcher_that_does_not_answer_delays_no_other_launchers_stop() -> None:
    rig = Rig()

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 10)
        unplug(rig, engine)
        began_s = anyio.current_time()
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(say, engine, Act.STOP)
            while rig.stand_ins[0].end.machine.state is LauncherState.ARMED:
                assert anyio.current_time() <= began_s + ANSWER_S + CLEARING_S
                await anyio.sleep(0.005)
            await anyio.sleep(WATCHDOG_S)
            rig.stand_ins[1].advance(anyio.current_time())
            machine = rig.stand_ins[1].end.machine
            assert not machine.plant.powered(machine.now_ms)

    run = rehearse(side_by_side(2), coach, rig=rig)
    assert run.ending.phase is Phase.BROKEN_OFF


# -- a coach's commands with two lanes ----------------------------------------------------------


def test_hold_and_go_on_with_two_lanes_lose_and_repeat_nothing() -> None:
    rig = Rig()

    async def coach(engine: Engine) -> None:
        for count in (5, 10, 15):
            await see_balls(engine, count)
            await anyio.sleep(1.3)
            await say(engine, Act.HOLD)
            await see(engine, lambda state: not state.coming)
            thrown = [len(rig.thrown_s(n)) for n in (0, 1)]
            await anyio.sleep(20.0)
            assert [len(rig.thrown_s(n)) for n in (0, 1)] == thrown
            assert {each.state for each in engine.view.launchers} == {LauncherState.HELD}
            await say(engine, Act.GO_ON)

    all_sent(rehearse(side_by_side(2), coach, rig=rig), 2)


def test_skip_leaves_out_the_coming_ball_of_each_lane() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 6)  # the watched two, and two of each station
        await say(engine, Act.SKIP)

    run = rehearse(side_by_side(2), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    for launcher in (0, 1):
        assert "".join(left_of(run, launcher)) == "a" + "ab" + "b" + "ab" * (BALLS // 2 - 2)


def test_again_begins_the_series_of_each_lane_again() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 8)
        await say(engine, Act.AGAIN)

    run = rehearse(side_by_side(2), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    for launcher in (0, 1):
        assert "".join(left_of(run, launcher)) == "a" + "aba" + "ab" * (BALLS // 2)


def test_next_leaves_the_series_of_each_lane() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 8)
        await say(engine, Act.NEXT)

    run = rehearse(side_by_side(2, send(0, 4.0)), coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert "".join(left_of(run, 0)) == "a" + "aba" + "a"
    assert "".join(left_of(run, 1)) == "a" + "aba"


def test_another_pace_holds_for_both_lanes() -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 8)
        await say(engine, Act.SLOWER)

    run = rehearse(side_by_side(2), coach)
    all_sent(run, 2)
    for launcher in (0, 1):
        at = [float(str(b["left_device_s"])) for b in run.left() if b["launcher"] == launcher]
        assert at[-1] - at[-2] == pytest.approx(4.6, abs=0.02)


def test_a_collect_waits_for_the_slowest_lane() -> None:
    bodies = lane(0, times=2), lane(1, times=6)
    plan = lesson_plan(
        ShowSpeed(feed=0, line=1),
        ShowSpeed(feed=2, line=1),
        fork(*bodies),
        Collect(line=8),
        send(2, 5.0),
        launchers=2,
    )
    run = rehearse(plan)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    entries = [r["data"] for r in run.journal.rows("SELECT data FROM entry ORDER BY id")]
    (collect,) = [i for i, data in enumerate(entries) if '"happening":"made-safe"' in data]
    before = [data for data in entries[:collect] if '"event":"left"' in data]
    assert len(before) == 2 + 4 + 12
    assert sum('"state":"safe"' in data for data in entries[:collect]) == 2
    assert len(run.left()) == 2 + 4 + 12 + 1


def test_a_fork_whose_stations_end_in_a_rest_is_not_begun_again_after_the_collect() -> None:
    bodies = (*lane(0, times=2), rest(12.0)), (*lane(1, times=2), rest(12.0))
    plan = lesson_plan(
        ShowSpeed(feed=0, line=1),
        ShowSpeed(feed=2, line=1),
        fork(*bodies),
        Collect(line=8),
        send(0, 5.0),
        launchers=2,
    )
    run = rehearse(plan)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert len(run.left()) == 2 + 8 + 1


# -- the beginning ------------------------------------------------------------------------------


def test_a_launcher_without_a_link_is_named_and_nothing_is_begun() -> None:
    plan = side_by_side(2)
    journal = open_journal(None)
    links = Links(urls=("sim:", "serial:/dev/no-such-launcher"))
    setting = Setting(source="invented.feed", rehearsal=False, wall_utc_s=1e9)

    async def begin() -> None:
        profiles = [GARAGE, GARAGE]
        async with connect_lesson(plan, profiles, links, journal, setting, fences=OpenFences()):
            raise AssertionError("the lesson was opened with one launcher missing")

    with pytest.raises(LauncherError) as failed:
        anyio.run(begin)
    assert "/dev/no-such-launcher" in str(failed.value.diagnostic)
    assert failed.value.diagnostic.help
    assert journal.rows("SELECT id FROM session") == []
    journal.close()
