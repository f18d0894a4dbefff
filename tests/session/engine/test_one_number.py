"""A ball has one number, wherever it stands: screens, page, log, journal, files, video marks.

Held against the launchers' own: the number under which each of them was asked, and when the ball
left by its clock.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable
from datetime import datetime

import anyio
import pytest
from feedscript_simulator.faults import Faults
from rich.console import Console

from feedscript.plan.model import Result
from feedscript.review.report.export import balls_csv, lessons_json
from feedscript.review.report.lesson import read_lesson
from feedscript.review.video.cues import Track, cues_of
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import Answer, RecordResult
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import LessonView
from feedscript.terminal.plain_lines import PlainLines
from feedscript.terminal.screen import render
from feedscript.terminal.terminal_state import TerminalState
from tests.session.coach import say, see, see_balls, see_phase
from tests.session.engine.test_lanes import side_by_side
from tests.session.rehearsing import Rig, Run, rehearse

Seen = dict[int, str]  # a ball's number: its feed


def on_screen(state: LessonView) -> str:
    console = Console(file=io.StringIO(), width=80, height=40, color_system=None)
    drawn = console.render_lines(render(state, TerminalState()), console.options.update(height=40))
    return "\n".join("".join(part.text for part in line) for line in drawn)


class Watcher:
    """Everything that is shown while the lesson runs."""

    def __init__(self) -> None:
        self.screen: list[tuple[int, str]] = []
        self.log: list[tuple[int, str]] = []
        self.page: list[tuple[int, str]] = []
        self.asked: list[int] = []

    async def watch(self, engine: Engine) -> None:
        lines = PlainLines()
        async for state in engine.views():
            for _, number, feed in re.findall(r"(left|next|then) (\d+) (\w+)", on_screen(state)):
                self.screen.append((int(number), feed))
            for line in lines.new_in(state):
                if found := re.search(r"ball (\d+) left: (\w+)", line):
                    self.log.append((int(found[1]), found[2]))
            shown = (*state.gone, *state.coming, *state.asked_about)
            self.page += [(ball.feed_id, ball.feed) for ball in shown]
            self.asked += [ball.feed_id for ball in state.asked_about]
            if state.asked_about:
                assert f"leave? {state.asked_about[0].feed_id} " in on_screen(state)


def one_each(pairs: Iterable[tuple[int, str]]) -> Seen:
    """No number stands for two balls."""
    seen: Seen = {}
    for number, feed in pairs:
        assert seen.setdefault(number, feed) == feed
    return seen


@pytest.fixture(scope="module")
def lesson() -> tuple[Run, Rig, Watcher]:
    """Two launchers, a hold, a series again, a jam that a person is asked about."""
    rig, watcher = Rig({1: Faults(jams_at=frozenset([9]))}), Watcher()

    async def coach(engine: Engine) -> None:
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(watcher.watch, engine)
            await see_balls(engine, 5)
            await say(engine, Act.HOLD)
            await see_phase(engine, Phase.HELD)
            await engine.command(RecordResult(result=Result.NET))
            await say(engine, Act.GO_ON)
            await see_balls(engine, 9)
            await say(engine, Act.AGAIN)
            state = await see(engine, lambda s: bool(s.asked_about))
            await anyio.sleep(0.5)  # it is seen
            await engine.command(Answer(feed_id=state.asked_about[0].feed_id, left=False))
            await see_phase(engine, Phase.STOPPED)
            await say(engine, Act.SET_UP_AGAIN)

    return rehearse(side_by_side(2), coach, rig=rig), rig, watcher


def truth(rig: Rig) -> Seen:
    """What each launcher itself was asked for and sent; the feed as far as it can know it."""
    return one_each(
        (ball.feed_id, "a1 b1" if launcher else "a b")
        for launcher, stand_in in enumerate(rig.stand_ins)
        for ball in stand_in.departures
    )


def test_a_ball_has_one_number_while_the_lesson_runs(lesson: tuple[Run, Rig, Watcher]) -> None:
    run, rig, watcher = lesson
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    really = truth(rig)
    assert len({ball["ball_no"] for ball in run.left()}) < len(really), "the plan's count would do"
    log, page, screen = (one_each(each) for each in (watcher.log, watcher.page, watcher.screen))
    journal = one_each((int(str(b["feed_id"])), str(b["feed"])) for b in run.balls())
    assert set(log) == set(really)
    for number, feed in log.items():
        assert feed in really[number].split()
        assert page[number] == journal[number] == feed
        assert screen.get(number, feed) == feed
    assert set(page) <= set(journal)
    assert set(screen) <= set(page)
    assert set(watcher.asked) == {
        int(str(b["feed_id"])) for b in run.balls() if "a person said so" in str(b["reason"])
    }


def test_a_ball_has_the_same_number_in_all_that_is_kept(lesson: tuple[Run, Rig, Watcher]) -> None:
    run, rig, _ = lesson
    really = truth(rig)
    kept = read_lesson(run.journal)
    rows = list(csv.DictReader(io.StringIO(balls_csv([kept]))))
    (told,) = lessons_json([kept])
    cues = [json.loads(cue.text) for cue in cues_of(kept, 0.0, Track.METADATA)]
    left_s = dict(times(run))
    for places in (
        [(ball.number, ball.feed, ball.left_utc_s) for ball in kept.balls],
        [(int(row["ball"]), row["feed"], moment(row["left"])) for row in rows],
        [(ball["ball"], ball["feed"], moment(ball["left"])) for ball in told["every_ball"]],
        [(cue["ball"], cue["feed"], cue["left_s"]) for cue in cues],
    ):
        assert len(places) == len(really)
        assert set(one_each((number, feed) for number, feed, _ in places)) == set(really)
        for number, _, at_s in places:
            assert at_s == pytest.approx(left_s[number], abs=0.05)
    (recorded,) = [ball for ball in kept.balls if ball.result is Result.NET]
    assert recorded.number in really


def moment(written: str) -> float:
    """Seconds of UTC of a moment that a table has."""
    return datetime.fromisoformat(written).timestamp()


def times(run: Run) -> list[tuple[int, float]]:
    """When each ball left, from the launchers' events as they were written down."""
    rows = run.journal.rows("SELECT utc_s, data FROM entry WHERE kind = 'event'")
    events = [(row["utc_s"], json.loads(row["data"])) for row in rows]
    return [(e["said"]["feed_id"], utc_s) for utc_s, e in events if e["event"] == "left"]
