"""The one function of a lesson's state: what may come when, and what holds whatever comes.

Of every kind of event and every phase the first test knows whether it may come. The machine after
it draws events of all kinds; whatever the function accepts must keep these six:

1. no ball is asked for unless the lesson runs or a speed is watched, nor while one is in question;
2. at each launcher no more balls are under way than it is asked for ahead;
3. numbers only rise, each ball is in one place, and an outcome that is known stays;
4. an ended lesson changes by balls still open and by records alone, until it is taken up again;
5. the phase changes by the table alone, and each turn of the roster is one that was given;
6. one exercise at most is on: it ends before another begins.
"""

from __future__ import annotations

import copy
from collections import Counter

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, rule, run_state_machine_as_test
from msgspec.structs import replace

from feedscript.journal.store import Journal, SessionStart, open_journal
from feedscript.launcher.port import Outcome
from feedscript.plan.interpreter.actions import Jump, ToStep
from feedscript.plan.model import Result
from feedscript.session.group.records import FlownBall, Record
from feedscript.session.operator.commands import RosterChange, SeenBy
from feedscript.session.operator.phases import ENDED, TRANSITIONS, Act, Happening, Phase
from feedscript.session.state import events as e
from feedscript.session.state.apply import APPLY, apply, replay
from feedscript.session.state.apply_balls import AHEAD
from feedscript.session.state.event_log import read_state, write_event
from feedscript.session.state.impossible import ImpossibleEventError
from feedscript.session.state.run_state import RunState, state_at_the_start
from tests.session.state.drawn_events import DRAWN, PLAN

START = state_at_the_start(PLAN)
EVERY = set(Phase)
RUNNING = {Phase.RUNNING}

ASKED = e.FeedRequested(
    feed_id=7, ball_no=3, launcher=0, feed="a", feed_index=0, player=None, station="", lane="",
    number=9, shown=False, leave_at_device_s=1.0, leave_utc_s=1e9,
)  # fmt: skip
SHOWN = FlownBall(1, 1, "a", None, 1e9, 1.0, shown=True)
#: A state in which everything that an event may be about is there.
FULL = replace(
    START,
    under_way={6: replace(ASKED, feed_id=6, number=8, launcher=1, feed_index=2)},
    next_feed_id=7,
    left={1: SHOWN},
    records={1: Record(SHOWN, Result.IN, 1e9)},
    jumps=(Jump.NEXT,),
)

#: Of an event that needs another: that state.
IN_ONE = replace(FULL, exercise=e.ExerciseBegan(exercise=1, place=1))
BEFORE: dict[type[e.Event], RunState] = {e.ExerciseEnded: IN_ONE}
FINDS = {Phase.CONNECTING, Phase.ARMING, Phase.REGROUPING, Phase.HELD, Phase.STOPPED}

#: An event of each kind, and the phases in which it may come to that state. What is not here is
#: judged by the table of phases, and tested below.
MAY_COME: dict[e.Event, set[Phase]] = {
    e.CauseFound(why="a jam"): EVERY,
    e.Confirmed(key=START.set_up[0].key, by="keys"): {Phase.SETTING_UP},
    e.Resumed(balls_left=1): EVERY - {Phase.FINISHED},
    e.Decided(lane="", number=2, reply=True): {Phase.RUNNING, Phase.COLLECTING},
    e.TurnGiven(lane="", number=2, player=1, left_handed=False, station=0, slot=0): RUNNING,
    e.SpeedSeen(lane="", number=2, feed=0): {Phase.JUDGING},
    e.Jumped(decided=(e.Decided(lane="", number=2, reply=Jump.NEXT),)): {Phase.REGROUPING},
    e.AheadForgotten(places=(("", 2),)): FINDS,
    e.BallAsked(lane="", number=2, by="keys"): RUNNING,
    e.BreakBegan(lane="", number=2, utc_s=1e9): {Phase.COLLECTING},
    e.Spoken(lane="", number=2): RUNNING,
    e.TurnBegan(lane="", number=2, station="", player="Ash"): {Phase.RUNNING, Phase.CONNECTING},
    e.StoodOn(player="Bay", progression="pace", rung=1, feed="hard"): EVERY - set(ENDED),
    e.Stepped(
        lane="", number=2, player="Ash", progression="pace", rung=1, feed="hard"
    ): {Phase.RUNNING, Phase.CONNECTING},
    e.StationsEnded(): EVERY - set(ENDED),
    e.ExerciseBegan(exercise=1, place=2): RUNNING | FINDS,
    e.ExerciseEnded(exercise=1, how=e.HowEnded.PLAYED, place=2): RUNNING | FINDS,
    e.ExerciseEnded(exercise=1, how=e.HowEnded.EARLY): EVERY,
    ASKED: {Phase.RUNNING, Phase.WATCHING},
    e.BallSettled(feed_id=6, outcome=Outcome.NOT_SENT): EVERY,
    e.GroupChanged(change=RosterChange.JOIN, player="Elm", by="keys"): EVERY - set(ENDED),
    e.ResultRecorded(feed_id=1, result=Result.NET, tapped_utc_s=1e9): EVERY,
    e.LandingMarked(feed_id=1, landing_m=(1.0, -9.0)): EVERY,
    e.FeedMarked(feed_id=1, seen_by=SeenBy.EYE, landing_m=(1.0, 9.0)): EVERY,
    e.ResultUndone(feed_id=1): EVERY,
    e.PaceChanged(pace=1.3): {Phase.READY, Phase.RUNNING, Phase.HELD},
    e.Called(text="Go.", utc_s=1e9): EVERY - set(ENDED),
    e.TroubleMet(slug="x", message="y"): EVERY,
    e.HostSlept(seconds=2.0): EVERY,
    e.GroupRefused(slug="x", message="y", by="keys"): EVERY,
    e.TapDropped(by="keys", why="y"): EVERY,
    e.TonePlayed(by="keys"): EVERY,
}  # fmt: skip
BY_THE_TABLE = {e.Commanded, e.Happened, e.Ended, e.LauncherReported}


