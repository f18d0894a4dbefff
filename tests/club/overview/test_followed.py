"""What the club shows of a lesson is what its own coach sees, at every event, and no launcher is
shown as still that has not said so."""

from __future__ import annotations

import anyio
import msgspec
import pytest

from feedscript.club.batch import Event, Header
from feedscript.club.messages import Court
from feedscript.club.overview.card import Tone, card_of
from feedscript.club.overview.followed import Followed, begin, follow
from feedscript.launcher.port import LauncherState
from feedscript.plan.canonical import canonical_bytes
from feedscript.plan.model import Exercise, Say, ShowSpeed, Station, Together, Turns
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.standing import working
from feedscript.session.operator.view_of import view_of
from feedscript.session.state import events as e
from feedscript.session.state.run_state import RunState
from feedscript.tongues.text import plain
from tests.plan.small_plans import rest, send
from tests.session.engine.test_armed_after_stop import Reach, armed_in, collecting, held, stopped
from tests.session.rehearsing import lesson_plan
from tests.session.state import generated_lessons
from tests.session.state.generated_lessons import GROUP, Shadow, conduct

#: A launcher's word and the acknowledgement of our stop come within this of each other.
TOGETHER_S = 3.0
COURT = Court(host="h", name="Court 1", heard=True, since_utc_s=1e9, lesson="1-00000007")


def header_of(lesson: LiveRun) -> Header:
    return Header(
        begun_utc_s=1e9,
        title=lesson.plan.title,
        source="",
        rehearsal=False,
        plan=canonical_bytes(lesson.plan).decode(),
        profiles="[]",
        group_json="[]",
        event_format=2,
    )


class Afar(Shadow):
    """The club, beside the lesson's own second state."""

    before: Followed | None = None  # of the host that died
    seen: set[Tone] = set()  # noqa: RUF012
    named: set[tuple[str, str, str]] = set()  # noqa: RUF012
    places: set[tuple[str, ...]] = set()  # noqa: RUF012

    def __init__(self, lesson: LiveRun, state: RunState) -> None:
        super().__init__(lesson, state)
        begun = begin(header_of(lesson))
        assert begun is not None
        resumed = state.next_feed_id > 1 or state.phase is not Phase.CONNECTING
        self.followed = Afar.before if resumed and Afar.before is not None else begun
        self.late_since_s: float | None = None

    def follow(self, event: e.Event) -> None:
        super().follow(event)
        data = msgspec.json.encode(event, enc_hook=plain).decode()
        told = Event(
            number=self.followed.number + 1,
            utc_s=self.lesson.now_utc_s(),
            kind=e.KIND_OF[type(event)],
            launcher=None,
            data=data,
        )
        after = follow(self.followed, [told], 5.0)
        assert after is not None, event
        self.followed = Afar.before = after
        self.compare()

    def compare(self) -> None:
        lesson, followed = self.lesson, self.followed
        assert followed.state == lesson.state
        assert followed.loaded_after == lesson.loaded_after
        view, card = view_of(lesson), card_of(COURT, followed, None, 5.0)
        Afar.seen.add(card.tone)
        assert card.lesson is not None
        assert card.lesson.balls == view.balls_left
        if not followed.stopping and not view.stopping:
            assert card.lesson.words == view.phase_words
        seen = {(one.name, one.on, one.next_up) for one in view.stations if one.on}
        on = {(one.name, one.on, one.next_up) for one in card.lesson.stations if one.on}
        alone = {one for one in seen if one[0] in working(lesson)}  # shown once they are called
        assert on in (seen, seen - alone, set())
        Afar.named |= on
        Afar.places.add(tuple(one.name for one in card.lesson.stations))
        self.hold_against_the_launchers()

    def hold_against_the_launchers(self) -> None:
        """Nothing that may feed is shown as stopped; and nothing stays "stopping" for long."""
        now_s, ours, theirs = anyio.current_time(), self.followed.stopping, self.lesson.stopping()
        safe = (LauncherState.SAFE, LauncherState.AWAITING_ARM, LauncherState.STOPPED)
        assert ours or all(one.state in safe for one in theirs)
        if not ours or theirs:
            self.late_since_s = None
        elif self.late_since_s is None:
            self.late_since_s = now_s
        else:
            assert now_s - self.late_since_s < TOGETHER_S


@pytest.fixture
def afar(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(generated_lessons, "Shadow", Afar)
    Afar.before, Afar.seen, Afar.named, Afar.places = None, set(), set(), set()


def test_the_club_sees_what_the_coach_sees(afar: None) -> None:
    for seed in range(5):
        Afar.before = None
        conduct(seed)
    assert Afar.seen >= {Tone.PLAIN, Tone.QUIET, Tone.ALARM, Tone.STOPPING}


def test_the_club_sees_who_works_alone_and_nobody_at_stations_that_were_left(afar: None) -> None:
    """Whoever works is nobody's next; and a coach goes on from the midst of stations."""
    turns = Turns(slots=2, passes=2, body=(send(0, 4.0), rest(5.0)), line=4)
    fed = Station(name="drives", launcher=0, players=(0, 1), body=(turns,), line=3)
    work = Say(text="Ten each.", players=(2,), line=6), rest(20.0)
    wall = Station(name="wall", launcher=None, players=(2,), body=work, line=5)
    both = Exercise(
        title="Stations",
        repeats=1,
        body=(Together(stations=(fed, wall), for_s=60.0, line=2),),
        line=1,
    )
    after = Exercise(title="Turns", repeats=1, body=(turns,), line=7)
    plan = lesson_plan(ShowSpeed(feed=0, line=1), both, after, players=GROUP)
    for seed in range(6):
        Afar.before = None
        conduct(seed, plan=plan)
    assert ("wall", "Cob", "") in Afar.named


def test_stations_at_which_nobody_has_a_turn_are_shown_by_their_names(afar: None) -> None:
    stations = tuple(
        Station(name=name, launcher=launcher, players=(), body=(send(0, 4.0),) * 3, line=4)
        for launcher, name in enumerate(("drives", "volleys"))
    )
    both = Together(stations=stations, for_s=60.0, line=3)
    conduct(0, plan=lesson_plan(ShowSpeed(feed=0, line=1), both, players=GROUP, launchers=2))
    assert ("drives", "volleys") in Afar.places
    assert Afar.places <= {("",), (), ("drives",), ("volleys",), ("drives", "volleys")}


@pytest.mark.parametrize("reach", [stopped, held, collecting])
def test_a_launcher_armed_after_it_had_stopped_is_stopping_here_too_until_it_stops_again(
    reach: Reach,
) -> None:
    run, _phase = armed_in(reach)
    followed, stopping = begin(header_of(run.engine.lesson)), []
    for number, row in enumerate(run.journal.rows("SELECT * FROM entry ORDER BY id"), 1):
        told = Event(
            number=number, utc_s=row["utc_s"], kind=row["kind"], launcher=None, data=row["data"]
        )
        assert followed is not None
        followed = follow(followed, [told], 5.0)
        if followed is not None and "armed-after-stop" in row["data"]:
            stopping.append(followed.stopping)
    assert followed is not None
    assert stopping == [True]
    assert not followed.stopping


@pytest.mark.long
@pytest.mark.timeout(0)
@pytest.mark.parametrize("first", range(5, 1005, 250))
def test_it_is_so_in_a_thousand_lessons(afar: None, first: int) -> None:
    """In parts, each of minutes."""
    for seed in range(first, first + 250):
        Afar.before = None
        conduct(seed)
