"""How long a child waits is what a count over the interpreter's own actions says, moment by moment;
without stations it is what the same lesson with every turn one after another says."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import anyio
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.journal.redaction import replace_everywhere, without_names
from feedscript.plan.interpreter.actions import SendBall, TakeTurn
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Plan, Repeat, ShowSpeed, Station, Step, Together, Turns
from feedscript.plan.scene import Player
from feedscript.review.report.lesson import lesson_of_player, read_lesson
from feedscript.review.report.waiting import (
    Called,
    LeftAt,
    Worked,
    stays_of,
    turns_of,
    waits,
    work_of,
)
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import ChangeRoster, RosterChange
from tests.plan.small_plans import rest, send
from tests.plan.test_stations_without_launcher import SHADOW, WEST, plan_of, text_of
from tests.review.calendar import FIRST_UTC_S, PLAYERS
from tests.review.commands import keep, run
from tests.review.record.seasons import quick, write_week
from tests.session.coach import see_balls
from tests.session.rehearsing import lesson_plan, rehearse

NAMES = ("Ada", "Ben", "Cleo", "Dan", "Eve")
GROUP = tuple(Player(name=name) for name in NAMES)
TICK_S = 0.05


def turns(launcher: int, balls: int, slots: int) -> Turns:
    body = (Repeat(times=balls, body=(send(2 * launcher, 4.0),), line=5), rest(10.0))
    return Turns(slots=slots, passes=1, body=body, line=6)


#: Two stations, of three and of two players, who change over at the same time; so many balls a
#: turn, and so many turns.
STATIONS = (((0, 1, 2), 4, 6), ((3, 4), 4, 6))


def side_by_side() -> Plan:
    stations = tuple(
        Station(
            name=f"station {at}",
            launcher=at,
            players=players,
            body=(turns(at, balls, slots),),
            line=4,
        )
        for at, (players, balls, slots) in enumerate(STATIONS)
    )
    shows = [ShowSpeed(feed=2 * at, line=1) for at in (0, 1)]
    return lesson_plan(
        *shows, Together(stations=stations, for_s=200.0, line=3), players=GROUP, launchers=2
    )


def one_after_another() -> Plan:
    """The same turns without stations."""
    steps: list[Step] = []
    for at, (players, balls, slots) in enumerate(STATIONS):
        named = turns(at, balls, slots)
        steps.append(Turns(slots=slots, passes=1, body=named.body, line=6, players=players))
    return lesson_plan(*steps, players=GROUP, launchers=2)


def counted(plan: Plan) -> dict[str, tuple[float, float]]:
    """Time in the lesson and time without a turn of each player, by looking at every moment.

    A turn: from the call (15 s before the first ball at most) to the last ball.
    """
    spans: list[list[float]] = []
    of: list[int] = []
    at: dict[str, int] = {}  # the turn that is on at a station
    for action in run_through(plan, lambda _: None):
        if isinstance(action, TakeTurn):
            assert action.player is not None
            at[action.station] = len(spans)
            spans.append([action.called_s, -1.0])
            of.append(action.player)
        elif isinstance(action, SendBall):
            turn = spans[at[action.station]]
            if turn[1] < 0.0:
                turn[0] = max(turn[0], action.at_s - 15.0)
            turn[1] = action.at_s
    first, last = min(span[0] for span in spans), max(span[1] for span in spans)
    waited: dict[int, int] = defaultdict(int)
    ticks = round((last - first) / TICK_S)
    for tick in range(ticks):
        now = first + (tick + 0.5) * TICK_S
        on = {who for who, (begin, end) in zip(of, spans, strict=True) if begin <= now < end}
        for who in range(len(NAMES)):
            waited[who] += who not in on
    return {NAMES[who]: (last - first, waited[who] * TICK_S) for who in range(len(NAMES))}


def test_each_child_waits_as_long_as_the_plans_own_actions_say() -> None:
    conducted = rehearse(side_by_side())
    lesson = read_lesson(conducted.journal)
    conducted.journal.close()
    theirs, alone = counted(side_by_side()), counted(one_after_another())
    assert set(lesson.waits) == set(NAMES)
    for name, found in lesson.waits.items():
        # The wheels' start after "go on" keeps the first ball 1.8 s longer than the plan has it.
        assert (found.here_s, found.waited_s) == pytest.approx(theirs[name], abs=2.0)
        # Each of the six turns more would bring a change: 1.1 s from the last ball to its bounce,
        # when the next is called; and the second station's first player would have to walk on,
        # 8.9 s. That is not counted: without stations they would wait rather more than we say.
        here_s, waited_s = alone[name]
        uncounted_s = 6 * 1.1 + 8.9
        assert found.here_without_stations_s == pytest.approx(here_s - uncounted_s, abs=2 * 2.0)
        assert waited_s - uncounted_s <= found.waited_without_stations_s <= waited_s
        assert found.waited_without_stations_s > found.waited_s + 60.0
        assert found.minutes_an_hour is not None
        assert found.minutes_an_hour == pytest.approx(60 * found.waited_s / found.here_s)


def test_who_comes_late_does_not_wait_before(tmp_path: Path) -> None:
    async def coach(engine: Engine) -> None:
        await see_balls(engine, 9)
        wish = ChangeRoster(change=RosterChange.JOIN, player="Finn")
        assert await engine.command(wish) is None
        await see_balls(engine, 17)
        wish = ChangeRoster(change=RosterChange.LEAVE, player="Ada")
        assert await engine.command(wish) is None
        await anyio.sleep(0)

    plan = lesson_plan(ShowSpeed(feed=0, line=1), turns(0, 4, 9), players=GROUP[:2])
    conducted = rehearse(plan, coach)
    found = read_lesson(conducted.journal).waits
    conducted.journal.close()
    assert set(found) == {"Ada", "Ben", "Finn"}
    assert found["Finn"].here_s < found["Ben"].here_s
    assert found["Ada"].here_s < found["Ben"].here_s
    for one in found.values():  # without stations there is nothing to compare with
        assert one.waited_without_stations_s == pytest.approx(one.waited_s, abs=0.5)


def test_it_stands_in_the_review_and_only_ones_own_on_a_sheet(
    calendar: Path, tmp_path: Path
) -> None:
    told = json.loads(run("--journal", calendar, "--format", "json"))
    for one in told["players"]:
        waiting = one["waiting"]
        # Old journals know no calls: a turn is then its balls. Three turns of 28 s each.
        assert waiting["here_s"] - waiting["waited_s"] == pytest.approx(3 * 28.0)
        assert waiting["without_stations"]["waited_s"] == pytest.approx(waiting["waited_s"])
    run("--journal", calendar, "-o", tmp_path / "all.html")
    text = (tmp_path / "all.html").read_text("utf-8")
    assert "Waited an hour" in text
    assert f">{told['players'][0]['waiting']['minutes_an_hour']:.0f} min</td>" in text
    alone = json.loads(run("--journal", calendar, "--player", "Ash", "--format", "json"))
    assert [one["waiting"] for one in alone["players"]] == [told["players"][0]["waiting"]]
    assert PLAYERS[1] not in json.dumps(alone)


def test_work_without_a_launcher_is_a_turn_too() -> None:
    called = [
        Called(0.0, "drives", "Ada"),
        Called(0.0, "shadow", "Ben"),
        Called(60.0, "drives", "Ben"),
        Called(60.0, "shadow", "Ada"),
        Called(120.0, "drives", None),
        Called(120.0, "shadow", None),
    ]
    balls = [LeftAt(5.0 * n, "drives", "Ada" if n < 12 else "Ben") for n in range(1, 24)]
    found = waits(turns_of(called, balls, 120.0), {})
    assert found["Ada"].waited_s == pytest.approx(5.0)  # from her last ball to the change
    assert found["Ben"].here_s == 120.0
    assert found["Ada"].minutes_an_hour_without_stations == pytest.approx(30.0)


def test_all_who_work_at_one_station_are_busy_as_long_as_they_work() -> None:
    """By hand: Cleo, Dan and Eve work from 0 to 60 s, called twice; Ada has a turn from 0 to 50 s
    and works with Ben from 60 s until the stations end at 120 s."""
    worked = [
        Worked(0.0, "shadow", ("Cleo", "Dan", "Eve")),
        Worked(30.0, "shadow", ("Cleo", "Dan", "Eve")),
        Worked(60.0, "shadow", ()),
        Worked(60.0, "shadow", ("Ada", "Ben")),
        Worked(120.0, "shadow", ()),
    ]
    called = [Called(0.0, "drives", "Ada"), Called(60.0, "drives", None)]
    balls = [LeftAt(5.0 * n, "drives", "Ada") for n in range(1, 11)]
    work = work_of(worked, 120.0)
    found = waits(turns_of(called, balls, 120.0), {}, work)
    waited = {name: one.waited_s for name, one in found.items()}
    assert waited == {"Cleo": 60.0, "Dan": 60.0, "Eve": 60.0, "Ada": 10.0, "Ben": 60.0}
    # One after another: Ada's 50 s beside the others' work come before it. A part works at once.
    assert {one.here_without_stations_s for one in found.values()} == {170.0}


def test_work_at_a_station_is_no_waiting_in_the_review() -> None:
    """By hand, for four at drives and shadowing, 4 min each. At the drives each has 2 min, the last
    ball after 111 s, the first after 5 s. The next is called when it has come down, 1.2 s later."""
    conducted = rehearse(plan_of(text_of(4, [WEST, SHADOW])))
    assert conducted.ending.finished
    found = read_lesson(conducted.journal).waits
    conducted.journal.close()
    first, second = 480.0 - 240.0 - 111.0, 480.0 - 240.0 - (231.0 - 112.2)
    for name, waited_s in zip("ABCD", (first, second, first, second), strict=True):
        assert found[name].here_s == pytest.approx(480.0, abs=2.0)
        assert found[name].waited_s == pytest.approx(waited_s, abs=2.0)
        # The four turns, and the work of two parts, of two each at once. C too is called when the
        # ball before is down, and so before the work is over.
        without_s = 111.0 + 3 * 118.8 + 2 * 240.0
        assert found[name].here_without_stations_s == pytest.approx(without_s, abs=4.0)


def test_who_is_forgotten_works_under_no_name() -> None:
    conducted = rehearse(plan_of(text_of(4, [WEST, SHADOW]).replace('"C"', '"Cleo"')))
    replace_everywhere(conducted.journal._connection, without_names(["Cleo"]))
    entries = "SELECT data FROM entry WHERE kind = 'said' AND data LIKE '%{}%'"
    assert not conducted.journal.rows(entries.format("Cleo"))
    assert conducted.journal.rows(entries.format("forgotten player"))
    assert "forgotten player" in read_lesson(conducted.journal).waits
    conducted.journal.close()


moments = st.floats(0.0, 100.0)
intervals = st.tuples(moments, moments).map(sorted).map(tuple)
some_turns = st.lists(st.tuples(st.sampled_from(NAMES), intervals), min_size=1, max_size=12)


@given(some_turns)
def test_stations_never_make_anybody_wait_longer(
    found: Sequence[tuple[str, tuple[float, float]]],
) -> None:
    for one in waits(found, {}).values():
        assert -1e-9 <= one.waited_s <= one.here_s + 1e-9
        assert one.waited_s <= one.waited_without_stations_s + 1e-9
        with_s, without_s = one.minutes_an_hour, one.minutes_an_hour_without_stations
        if with_s is not None and without_s is not None:
            assert with_s <= without_s + 1e-6


def test_who_goes_and_comes_back_is_away_in_between() -> None:
    changes = [(10.0, "Ada", False), (20.0, "Ada", False), (30.0, "Ada", True), (40.0, "Eve", True)]
    stays = stays_of(["Ada", "Ben"], changes)
    assert stays["Ada"] == [(float("-inf"), 10.0), (30.0, float("inf"))]
    assert stays["Eve"] == [(40.0, float("inf"))]
    found = waits([("Ada", (0.0, 5.0)), ("Ben", (5.0, 50.0))], stays)
    assert (found["Ada"].here_s, found["Ada"].waited_s) == (30.0, 25.0)


def test_nobody_elses_waiting_is_on_a_sheet_and_who_is_forgotten_has_none(tmp_path: Path) -> None:
    path = tmp_path / "j.sqlite"
    kept = quick(path)
    number = write_week(kept, 0, {"Ada": ["in"] * 6, "Ben": ["net"] * 6})
    for player, at_s in (("Ada", 20.0), ("Ben", 70.0)):
        turn = {"lane": "", "number": 0, "station": "", "player": player}
        kept.note(number, FIRST_UTC_S + at_s, "turn", turn)
    alone = lesson_of_player(read_lesson(kept), "Ben", ["Ada", "Ben"])
    assert set(alone.waits) == {"Ben"}
    kept.close()
    keep("forget", "ada", "--journal", path)
    told = run("--journal", path, "--format", "json")
    assert "Ada" not in told
    waiting = {one["player"]: one["waiting"] for one in json.loads(told)["players"]}
    # Called at 20 s and at 70 s, last balls at 50 s and at 100 s.
    assert waiting["forgotten player"]["waited_s"] == pytest.approx(50.0)
    assert waiting["Ben"]["here_s"] == pytest.approx(80.0)
