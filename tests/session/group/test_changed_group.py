"""Somebody comes, leaves or rests in the middle: fair at once, and never beyond the certificate."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.check.check_program import check_program
from feedscript.diagnostics import Diagnostic
from feedscript.launcher.profile.model import Profile
from feedscript.plan.interpreter.actions import OnTurn, SendBall, TakeTurn
from feedscript.plan.model import Plan, Repeat, ShowSpeed, Station, Together, Turns
from feedscript.plan.scene import Player
from feedscript.safety.certify import certify
from feedscript.safety.changed_group import Changed, most_balls_of_each, plan_for, refusals
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.guards import CertifiedFences
from feedscript.session.group.roster import Roster, roster_of
from feedscript.session.operator.commands import (
    ChangeRoster,
    Command,
    RosterChange,
    SimpleCommand,
)
from feedscript.session.operator.phases import Act, Phase
from feedscript.session.state.events import GroupChanged
from feedscript.session.state.lanes import MAIN
from feedscript.session.state.plan_cursor import begin
from tests.plan.small_plans import rest, send
from tests.session.coach import see, see_balls, see_phase
from tests.session.rehearsing import Run, lesson_plan, rehearse

PROGRAM = """feedscript 1
title "Invented group"
court {{ surface hard }}
balls {{ stage green  load 70 }}
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
group {{ players {players}  stage green{hands} }}
{more}
feed drive {{
    land 3.5 m inside baseline, 1.6 m inside forehand sideline  speed 78 km/h  spin top 300 rpm
}}
lesson {{
    show speed of drive
    for each player {{ repeat 5 {{ send drive after 4 s }}  {rest} }}
    for each player {{ repeat 5 {{ send drive after 4 s }}  {rest} }}
}}
"""


def certified(
    folder: Path, players: str = "ABCD", *, more: str = "", hands: str = "", rest: str = "rest 12 s"
) -> tuple[Plan, tuple[Profile, ...]]:
    path = folder / "invented.feed"
    named = ", ".join(f'"{name}"' for name in players)
    path.write_text(PROGRAM.format(players=named, more=more, hands=hands, rest=rest), "utf-8")
    verdict = check_program(path)
    assert verdict.plan is not None, verdict.diagnostics
    return verdict.plan, verdict.profiles


def people(names: str, left: str = "") -> tuple[Player, ...]:
    return tuple(Player(name=name, left_handed=name in left) for name in names)


def slugs(found: tuple[Diagnostic, ...]) -> list[str]:
    assert all(one.help and one.message for one in found)
    return [one.message.rpartition("(")[2].rstrip(")") for one in found]


# -- what the certificate covers --------------------------------------------------------------


def test_a_group_that_stays_within_every_guide_may_change(tmp_path: Path) -> None:
    plan, profiles = certified(tmp_path)
    for names in ("ABC", "AB", "ABCDE", "ABCDEFGH"):
        assert refusals(plan, profiles, Changed(players=people(names), had={})) == ()


def test_too_many_balls_for_those_who_stay_are_refused(tmp_path: Path) -> None:
    """40 balls: 10 each for four, 20 for two, 30 where the turns of three do not come out even."""
    plan, profiles = certified(tmp_path, more="require many-balls 20")
    assert refusals(plan, profiles, Changed(players=people("AB"), had={})) == ()
    found = refusals(plan, profiles, Changed(players=people("A"), had={}))
    assert slugs(found) == ["many-balls"]
    assert "40 balls" in found[0].message


def test_balls_are_counted_from_where_the_lesson_stands(tmp_path: Path) -> None:
    """In the last turn of the lesson everybody but one may go: what was had is what counts."""
    plan, profiles = certified(tmp_path, more="require many-balls 20")
    had = dict.fromkeys("ABCD", 10)
    late = Changed(players=people("A"), had=had, step=2, slots_left=1)
    assert refusals(plan, profiles, late) == ()
    early = Changed(players=people("A"), had=had, step=2, slots_left=3)
    assert slugs(refusals(plan, profiles, early)) == ["many-balls"]


def test_turns_that_do_not_come_out_even_are_counted_up(tmp_path: Path) -> None:
    """Eight turns of five balls among three: somebody has three of them."""
    plan, profiles = certified(tmp_path, more="require many-balls 14")
    found = refusals(plan, profiles, Changed(players=people("ABC"), had={}))
    assert slugs(found) == ["many-balls"]
    assert "15 balls" in found[0].message


def test_beside_each_other_the_station_with_the_longer_turn_counts() -> None:
    """At one station a turn has two balls, at the other six; nobody knows who stands where."""
    stations = tuple(
        Station(
            name=f"s{launcher}",
            launcher=launcher,
            players=(launcher,),
            body=(Turns(slots=1, passes=1, body=(send(2 * launcher),) * balls, line=6),),
            line=4,
        )
        for launcher, balls in enumerate((2, 6))
    )
    plan = lesson_plan(
        Together(stations=stations, for_s=60.0, line=3), launchers=2, players=people("AB")
    )
    assert max(most_balls_of_each(plan, Changed(players=people("AB"), had={}))) == 6


def test_what_one_station_shares_out_goes_to_those_who_stand_there() -> None:
    stations = tuple(
        Station(
            name=f"s{launcher}",
            launcher=launcher,
            players=(launcher,),
            body=(Repeat(times=balls, body=(send(2 * launcher),), line=5),),
            line=4,
        )
        for launcher, balls in enumerate((2, 6))
    )
    plan = lesson_plan(
        Together(stations=stations, for_s=60.0, line=3), launchers=2, players=people("AB")
    )
    assert max(most_balls_of_each(plan, Changed(players=people("AB"), had={}))) == 6


@pytest.mark.parametrize("balls", [24, 28])
def test_a_guide_is_neither_newly_exceeded_nor_exceeded_further(tmp_path: Path, balls: int) -> None:
    """A series of 96 s is within a green group's 105 s and past an orange one's 90 s; one of 112 s
    is past both, and further past the second."""
    path = tmp_path / "invented.feed"
    text = PROGRAM.format(players='"A", "B"', more="", hands="", rest="rest 12 s")
    series = "    for each player { repeat 5 { send drive after 4 s }  rest 12 s }\n"
    text = text.replace(series * 2, series)
    text = text.replace("balls { stage green  load 70 }", "balls { stage orange  load 70 }")
    text = text.replace("repeat 5", f"repeat {balls}")
    text = text.replace("3.5 m inside baseline", "5 m inside baseline")
    text = text.replace("speed 78 km/h", "speed 66 km/h")
    path.write_text(text, "utf-8")
    verdict = check_program(path)
    assert verdict.plan is not None, verdict.diagnostics
    plan, profiles = verdict.plan, verdict.profiles
    same = Changed(players=people("ABC"), stages=("green",), had={})
    assert refusals(plan, profiles, same) == ()
    younger = Changed(players=people("ABC"), stages=("orange",), had={})
    assert slugs(refusals(plan, profiles, younger)) == ["long-series"]


def test_a_lesson_that_could_grow_past_its_certified_time_is_refused(tmp_path: Path) -> None:
    plan, profiles = certified(tmp_path)
    balls, (least_s, most_s) = plan.bounds.balls, plan.bounds.time_s
    for bounds in (
        msgspec.structs.replace(plan.bounds, time_s=(least_s, most_s - 1.0)),
        msgspec.structs.replace(plan.bounds, balls=(balls[0], balls[1] - 1)),
    ):
        shorter = msgspec.structs.replace(plan, bounds=bounds)
        found = refusals(shorter, profiles, Changed(players=people("ABCD"), had={}))
        assert slugs(found) == ["the certified bounds"]


def test_one_who_is_left_alone_has_no_break_between_turns(tmp_path: Path) -> None:
    plan, profiles = certified(tmp_path, "ABCDEF", rest="rest 4 s")
    assert refusals(plan, profiles, Changed(players=people("AB"), had={})) == ()
    assert slugs(refusals(plan, profiles, Changed(players=people("A"), had={}))) == ["long-series"]


def test_a_left_hander_joins_only_where_mirrored_feeds_were_checked(tmp_path: Path) -> None:
    plan, profiles = certified(tmp_path)
    joined = Changed(players=people("ABCDE", left="E"), had={})
    assert slugs(refusals(plan, profiles, joined)) == ["left-handed"]
    plan, profiles = certified(tmp_path, hands='  left-handed "D"')
    assert refusals(plan, profiles, joined) == ()
    assert refusals(plan, profiles, Changed(players=people("ABC", left="C"), had={})) == ()


@pytest.mark.parametrize(
    ("stages", "levels", "rule"),
    [(("red",), (), "wrong-ball"), (("blue",), (), "group"), ((), ("nobody",), "group")],
)
def test_a_younger_player_is_refused_where_the_feeds_are_not_for_that_stage(
    tmp_path: Path, stages: tuple[str, ...], levels: tuple[str, ...], rule: str
) -> None:
    plan, profiles = certified(tmp_path)
    changed = Changed(players=people("ABCDE"), stages=stages, levels=levels, had={})
    found = refusals(plan, profiles, changed)
    assert rule in [*slugs(found), *(one.slug for one in found)]


def test_an_older_player_does_not_loosen_the_groups_figures(tmp_path: Path) -> None:
    plan, _ = certified(tmp_path)
    other = plan_for(plan, Changed(players=people("AB"), stages=("yellow",), had={}))
    assert (other.group.stage, other.group.level) == ("green", None)


def test_nobody_at_all_is_refused(tmp_path: Path) -> None:
    plan, profiles = certified(tmp_path)
    assert slugs(refusals(plan, profiles, Changed(players=(), had={}))) == ["no players"]


# -- in a running lesson ----------------------------------------------------------------------

JOIN, REST, LEAVE = RosterChange.JOIN, RosterChange.REST, RosterChange.LEAVE


def fed(run: Run) -> list[object]:
    return [ball["player"] for ball in run.left() if not ball["shown"]]


def test_a_refused_change_says_why_and_the_lesson_goes_on_unchanged(tmp_path: Path) -> None:
    plan, _ = certified(tmp_path, "ABC", more="require many-balls 15")
    told: list[Diagnostic] = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 4)
        found = await engine.command(ChangeRoster(change=REST, player="B"))
        assert found is not None
        told.append(found)
        assert engine.view.phase is Phase.RUNNING

    run = rehearse(plan, coach, fences=CertifiedFences())
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert fed(run) == [*("AAAAABBBBBCCCCC" * 2)]
    (why,) = told
    assert why.slug == "group-beyond"
    assert why.help


def test_who_leaves_in_the_middle_of_a_turn_is_not_fed_to_its_end(tmp_path: Path) -> None:
    plan, _ = certified(tmp_path, "ABC")

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)  # the watched one, and two of A's five
        assert await engine.command(ChangeRoster(change=LEAVE, player="A")) is None

    run = rehearse(plan, coach, fences=CertifiedFences())
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert fed(run)[:7] == [*"AABBBBB"]
    # Each of the two who stay has as many turns in the first series, and in the second.
    assert Counter(fed(run)) == {"A": 2, "B": 10, "C": 10}


def test_a_left_hander_who_joins_gets_the_mirrored_feed(tmp_path: Path) -> None:
    plan, _ = certified(tmp_path, "ABC", hands='  left-handed "C"')

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        joins = ChangeRoster(change=JOIN, player="L", left_handed=True)
        assert await engine.command(joins) is None

    run = rehearse(plan, coach, fences=CertifiedFences())
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    sides = {
        str(ball["player"]): plan.feeds[int(str(ball["feed_index"]))].landing_m[0] > 0
        for ball in run.left()
        if not ball["shown"]
    }
    assert sides["A"] == sides["B"] != sides["C"] == sides["L"]


def test_a_station_whose_only_player_left_sends_nothing_more() -> None:
    alone = Repeat(times=8, body=(send(2, 4.0),), line=5)
    other = Repeat(times=8, body=(send(0, 4.0),), line=6)
    stations = (
        Station(name="one", launcher=0, players=(0,), body=(other,), line=4),
        Station(name="two", launcher=1, players=(1,), body=(alone,), line=4),
    )
    plan = lesson_plan(
        ShowSpeed(feed=0, line=1),
        ShowSpeed(feed=2, line=1),
        Together(stations=stations, for_s=40.0, line=3),
        launchers=2,
        players=people("AB"),
    )

    async def coach(engine: Engine) -> None:
        await see(engine, lambda state: state.balls_left >= 8)
        assert await engine.command(ChangeRoster(change=REST, player="B")) is None

    run = rehearse(plan, coach)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert Counter(fed(run)) == {"A": 8, "B": 3}


# -- fair for 1 to 16 players on 1 to 4 stations ------------------------------------------------

LETTERS = "ABCDEFGHIJKLMNOP"
CHANGES = st.lists(
    st.tuples(st.integers(0, 40), st.sampled_from([JOIN, LEAVE, REST]), st.sampled_from(LETTERS)),
    max_size=6,
)


def many_turns(players: int, stations: int, series: int) -> Plan:
    """Series after series: each player one turn, the stations side by side sharing them."""
    shares = [tuple(range(number, players, stations)) for number in range(stations)]

    def body(launcher: int) -> tuple[Turns, ...]:
        slots = len(shares[launcher])
        return (Turns(slots=slots, passes=1, body=(send(2 * launcher), rest(1.0)), line=6),)

    if stations == 1:
        steps: tuple[Turns | Together, ...] = body(0)
    else:
        steps = (
            Together(
                stations=tuple(
                    Station(name=f"s{n}", launcher=n, players=shares[n], body=body(n), line=4)
                    for n in range(stations)
                    if shares[n]
                ),
                for_s=100.0,
                line=3,
            ),
        )
    group = people(LETTERS[:players])
    return lesson_plan(*(steps * series), launchers=stations, players=group)


class Group:
    """A group whose roster goes from one to the next."""

    def __init__(self, roster: Roster) -> None:
        self.roster = roster

    def turn(self, place: tuple[str, int], action: TakeTurn, names: list[str], live: list[str]):
        """Gives a turn and lets it begin; the reply."""
        reply = self.roster.turn(place, action, names, live)
        if isinstance(reply, OnTurn):
            station = names.index(action.station) if action.station in names else 0
            self.roster = self.roster.given(place, reply.player, station, action.slot)
        chosen = self.roster.name(reply.player) if isinstance(reply, OnTurn) else None
        self.roster = self.roster.begins(place, action.station, chosen)
        return reply, chosen

    def change(self, change: RosterChange, name: str) -> bool:
        after = self.roster.change(ChangeRoster(change=change, player=name))
        if isinstance(after, Diagnostic):
            return False
        self.roster = after
        return True


def rounds(plan: Plan, group: Group) -> Iterator[tuple[int, dict[str, str | None]]]:
    """Each round of turns of the lesson: its series, and who is on at each station."""
    course = begin(plan)
    while course.action() is not None:
        lanes = course.stations() or (MAIN,)
        names = [key.partition("/")[2] for key in lanes] if course.stations() else [""]
        live = [name for key, name in zip(lanes, names, strict=True) if course.action(key)]
        on: dict[str, str | None] = {}
        for key in lanes:
            while (action := course.action(key)) is not None and not isinstance(action, TakeTurn):
                assert not isinstance(action, SendBall) or action.player is None or on is not None
                course.reply(key, None)
            if isinstance(action, TakeTurn):
                place = (key, course.number(key))
                reply, on[action.station] = group.turn(place, action, names, live)
                course.reply(key, reply)
        if on:
            yield course.step, on
        elif course.stations():
            course.reply(MAIN, None)


@settings(max_examples=30)
@given(st.integers(1, 16), st.integers(1, 4), CHANGES)
def test_turns_stay_fair_whoever_comes_and_goes(
    players: int, stations: int, changes: list[tuple[int, RosterChange, str]]
) -> None:
    plan = many_turns(players, stations, series=6)
    group = Group(roster_of(plan.group, min(stations, players)))
    had: Counter[str] = Counter()
    in_series: dict[int, Counter[str]] = {}
    disturbed: set[int] = set()
    always = set(LETTERS[:players])
    for number, (series, on) in enumerate(rounds(plan, group)):
        hitters = [name for name in on.values() if name is not None]
        assert len(set(hitters)) == len(hitters), "one player at two stations"
        assert set(hitters) <= set(group.roster.here), "somebody is fed who is not here"
        had.update(hitters)
        in_series.setdefault(series, Counter()).update(hitters)
        for when, change, name in changes:
            if when != number or (change is not JOIN and group.roster.here == (name,)):
                continue
            if group.change(change, name):
                disturbed.add(series)
                if change is not JOIN:
                    always.discard(name)
        stayed = [had[name] for name in always]
        assert not stayed or max(stayed) - min(stayed) <= 1
    if not disturbed:
        assert all(len(set(counts.values())) == 1 for counts in in_series.values())


@settings(max_examples=20)
@given(st.integers(2, 16), st.integers(1, 15))
def test_after_somebody_left_each_series_still_gives_everybody_the_same(
    players: int, leaving: int
) -> None:
    """One station; the series of the plan have a turn for each of those who were here at first."""
    plan = many_turns(players, 1, series=4)
    group = Group(roster_of(plan.group, 1))
    for name in LETTERS[: min(leaving, players - 1)]:
        assert group.change(LEAVE, name)
    counts: dict[int, Counter[str]] = {}
    for series, on in rounds(plan, group):
        counts.setdefault(series, Counter()).update(n for n in on.values() if n is not None)
    for given_turns in counts.values():
        assert set(given_turns) == set(group.roster.here)
        assert len(set(given_turns.values())) == 1


@settings(max_examples=10)
@given(names=st.sets(st.sampled_from(LETTERS), min_size=0, max_size=16), left=st.booleans())
def test_what_is_accepted_passes_every_rule_and_no_guide_is_exceeded_further(
    tmp_path_factory: pytest.TempPathFactory, names: set[str], left: bool
) -> None:
    plan, profiles = certified(
        tmp_path_factory.mktemp("group"), more="require many-balls 20", rest="rest 4 s"
    )
    changed = Changed(players=people("".join(sorted(names)), left="P" if left else ""), had={})
    if refusals(plan, profiles, changed):
        return
    again = certify(plan_for(plan, changed), profiles)
    assert again.plan is not None
    assert plan.certificate is not None
    for before, now in zip(plan.certificate.clauses, again.certificate.clauses, strict=True):
        assert (before.rule, before.standing) == (now.rule, now.standing)
    assert again.plan.bounds.balls[1] <= plan.bounds.balls[1]


def _asked(
    roster: Roster, slot: int, names: tuple[str, ...], order: list[int]
) -> tuple[Roster, dict[str, str | None]]:
    """Who gets the turn of this slot at each station, when they ask in this order."""
    on: dict[str, str | None] = {}
    for station in order:
        action = TakeTurn(
            at_s=0.0, line=1, station=names[station], slot=slot, slots=99, player=None,
            until_s=60.0, called_s=0.0,
        )  # fmt: skip
        place = (f"2/{names[station]}", 10 * slot)
        reply = roster.turn(place, action, names)
        on[names[station]] = None
        if isinstance(reply, OnTurn):
            roster = roster.given(place, reply.player, station, slot)
            on[names[station]] = roster.name(reply.player)
    return roster, on


@settings(max_examples=40)
@given(st.integers(2, 7), st.integers(2, 3), st.permutations([0, 1, 2]), st.sampled_from(LETTERS))
def test_who_comes_to_which_station_does_not_hang_on_which_asks_first(
    players: int, stations: int, order: list[int], leaves: str
) -> None:
    """Turns on the clock: all stations begin each of them together."""
    names = ("north", "middle", "south")[:stations]
    group = Group(roster_of(many_turns(players, 1, series=1).group, stations))
    group.change(LEAVE, leaves)
    group.change(JOIN, "Z")
    one = other = group.roster
    for slot in range(6):
        one, here = _asked(one, slot, names, list(range(stations)))
        other, there = _asked(other, slot, names, [n for n in order if n < stations])
        assert here == there


# -- together with another pace, and with another change ------------------------------------------

BRISK = """feedscript 1
title "Invented brisk group"
court { surface hard }
balls { type 2  load 70 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { players "A", "B", "C", "D"  level club }
feed drive {
    land 3.5 m inside baseline, 1.6 m inside deuce sideline  speed 70 km/h  spin top 600 rpm
}
lesson {
    show speed of drive
    for each player { repeat 5 { send drive after 4 s }  rest 3 s }
    for each player { repeat 5 { send drive after 4 s }  rest 3 s }
}
"""
SLOW_ONE = ChangeRoster(change=JOIN, player="E", level="improver")  # walks on in 4.9 s, not 4.5
FASTER = SimpleCommand(act=Act.FASTER)


@pytest.mark.parametrize(
    ("first", "second"), [(SLOW_ONE, FASTER), (FASTER, SLOW_ONE)], ids=["joins", "faster"]
)
def test_pace_and_group_are_judged_together(
    first: Command, second: Command, tmp_path: Path
) -> None:
    plan = check_program(tmp_path / "brisk.feed", text=BRISK).plan
    assert plan is not None
    told: list[Diagnostic | None] = []

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        for command in (first, second):
            await see_phase(engine, Phase.RUNNING)  # a change of the group regroups
            told.append(await engine.command(command))

    run = rehearse(plan, coach, fences=CertifiedFences())
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    assert told[0] is None
    assert told[1] is not None
    assert told[1].slug == ("at-the-limit" if second is FASTER else "short-change-over")


def test_a_change_is_judged_anew_where_another_was_made_meanwhile(tmp_path: Path) -> None:
    """Each of two is fine by itself; both together leave nobody."""
    plan, _ = certified(tmp_path, "AB")
    told: list[Diagnostic | None] = []

    class Meanwhile(CertifiedFences):
        engine: Engine | None = None

        def group_refusals(
            self, plan: Plan, profiles: Sequence[Profile], changed: Changed
        ) -> tuple[Diagnostic, ...]:
            found = super().group_refusals(plan, profiles, changed)
            engine, self.engine = self.engine, None
            if engine is not None:  # another screen's, whose judgement has just ended
                engine.lesson.log(GroupChanged(change=REST, player="B", by="another screen"))
            return found

    fences = Meanwhile()

    async def coach(engine: Engine) -> None:
        await see_balls(engine, 3)
        fences.engine = engine
        told.append(await engine.command(ChangeRoster(change=REST, player="A")))

    run = rehearse(plan, coach, fences=fences)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    (refused,) = told
    assert refused is not None
    assert "nobody would be left" in refused.message