def test_every_kind_of_event_has_its_place_in_all_tables() -> None:
    kinds = set(e.KINDS.values())
    assert set(APPLY) == set(DRAWN) == kinds
    assert {type(event) for event in MAY_COME} | BY_THE_TABLE == kinds


def comes(state: RunState, event: e.Event) -> bool:
    try:
        apply(PLAN, state, event)
    except ImpossibleEventError as refused:
        return not refused.diagnostic.message
    return True


@pytest.mark.parametrize("event", MAY_COME, ids=lambda event: type(event).__name__)
def test_an_event_comes_in_its_phases_and_in_no_other(event: e.Event) -> None:
    before = BEFORE.get(type(event), FULL)
    found = {phase for phase in Phase if comes(replace(before, phase=phase), event)}
    assert found == MAY_COME[event]


@pytest.mark.parametrize("phase", Phase)
def test_a_phase_is_left_and_entered_by_the_table_alone(phase: Phase) -> None:
    state = replace(FULL, phase=phase)
    for cause in (*Act, *Happening):
        to = TRANSITIONS.get((phase, cause))
        for after in Phase:
            if isinstance(cause, Act):
                event: e.Event = e.Commanded(act=cause, by="keys", phase=after)
                may = after is (phase if to is None else to)
            else:
                event, may = e.Happened(happening=cause, phase=after), after is to
            assert comes(state, event) == may
            if may:
                assert apply(PLAN, state, event).phase is after


@pytest.mark.parametrize("phase", Phase)
def test_a_lesson_ends_once_and_as_what_it_is(phase: Phase) -> None:
    state = replace(START, phase=phase)
    for said in Phase:
        assert comes(state, e.Ended(phase=said, cause="")) == (said is phase)
    ended = apply(PLAN, state, e.Ended(phase=phase, cause="a jam"))
    assert (ended.ending, ended.cause) == (phase, "a jam")
    assert not comes(ended, e.Ended(phase=phase, cause=""))


def test_a_command_that_is_refused_changes_nothing() -> None:
    for phase in Phase:
        for act in Act:
            if (phase, act) not in TRANSITIONS:
                state = replace(FULL, phase=phase)
                assert apply(PLAN, state, e.Commanded(act=act, by="x", phase=phase)) is state


def test_a_place_holds_one_answer_or_one_ball() -> None:
    running = replace(FULL, phase=Phase.RUNNING, decisions={("", 2): True})
    answer = e.Decided(lane="", number=2, reply=False)
    assert not comes(running, answer)
    assert not comes(running, replace(answer, number=8))  # its ball is under way
    assert not comes(running, replace(ASKED, number=2))
    assert comes(running, replace(answer, number=3))


def test_a_ball_is_asked_for_under_a_new_number_where_there_is_room_and_no_question() -> None:
    running = replace(FULL, phase=Phase.RUNNING)
    beside = {n: replace(ASKED, feed_id=n, number=20 + n) for n in range(AHEAD)}
    assert comes(running, ASKED)
    assert not comes(replace(running, unknown=frozenset({6})), ASKED)
    assert not comes(running, replace(ASKED, feed_id=6))
    assert not comes(running, replace(ASKED, launcher=1))
    assert not comes(running, replace(ASKED, feed_index=len(PLAN.feeds)))
    assert not comes(replace(running, under_way=beside), ASKED)
    watching = replace(FULL, phase=Phase.WATCHING, under_way={1: beside[1]})
    assert not comes(watching, ASKED)


