"""What stays on every screen of a running lesson until it changes, seen in all its views."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import anyio
import msgspec

from feedscript.check.check_program import check_program
from feedscript.journal.store import open_journal
from feedscript.launcher.port import Description, LauncherPort
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.model import Collect, Repeat, Say, ShowSpeed, Station, Together, Turns
from feedscript.plan.scene import Player
from feedscript.session.engine.connect import Links, connect_lesson
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.start import Setting
from feedscript.session.operator.commands import ChangeRoster, RosterChange, SimpleCommand
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.operator.view import LessonView, Presence
from feedscript.tongues.text import plain
from tests.plan.small_plans import rest, send
from tests.session.coach import say, see_balls, see_phase
from tests.session.rehearsing import lesson_plan, rehearse

GROUP = tuple(Player(name=name) for name in ("Ash", "Birch", "Cedar"))
SHOW = ShowSpeed(feed=0, line=1)


def views_of(plan, script=None) -> list[LessonView]:
    seen: list[LessonView] = []

    async def watch(engine: Engine) -> None:
        if script is not None:
            await script(engine)
        async for view in engine.views():
            seen.append(view)

    async def both(engine: Engine) -> None:
        seen.append(engine.view)
        await watch(engine)

    rehearse(plan, both)
    return seen


def test_words_stay_beside_the_names_until_the_next_words() -> None:
    body = (
        Say(text="Turn early.", line=3),
        Repeat(times=2, body=(send(0, after_s=4.0),), line=4),
        Say(text="Through the ball.", line=5),
        rest(8.0),
    )
    views = views_of(lesson_plan(SHOW, Turns(slots=3, passes=1, body=body, line=2), players=GROUP))
    assert views[0].said == ""
    running = [view for view in views if view.calls and view.ending is None]
    called = [view for view in running if view.calls[-1].text.endswith(" is on")]
    # The next player's name was the newest call, and what was said last still stood.
    assert {view.said for view in called if view.stations[0].on == "Birch"} >= {"Through the ball."}
    for view in running:
        words = [call.text for call in view.calls if not call.text.endswith(" is on")]
        if words and words[-1] in ("Turn early.", "Through the ball."):
            assert view.said == words[-1]
    assert {(v.stations[0].on, v.stations[0].next_up) for v in running if v.stations[0].on} == {
        ("Ash", "Birch"),
        ("Birch", "Cedar"),
        ("Cedar", "Ash"),
    }


def test_the_words_are_there_after_a_stop_and_gone_at_the_end() -> None:
    at_rest: list[LessonView] = []

    async def stops(engine: Engine) -> None:
        await see_balls(engine, 2)
        await engine.command(SimpleCommand(act=Act.STOP))
        at_rest.append(await see_phase(engine, Phase.STOPPED))
        await say(engine, Act.SET_UP_AGAIN)

    steps = (
        SHOW,
        Say(text="Turn early.", line=2),
        Repeat(times=4, body=(send(0, after_s=4.0),), line=3),
    )
    views = views_of(lesson_plan(*steps), stops)
    assert at_rest[0].said == "Turn early."
    assert views[-1].ending is not None
    assert views[-1].said == ""


def test_each_station_has_its_own_names_and_words() -> None:
    def station(number: int, players: tuple[int, ...], words: str) -> Station:
        turn = (Say(text=words, line=5), send(2 * number, after_s=6.0), rest(4.0))
        turns = Turns(slots=len(players), passes=1, body=turn, line=4)
        return Station(
            name=("drives", "volleys")[number],
            launcher=number,
            players=players,
            body=(turns,),
            line=3,
        )

    fork = Together(
        stations=(station(0, (0, 2), "Deep."), station(1, (1,), "Short.")), for_s=40.0, line=2
    )
    shows = (SHOW, ShowSpeed(feed=2, line=1))
    before = Say(text="To your places.", line=1)
    views = views_of(lesson_plan(*shows, before, fork, players=GROUP, launchers=2))
    side_by_side = [view for view in views if len(view.stations) == 2]
    assert [one.name for one in side_by_side[-1].stations] == ["drives", "volleys"]
    assert any(
        [(one.on, one.said) for one in view.stations] == [("Ash", "Deep."), ("Birch", "Short.")]
        and view.said == "To your places."
        for view in side_by_side
    )
    assert all(not one.said for one in views[-1].stations)


def test_who_sits_out_may_come_back_or_go_and_who_is_gone_comes_back_first() -> None:
    seen: list[tuple[Presence, tuple[Presence, ...]]] = []

    async def changes(engine: Engine) -> None:
        await see_balls(engine, 1)
        for change in (RosterChange.REST, RosterChange.LEAVE, RosterChange.JOIN):
            refused = await engine.command(ChangeRoster(change=change, player="Cedar"))
            assert refused is None, refused
            cedar = engine.view.players[2]
            seen.append((cedar.presence, cedar.may_be))
        again = await engine.command(ChangeRoster(change=RosterChange.LEAVE, player="Nobody"))
        assert again is not None

    body = (Repeat(times=3, body=(send(0, after_s=4.0),), line=4), rest(8.0))
    steps = (SHOW, Turns(slots=3, passes=1, body=body, line=2))
    views_of(lesson_plan(*steps, players=GROUP), changes)
    assert seen == [
        (Presence.SITS_OUT, tuple(Presence)),
        (Presence.GONE, (Presence.HERE, Presence.GONE)),
        (Presence.HERE, tuple(Presence)),
    ]


def test_totals_follow_the_group() -> None:
    """Turns for one player each: whoever leaves takes them along, and who comes back brings what is
    still to come of them."""
    seen: list[tuple[tuple[int, int], float]] = []

    async def changes(engine: Engine) -> None:
        await see_balls(engine, 2)
        seen.append((engine.view.balls_planned, engine.view.planned_s[1]))
        for change in (RosterChange.LEAVE, RosterChange.JOIN):
            assert await engine.command(ChangeRoster(change=change, player="Cedar")) is None
            seen.append((engine.view.balls_planned, engine.view.planned_s[1]))

    body = (Repeat(times=3, body=(send(0, after_s=4.0),), line=4), rest(8.0))
    own = (
        Turns(slots=1, passes=1, body=body, line=2, players=(who,), named=True) for who in range(3)
    )
    plan = lesson_plan(SHOW, *own, players=GROUP)
    views = views_of(msgspec.structs.replace(plan, bounds=bounds(plan)), changes)
    whole, without, again = (balls for balls, _ in seen)
    assert whole == (10, 10)
    assert without[0] <= 10 - 3
    # Of the turn under way it is not known how much of its three balls is left; nothing else is.
    assert without[1] - without[0] == 3
    assert again[1] == 10
    assert seen[1][1] < seen[0][1]
    assert views[-1].balls_left == 10
    assert views[-1].balls_planned == (10, 10)


def test_a_launcher_that_counts_fewer_balls_than_were_to_be_loaded_is_believed() -> None:
    plan = lesson_plan(SHOW, Repeat(times=3, body=(send(0, after_s=4.0),), line=3))
    (only,) = plan.launchers
    views = views_of(
        msgspec.structs.replace(plan, launchers=(msgspec.structs.replace(only, load=500),))
    )
    shown = [view.launchers[0].hopper_balls for view in views if view.phase is Phase.RUNNING]
    assert shown
    assert max(shown) < 400  # the simulated one holds fewer


def test_a_hopper_holds_what_was_loaded_less_what_left_since_the_last_collect() -> None:
    """Of two launchers each its own; the shown balls count too."""
    series = Repeat(times=3, body=(send(0, after_s=4.0),), line=3)
    plan = lesson_plan(
        SHOW, ShowSpeed(feed=2, line=1), series, Collect(line=4), series, launchers=2
    )
    first, second = plan.launchers
    loaded = (msgspec.structs.replace(first, load=20), msgspec.structs.replace(second, load=9))
    views = views_of(msgspec.structs.replace(plan, launchers=loaded))
    left = [
        (view.balls_left, tuple(one.hopper_balls for one in view.launchers))
        for view in views
        if view.phase in (Phase.RUNNING, Phase.DISARMING, Phase.FINISHED)
    ]
    assert dict(left) == {  # the last that was seen at each number of balls
        1: (19, 9),
        2: (19, 8),
        3: (18, 8),
        4: (17, 8),
        5: (20, 9),
        6: (19, 9),
        7: (18, 9),
        8: (17, 9),
    }
    assert views[-1].launchers[0].loaded_balls == 20


def test_of_several_launchers_each_is_told_with_what_it_says_of_itself() -> None:
    """Where two are alike, nothing else shows that their addresses were given crossed."""
    lessons = Path(__file__).parents[1] / "lessons"
    verdict = check_program(lessons / "two.feed")
    assert verdict.plan is not None
    setting = Setting(source="two.feed", rehearsal=True, wall_utc_s=1e9)

    async def first_steps() -> dict[str, str]:
        async with (
            connect_lesson(
                verdict.plan, verdict.profiles, Links(urls=("sim:", "sim:")), journal, setting
            ) as engine,
            anyio.create_task_group() as tasks,
        ):
            tasks.start_soon(engine.run)
            seen = await see_phase(engine, Phase.SETTING_UP)
            await say(engine, Act.QUIT)
        return {step.key: plain(step.words) for step in seen.set_up}

    with closing(open_journal(None)) as journal:
        words = anyio.run(first_steps)
    for number, profile in enumerate(verdict.profiles):
        assert words[f"place-{number}"].endswith(f"number {profile.serial}.")
    assert not [key for key, told in words.items() if "number" in told and "place" not in key]


def test_nobody_is_told_that_a_launcher_stops_by_itself_which_does_not() -> None:
    class Unwatched:
        def __init__(self, port: LauncherPort) -> None:
            self.port = port

        def __getattr__(self, name: str) -> object:
            return getattr(self.port, name)

        @property
        def description(self) -> Description:
            return msgspec.structs.replace(self.port.description, watchdog_s=None)

    told: list[tuple[str, str]] = []

    async def lose(engine: Engine) -> None:
        await see_phase(engine, Phase.RUNNING)
        (launcher,) = engine.lesson.launchers
        kept = launcher.port
        for port in (kept, Unwatched(kept)):
            launcher.port, launcher.linked = port, False
            told.append((plain(engine.view.no_link), plain(engine.view.without_laptop)))
        launcher.port, launcher.linked = kept, True

    views_of(lesson_plan(SHOW, Repeat(times=2, body=(send(0, after_s=4.0),), line=3)), lose)
    watched, unwatched = told
    assert all("stops by itself" in words for words in watched)
    assert all("may go on" in words and "switch" in words for words in unwatched)


def of_nobodys_turns(alone: tuple[int, ...] = ()) -> Together:
    """Five balls at each of two stations, and a third for those who work by themselves."""
    fed = tuple(
        Station(
            name=name,
            launcher=number,
            players=tuple(who for who in (0, 1, 2) if who not in alone),
            body=(rest(4.0 * number), *(send(2 * number, 8.0) for _ in range(5))),
            line=5,
        )
        for number, name in enumerate(("north", "south"))
    )
    own = Station(name="wall", launcher=None, players=alone, body=(rest(30.0),), line=6)
    return Together(stations=(*fed, own) if alone else fed, for_s=60.0, line=4)


def stations_at_each_ball(views: list[LessonView]) -> dict[int, set[tuple[tuple[str, str], ...]]]:
    """What was shown while so many balls had left: each station and who is on."""
    seen: dict[int, set[tuple[tuple[str, str], ...]]] = {}
    for view in views:
        if view.ending is None and view.phase is Phase.RUNNING:
            stations = tuple((one.name, one.on) for one in view.stations)
            seen.setdefault(view.balls_left, set()).add(stations)
    return seen


SHOWS = (SHOW, ShowSpeed(feed=2, line=1))


def test_who_is_on_is_shown_until_stations_of_nobodys_turns_begin() -> None:
    """The way through the plan comes to the stations while the turn's last balls are queued."""
    body = (Repeat(times=2, body=(send(0, 4.0),), line=3),)
    turns = Turns(slots=3, passes=1, body=body, line=2)
    plan = lesson_plan(*SHOWS, turns, of_nobodys_turns(), players=GROUP, launchers=2)
    views = views_of(plan)
    seen = stations_at_each_ball(views)
    of_shows, of_turns = 2, 6
    assert seen[of_shows + of_turns - 1] == {(("", "Cedar"),)}
    assert (("", "Cedar"),) in seen[of_shows + of_turns]
    assert seen[of_shows + of_turns + 1] == {(("north", ""), ("south", ""))}
    assert views[-1].balls_left == of_shows + of_turns + 10


def test_stations_of_nobodys_turns_are_shown_until_they_end() -> None:
    """The way through the plan leaves them once their last balls are queued, and comes to what
    follows: to other stations, or to turns."""
    body = (Repeat(times=2, body=(send(0, 4.0),), line=8),)
    turns = Turns(slots=3, passes=1, body=body, line=7)
    stations = (of_nobodys_turns(alone=(2,)), of_nobodys_turns(), turns)
    seen = stations_at_each_ball(
        views_of(lesson_plan(*SHOWS, *stations, players=GROUP, launchers=2))
    )
    with_wall, without = (
        (("north", ""), ("south", ""), ("wall", "Cedar")),
        (("north", ""), ("south", "")),
    )
    first, second = range(len(SHOWS) + 1, len(SHOWS) + 11), range(len(SHOWS) + 11, len(SHOWS) + 21)
    assert all(seen[balls] == {with_wall} for balls in first[:-1])
    assert seen[first[-1]] == {with_wall, without}  # the next ones begin before their first ball
    assert all(seen[balls] == {without} for balls in second[:-1])
    assert without in seen[second[-1]]
    assert not any(without in shown for balls, shown in seen.items() if balls > second[-1])
