"""A player begins where the last lesson with the same progression left them; the coach may change
it at the set-up."""

from __future__ import annotations

from collections.abc import Collection
from contextlib import closing
from pathlib import Path

import msgspec
import pytest
import trio

from feedscript.diagnostics import Diagnostic
from feedscript.journal.retention import forget_player
from feedscript.journal.store import Journal, SessionStart, open_journal
from feedscript.plan.canonical import canonical_bytes
from feedscript.plan.model import Plan, Progression
from feedscript.session.engine import group_change
from feedscript.session.engine.by_hand.rungs import as_last_time
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.engine.start import Setting, begin_lesson
from feedscript.session.operator.commands import (
    ChangeRoster,
    Command,
    RosterChange,
    SetRung,
)
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.view import for_the_group
from feedscript.session.state import events as e
from feedscript.session.state.event_log import read_state, write_event
from tests.session.coach import see, see_balls
from tests.session.engine.test_progressions import PACED, fed, lesson, turns
from tests.session.rehearsing import GARAGE, OpenFences, Run, rehearse

PLAN = lesson(turns(PACED))
UP = {"progression": "pace", "rung": 1, "feed": "b"}


def a_lesson_before(journal: Journal, *events: e.Event, rehearsal: bool = False) -> int:
    """One that the journal keeps, of another title, with these events."""
    before = SessionStart(
        token=9,
        begun_utc_s=1e9 - 86_400.0,
        title="Another title",
        source="",
        rehearsal=rehearsal,
        plan=canonical_bytes(PLAN),
        group_json=msgspec.json.encode(PLAN.group).decode(),
    )
    number = journal.begin_session(before)
    for event in events:
        write_event(journal, number, 1e9 - 86_000.0, event)
    return number


def begun(journal: Journal, plan: Plan = PLAN, *, rehearsal: bool = False) -> dict[str, int]:
    """On which rung of the first progression each player begins the next lesson."""

    async def begin() -> dict[str, int]:
        setting = Setting(source="", rehearsal=rehearsal, wall_utc_s=1e9)
        live = begin_lesson(plan, [GARAGE], journal, OpenFences(), setting, 7)
        assert live.course.stands == live.state.first_stands
        numbers = {player.name: n for n, player in enumerate(plan.group.players)}
        return {name: live.state.stands.get((0, n), 0) for name, n in numbers.items()}

    return trio.run(begin)


def stepped(player: str) -> e.Stepped:
    return e.Stepped(lane="", number=5, player=player, **UP)


@pytest.mark.parametrize("name", ["Ash", "ASH", "ash"])
def test_the_next_lesson_begins_where_the_last_one_left_a_player(name: str) -> None:
    journal = open_journal(None)
    a_lesson_before(journal, stepped(name))
    assert begun(journal) == {"Ash": 1, "Bay": 0}


def test_the_newest_counts_and_a_coach_may_have_set_it_back() -> None:
    journal = open_journal(None)
    back = e.StoodOn(player="Ash", progression="pace", rung=0, feed="a", by="keys")
    a_lesson_before(journal, stepped("Ash"), stepped("Bay"), back)
    assert begun(journal) == {"Ash": 0, "Bay": 1}


def test_a_rehearsal_neither_leaves_nor_takes_anything() -> None:
    journal = open_journal(None)
    a_lesson_before(journal, stepped("Ash"), rehearsal=True)
    assert begun(journal) == {"Ash": 0, "Bay": 0}
    a_lesson_before(journal, stepped("Ash"))
    assert begun(journal, rehearsal=True) == {"Ash": 0, "Bay": 0}


def test_the_rung_of_another_progression_or_of_a_feed_that_is_gone_is_not_taken() -> None:
    journal = open_journal(None)
    a_lesson_before(journal, stepped("Ash"))
    for other in (
        Progression(name="climb", rungs=("a", "b")),
        Progression(name="pace", rungs=("a", "c")),
    ):
        plan = msgspec.structs.replace(PLAN, progressions=(other,))
        assert begun(journal, plan) == {"Ash": 0, "Bay": 0}


def test_a_player_who_is_forgotten_begins_on_the_first(tmp_path: Path) -> None:
    file = tmp_path / "journal.sqlite"
    with closing(open_journal(file)) as journal:
        a_lesson_before(journal, stepped("Ash"), stepped("Bay"))
    forget_player(file, "Ash")
    with closing(open_journal(file)) as journal:
        assert begun(journal) == {"Ash": 0, "Bay": 1}


def test_an_entry_that_cannot_be_read_is_passed_over() -> None:
    journal = open_journal(None)
    number = a_lesson_before(journal, stepped("Bay"))
    journal.note(number, 1e9, "step", {"player": 5})
    assert begun(journal) == {"Ash": 0, "Bay": 1}


def set_up_with(*commands: Command) -> tuple[Run, list[Diagnostic | None], list[object]]:
    said: list[Diagnostic | None] = []
    seen: list[object] = []

    async def coach(engine: Engine) -> None:
        view = await see(engine, lambda view: view.phase is Phase.SETTING_UP)
        seen.append(view.private.rungs)
        said.extend([await engine.command(command) for command in commands])
        seen.append(engine.view.private.rungs)
        assert "rungs" not in str(for_the_group(engine.view))
        await see_balls(engine, 2)
        late = SetRung(player="Ash", progression="pace", rung=0)
        said.append(await engine.command(late))

    return rehearse(PLAN, coach), said, seen


def test_the_coach_sets_a_rung_at_the_set_up_and_not_later() -> None:
    run, said, seen = set_up_with(SetRung(player="Bay", progression="pace", rung=1))
    assert run.ending.finished, run.ending.diagnostics
    assert fed(run) == [("Ash", "a"), ("Bay", "b")]
    assert said[0] is None
    assert said[1] is not None
    assert said[1].slug == "not-now"
    assert [(one.player, one.rung, one.may_be_set) for one in seen[0]] == [
        ("Ash", 0, True),
        ("Bay", 0, True),
    ]
    assert [one.rung for one in seen[1]] == [0, 1]
    live = run.engine.lesson
    assert read_state(run.journal, live.session_id, live.plan) == live.state


@pytest.mark.parametrize(
    "wrong",
    [
        SetRung(player="Elm", progression="pace", rung=1),
        SetRung(player="Ash", progression="climb", rung=1),
        SetRung(player="Ash", progression="pace", rung=2),
        SetRung(player="Ash", progression="pace", rung=-1),
    ],
)
def test_what_is_no_rung_of_anybody_is_refused(wrong: SetRung) -> None:
    _, said, _ = set_up_with(wrong)
    assert said[0] is not None
    assert said[0].slug == "not-now"


def test_who_comes_late_begins_where_they_were_left_too(monkeypatch: pytest.MonkeyPatch) -> None:
    def in_a_real_lesson(live: LiveRun, players: Collection[str]) -> None:
        live.rehearsal = False
        as_last_time(live, players)
        live.rehearsal = True

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 2)
        a_lesson_before(engine.lesson.journal, stepped("Elm"))
        await engine.command(ChangeRoster(change=RosterChange.JOIN, player="Elm"))

    monkeypatch.setattr(group_change, "as_last_time", in_a_real_lesson)
    run = rehearse(lesson(turns(PACED, slots=6)), coach)
    assert run.ending.finished, run.ending.diagnostics
    theirs = [feed for player, feed in fed(run) if player == "Elm"]
    assert theirs
    assert set(theirs) == {"b"}