def test_an_outcome_that_is_known_stays() -> None:
    for outcome in Outcome:
        told = e.BallSettled(feed_id=1, outcome=outcome, left_utc_s=1e9)
        assert not comes(replace(FULL, phase=Phase.ASKING), told)
    unknown = apply(PLAN, FULL, e.BallSettled(feed_id=6, outcome=Outcome.UNKNOWN))
    assert unknown.unknown == {6}
    assert comes(unknown, e.BallSettled(feed_id=6, outcome=Outcome.LEFT, left_utc_s=1e9))


def test_an_answer_made_anew_takes_back_what_was_answered_after_it() -> None:
    """The turn after it too: whoever had it is not owed nor charged it."""
    turn = e.TurnGiven(lane="", number=5, player=1, left_handed=False, station=0, slot=0)
    state = apply(PLAN, replace(FULL, phase=Phase.RUNNING), turn)
    assert state.roster.happened
    jump = e.Jumped(decided=(e.Decided(lane="", number=4, reply=Jump.NEXT),))
    after = apply(PLAN, replace(state, phase=Phase.REGROUPING), jump)
    assert after.decisions == {("", 4): Jump.NEXT}
    assert after.roster.happened == ()


def test_an_exercise_begins_where_nothing_else_was_answered_and_none_is_on() -> None:
    began = e.ExerciseBegan(exercise=1, place=4)
    running = replace(FULL, phase=Phase.RUNNING)
    after = apply(PLAN, running, began)
    assert (after.exercise, after.decisions) == (began, {("", 4): True})
    assert not comes(after, replace(began, exercise=2, place=9))
    for number in (0, 3):  # the plan has two
        assert not comes(running, replace(began, exercise=number))
    assert not comes(replace(running, decisions={("", 4): Jump.NEXT}), began)
    assert comes(replace(running, decisions={("", 4): True}), began)  # on again, after a resume


def test_only_the_exercise_that_is_on_ends_and_in_no_lesson_that_has_ended() -> None:
    on = replace(IN_ONE, phase=Phase.RUNNING)
    ended = e.ExerciseEnded(exercise=1, how=e.HowEnded.SKIPPED, place=4)
    after = apply(PLAN, on, ended)
    assert (after.exercise, after.decisions) == (None, {})
    assert apply(PLAN, on, replace(ended, how=e.HowEnded.PLAYED)).decisions == {("", 4): True}
    gone = {("", 4): ToStep(1)}  # from its very end a person went elsewhere
    played = replace(ended, how=e.HowEnded.PLAYED)
    assert apply(PLAN, replace(on, decisions=gone), played).decisions == gone
    assert not comes(on, replace(ended, exercise=2))
    assert not comes(after, ended)
    over = replace(on, phase=Phase.BROKEN_OFF, ending=Phase.BROKEN_OFF)
    assert not comes(over, replace(ended, how=e.HowEnded.EARLY))


def test_who_takes_a_lesson_up_goes_through_everything_again() -> None:
    before = replace(
        FULL, phase=Phase.BROKEN_OFF, ending=Phase.BROKEN_OFF, cause="a jam", misses=2, pace=0.8,
        unknown=frozenset({6}), confirmed=frozenset({START.set_up[0].key}),
    )  # fmt: skip
    after = apply(PLAN, before, e.Resumed(balls_left=1))
    assert (after.phase, after.ending, after.cause) == (Phase.CONNECTING, None, "")
    assert (after.confirmed, after.unknown, after.pace) == (frozenset(), frozenset(), 1.0)
    for kept in ("left", "under_way", "records", "decisions", "done", "jumps", "next_feed_id"):
        assert getattr(after, kept) == getattr(before, kept)


# -- whatever comes ---------------------------------------------------------------------------


class AnyEvents(RuleBasedStateMachine):
    """One lesson to which anything may happen."""

    def __init__(self) -> None:
        super().__init__()
        self.state = START
        self.log: list[e.Event] = []
        self.seen: list[RunState] = [START]
        self.settled: dict[int, Outcome] = {}

    @rule(data=st.data(), kind=st.sampled_from(list(DRAWN)))
    def any_event(self, data: st.DataObject, kind: type[e.Event]) -> None:
        self.take(DRAWN[kind](data.draw, self.state))

    @rule(data=st.data())
    def what_moves_it(self, data: st.DataObject) -> None:
        kinds = st.sampled_from([e.Happened, e.Happened, e.Commanded])
        self.take(DRAWN[data.draw(kinds)](data.draw, self.state))

    @rule(data=st.data())
    def towards_play(self, data: st.DataObject) -> None:
        """The way to a running lesson is long for chance alone."""
        way: dict[Phase, tuple[Act | Happening, Phase]] = {
            Phase.CONNECTING: (Happening.CONNECTED, Phase.SETTING_UP),
            Phase.SETTING_UP: (Happening.SET_UP, Phase.ARMING),
            Phase.ARMING: (Happening.ARMED, Phase.READY),
            Phase.READY: (Act.GO_ON, Phase.REGROUPING),
            Phase.HELD: (Act.GO_ON, Phase.REGROUPING),
            Phase.REGROUPING: (Happening.REGROUPED, Phase.RUNNING),
            Phase.STOPPED: (Act.SET_UP_AGAIN, Phase.SETTING_UP),
        }
        if self.state.phase in way:
            cause, after = way[self.state.phase]
            if isinstance(cause, Act):
                self.take(e.Commanded(act=cause, by="keys", phase=after))
            else:
                self.take(e.Happened(happening=cause, phase=after))
        elif self.state.phase is Phase.RUNNING:
            kinds = st.sampled_from([e.FeedRequested, e.BallSettled, e.TurnGiven, e.Decided])
            self.take(DRAWN[data.draw(kinds)](data.draw, self.state))

    def take(self, event: e.Event) -> None:
        before = self.state
        kept = copy.deepcopy(before)
        try:
            self.state = apply(PLAN, before, event)
        except ImpossibleEventError:
            after = before
        else:
            after = self.state
            self.log.append(event)
            self.seen.append(after)
        assert before == kept
        self.holds(before, event, after)

    def holds(self, before: RunState, event: e.Event, after: RunState) -> None:
        new = after.under_way.keys() - before.under_way.keys()
        if new:  # 1
            assert before.phase in (Phase.RUNNING, Phase.WATCHING)
            assert not before.unknown
        at = Counter(ball.launcher for ball in after.under_way.values())
        assert all(count <= AHEAD for count in at.values())  # 2
        assert all(number >= before.next_feed_id for number in new)  # 3
        assert after.next_feed_id >= before.next_feed_id
        for number in before.under_way.keys() - after.under_way.keys():
            assert number not in self.settled
            self.settled[number] = Outcome.LEFT if number in after.left else Outcome.NOT_SENT
        assert after.left.keys() == {n for n, o in self.settled.items() if o is Outcome.LEFT}
        assert not after.under_way.keys() & self.settled.keys()
        assert all(after.left[number] == ball for number, ball in before.left.items())
        if before.phase in ENDED and not isinstance(event, e.Resumed):  # 4
            changed = {
                n for n in before.__struct_fields__ if getattr(before, n) != getattr(after, n)
            }
            assert changed <= {
                "ending", "cause", "under_way", "unknown", "left", "done", "last_place", "misses",
                "balls_in_stretch", "records", "exercise",
            }  # fmt: skip
        if after.phase is not before.phase and not isinstance(event, e.Resumed):  # 5
            cause = getattr(event, "act", None) or getattr(event, "happening", None)
            assert TRANSITIONS[before.phase, cause] is after.phase
        if before.exercise != after.exercise:  # 6
            assert isinstance(event, e.ExerciseBegan | e.ExerciseEnded)
            assert None in (before.exercise, after.exercise)
        places = {turn.place for turn in after.roster._turns}
        assert places <= after.decisions.keys()

    def teardown(self) -> None:
        """Read again from a journal, it is the same: whole, and at a prefix."""
        for length in {len(self.log), len(self.log) // 2}:
            journal = open_journal(None)
            number = begun(journal)
            for event in self.log[:length]:
                write_event(journal, number, 1e9, event)
            assert read_state(journal, number, PLAN) == self.seen[length]
            journal.close()
        assert replay(PLAN, START, self.log) == self.state


def begun(journal: Journal) -> int:
    return journal.begin_session(
        SessionStart(
            token=7, begun_utc_s=1e9, title="", source="", rehearsal=True, plan=b"", group_json=""
        )
    )


TestAnyEvents = AnyEvents.TestCase
TestAnyEvents.settings = settings(max_examples=60, stateful_step_count=50, deadline=None)


@pytest.mark.long
@pytest.mark.timeout(0)
def test_five_thousand_lessons_of_any_events() -> None:
    run_state_machine_as_test(
        AnyEvents, settings=settings(max_examples=5000, stateful_step_count=80, deadline=None)
    )


def test_a_ball_is_of_an_exercise_that_there_is_and_in_a_target_that_there_was() -> None:
    running = replace(START, phase=Phase.RUNNING)
    with pytest.raises(ImpossibleEventError, match="exercise 99"):
        apply(PLAN, running, replace(ASKED, exercise=99))
    assert apply(PLAN, running, ASKED).under_way[7].exercise == 0
    with pytest.raises(ImpossibleEventError, match="in a target"):
        apply(PLAN, FULL, e.ResultRecorded(feed_id=1, result=Result.TARGET, tapped_utc_s=1e9))
