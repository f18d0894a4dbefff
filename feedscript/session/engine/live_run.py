"""A lesson while it runs: its state, and what is no state: launchers, clocks, the journal's queue.

:meth:`LiveRun.log` is the one way to change the state: an event goes into the journal's queue, then
``apply`` makes the next state, then what follows from it happens. Around it stand the modules that
do a lesson's work: ``phase_handlers`` (what each phase does), ``station_runner`` and
``feed_scheduler`` (following the plan), ``launcher_news`` (what launchers report), ``carry_out``
(what a person commands).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from operator import is_not
from typing import TypeVar

import anyio
import anyio.lowlevel
import anyio.to_thread
import msgspec

from feedscript.check.hour_left import Steps
from feedscript.diagnostics import Diagnostic, Page
from feedscript.journal.store import Journal
from feedscript.launcher.port import Outcome
from feedscript.plan.certificate import SetUpItem
from feedscript.plan.interpreter.actions import SendBall, StartStations, StationRun
from feedscript.plan.model import Plan
from feedscript.safety.changed_group import StillToCome
from feedscript.session.engine.guards import Apart, Fences
from feedscript.session.engine.journal_queue import JournalQueue
from feedscript.session.engine.launcher_handle import LauncherHandle
from feedscript.session.engine.lesson_clock import Timeline
from feedscript.session.engine.wall_clock import WallClock
from feedscript.session.group.recording import Offers, Recording
from feedscript.session.group.roster import Roster
from feedscript.session.operator.phases import (
    POWERED,
    STILL,
    TRANSITIONS,
    Act,
    Happening,
    Phase,
    follow,
)
from feedscript.session.operator.view import Call
from feedscript.session.state.apply import apply
from feedscript.session.state.event_log import write_event
from feedscript.session.state.events import (
    BallSettled,
    Called,
    CauseFound,
    Commanded,
    Event,
    Happened,
    HostSlept,
    PaceChanged,
    TroubleMet,
)
from feedscript.session.state.plan_cursor import Course
from feedscript.session.state.run_state import RunState
from feedscript.tongues.text import Text, _, in_language

T = TypeVar("T")

SUSPENDED = Page(
    slug="suspended",
    title="The computer was suspended while a lesson ran",
    why=(
        "A computer that sleeps sends no heartbeat, and an armed launcher stops by itself within "
        "its watchdog's time. Nothing is lost: the journal says when it slept and for how long, "
        "and its times are true again from the moment it woke. Set up again and go on."
    ),
)


class Due(msgspec.Struct, frozen=True, eq=False):
    """Something to be done at a moment of the plan, for an action at this place in the course.

    With ``lesson_s`` at that moment of the lesson, however long what follows is put off. With
    ``stations`` it is their end: the way through the plan has left them, and people have not.
    """

    plan_s: float
    place: tuple[str, int]
    what: Callable[[], None]
    lesson_s: float | None = None
    stations: tuple[StationRun, ...] = ()


class LiveRun(msgspec.Struct, kw_only=True, eq=False):
    """One lesson under way."""

    plan: Plan
    journal: Journal
    session_id: int
    journal_queue: JournalQueue
    wall: WallClock
    fences: Fences
    offers: Offers
    rehearsal: bool
    another: bool = False  # once it is over the next lesson is chosen
    measures: bool = False  # a person says of each ball where it came down
    state: RunState
    course: Course  # the place in the plan, and what was looked at ahead of it
    apart: Apart
    begun_utc_s: float = 0.0  # when the hour began: as the lesson was first written down
    times: Steps | None = None  # of each step, where the lesson has a length
    phase_since_s: float = 0.0  # by the host's clock
    coming_s: dict[str, float] = {}  # a station: what it takes to come there from the grounds
    timeline: Timeline = msgspec.field(default_factory=Timeline)
    launchers: tuple[LauncherHandle, ...] = ()
    on_court_s: dict[str, float] = {}  # a lane: not before may be fed
    due: list[Due] = []
    troubles: list[Diagnostic] = []
    trouble_utc_s: dict[str, float] = {}  # a message: when it last came
    offsets_before_nap: list[float] = []  # of the launchers' clocks
    cleared_utc_s: float = 0.0  # when the launchers were last armed, or the lesson last went on
    loaded_after: int = 0  # so many balls of the lesson had left when the hoppers were last filled
    blame: str = ""  # found at the very end, where nothing else is at fault
    break_ends_s: float | None = None  # by the host's clock, in a break
    tap_came_to_nothing: bool = False  # the last ball asked for did not leave
    reckoned: tuple[object, StillToCome] | None = None  # what is to come, and of what that is so
    recorded: tuple[tuple[object, ...], Recording] | None = None  # and of what that is made
    shares: dict[int, tuple[tuple[int, int], ...]] = {}  # by exercise: each player's balls of a go
    ending: str | None = None
    step_words: dict[
        str, str
    ] = {}  # of the set-up list: as certified, and to be told in a language
    paces: dict[tuple[float, object], bool] = {}  # which were certified, for which group
    taps: int = 0  # of any kind
    at_the_end: set[tuple[str, str | None]] = set()  # a progression, and who is said to stay there
    revision: int = 0
    scope: anyio.CancelScope = msgspec.field(default_factory=anyio.CancelScope)
    changed: anyio.Event = msgspec.field(default_factory=anyio.Event)
    goodbye: anyio.Event = msgspec.field(default_factory=anyio.Event)  # a person ended it for good

    # -- the state, and the one way to change it ------------------------------------------

    def log(self, event: Event, utc_s: float | None = None) -> None:
        """It happened: into the journal, in order, then into the state; then what follows.

        Raises ImpossibleEventError, and nothing is written or changed, for what cannot come here.
        """
        before, after = self.state, apply(self.plan, self.state, event)
        moment_s = self.now_utc_s() if utc_s is None else utc_s
        self.journal_queue.later(
            lambda: write_event(self.journal, self.session_id, moment_s, event)
        )
        self.state = after
        if before.asked is not after.asked:
            left = isinstance(event, BallSettled) and event.outcome is Outcome.LEFT
            self.tap_came_to_nothing = after.asked is None and not left
        if after.phase is not before.phase:
            self._entered(before.phase)
        self.touch()

    def _entered(self, before: Phase) -> None:
        self.phase_since_s = anyio.current_time()
        if before in (Phase.ARMING, Phase.REGROUPING) and self.phase in (*POWERED, Phase.RUNNING):
            self.cleared_utc_s = self.now_utc_s()
        loaded = before is Phase.COLLECTING and self.phase is not Phase.STOPPED
        if loaded or before is Phase.CONNECTING:
            self.loaded_after = len(self.state.left)
        self.scope.cancel()

    async def unless_moved_on(self) -> None:
        """To be awaited before an event that belongs to the phase: if the lesson left it just now,
        the phase's work ends here."""
        await anyio.lowlevel.checkpoint_if_cancelled()

    def act(self, act: Act, by: str, exercise: int | None = None) -> Diagnostic | None:
        """A person's command moves the lesson, or is refused."""
        refused = follow(self.phase, act)
        after = self.phase if isinstance(refused, Diagnostic) else refused
        reached_s = self._reached_s()
        self.log(Commanded(act=act, by=by, phase=after, reached_s=reached_s, exercise=exercise))
        return refused if isinstance(refused, Diagnostic) else None

    def happen(self, happening: Happening, why: Diagnostic | None = None) -> bool:
        """What occurs moves the lesson where the table says so; else it changes nothing."""
        after = TRANSITIONS.get((self.phase, happening))
        if after is None:
            return False
        words = "" if why is None else why.message
        self.log(Happened(happening=happening, phase=after, why=words, reached_s=self._reached_s()))
        return True

    def _reached_s(self) -> float:
        """The moment of the plan that is now, where the lesson runs."""
        return self.running_s() if self.phase is Phase.RUNNING else 0.0

    def running_s(self) -> float:
        """The moment of the plan that is now, while it runs. It stands while a person is waited for
        who asks for balls whose time is not counted."""
        now_s = self.timeline.plan_s(self.timeline.from_host(anyio.current_time()))
        ball = self.waits_for_a_tap()
        return now_s if ball is None else min(now_s, ball.at_s - ball.after_s)

    def on_request(self) -> tuple[str, SendBall] | None:
        """The ball on request that the way through the plan is at, if it is at one, and its lane:
        at stations side by side only one has such balls."""
        for key in self.course.lanes:
            action = self.course.action(key)
            if isinstance(action, SendBall) and action.request is not None:
                return key, action
        return None

    def waits_for_a_tap(self) -> SendBall | None:
        """The ball on request for which the lesson's clock stands."""
        found = self.on_request()
        timed = found is None or found[1].request is None or found[1].request.until_s is not None
        return None if found is None or timed else found[1]

    # -- what is read of the state --------------------------------------------------------

    @property
    def phase(self) -> Phase:
        return self.state.phase

    @property
    def cause(self) -> str:
        return self.state.cause or self.blame

    @property
    def roster(self) -> Roster:
        return self.state.roster

    @property
    def confirmed(self) -> frozenset[str]:
        return self.state.confirmed

    @property
    def set_up(self) -> tuple[SetUpItem, ...]:
        return self.state.set_up

    @property
    def calls(self) -> tuple[Call, ...]:
        return self.state.calls

    @property
    def balls_in_stretch(self) -> int:
        return self.state.balls_in_stretch

    @property
    def recording(self) -> Recording:
        """Made anew when a ball left or a record was made; a view asks for it dozens of times."""
        left, records, offer = made_of = self.state.left, self.state.records, self.offers.offer
        made = self.recorded
        if made is None or any(map(is_not, made[0], made_of)):
            found = Recording(tuple(left.values()), tuple(records.values()), offer)
            made = self.recorded = (made_of, found)
        return made[1]

    @property
    def first_left_host_s(self) -> float | None:
        first = next(iter(self.state.left.values()), None)
        return None if first is None else self.wall.host(first.left_utc_s)

    def stations(self) -> tuple[str, ...]:
        """The names of the stations with a launcher that run side by side now; one without a name
        where there are none."""
        runs = self.side_by_side()
        return tuple(run.name for run in runs if run.launcher is not None) or ("",)

    def side_by_side(self) -> tuple[StationRun, ...]:
        """The stations that the way through the plan is at."""
        action = self.course.action()
        return action.stations if isinstance(action, StartStations) else ()

    def stations_on_court(self) -> tuple[StationRun, ...]:
        """Those at which people are.

        The way through the plan may be ahead of the court by a minute: stations whose last balls
        are queued are left by it, and go on here until they end; and those that it has come to
        have not begun here while a turn before them is on.
        """
        if "" in self.roster.on:
            return ()
        left = (due.stations for due in self.due if due.stations)
        return next(left, self.side_by_side())

    # -- seeing and telling ---------------------------------------------------------------

    def touch(self) -> None:
        """Something that can be seen has changed."""
        self.revision += 1
        changed, self.changed = self.changed, anyio.Event()
        changed.set()

    def now_utc_s(self) -> float:
        self.notice_sleep()
        return self.wall.utc(anyio.current_time())

    def notice_sleep(self) -> bool:
        """Whether the computer was suspended since it was last looked: it is said and written."""
        nap_s = self.wall.notice(anyio.current_time())
        if nap_s > 0.0:
            self.offsets_before_nap = [reading.offset_s for reading in self.timeline.readings]
            self.log(HostSlept(seconds=round(nap_s, 3)))
            self.trouble(
                SUSPENDED.report(
                    _(
                        "this computer slept for {seconds:.0f} s in the middle of the lesson",
                        seconds=nap_s,
                    ),
                    help=_("keep its lid open and its sleep switched off while a lesson runs"),
                )
            )
        return nap_s > 0.0

    def change_pace(self, pace: float) -> None:
        """Another pace, from the last ball that is queued on."""
        self.log(PaceChanged(pace=pace))
        queued_s = [ball.action.at_s for a in self.launchers for ball in a.balls.values()]
        plan_s = self.timeline.plan_s(self.timeline.from_host(anyio.current_time()))
        self.timeline.set_pace(pace, max([plan_s, *queued_s]))

    def trouble(self, diagnostic: Diagnostic) -> None:
        """Show and journal what went wrong. What is shown already is not shown twice."""
        shown = {(trouble.slug, trouble.message) for trouble in self.troubles}
        if (diagnostic.slug, diagnostic.message) not in shown:
            self.troubles = [*self.troubles[-4:], diagnostic]
        self.trouble_utc_s[diagnostic.message] = self.now_utc_s()
        self.log(TroubleMet(slug=diagnostic.slug, message=diagnostic.message))

    def call(self, text: str) -> None:
        """Words for everyone."""
        self.log(Called(text=text, utc_s=self.now_utc_s()))

    def call_to(self, players: Iterable[str | None], text: str) -> None:
        """Words for these players, in their language where all of them speak one."""
        language = self.roster.speaks(players) if isinstance(text, Text) else ""
        told = in_language(language, text)
        self.log(Called(text=told, utc_s=self.now_utc_s(), language=language))

    def found_cause(self, why: str) -> None:
        """Why it ends, where no person chose that and nothing is known to be at fault yet."""
        if why and not self.state.cause and self.state.ending is None:
            self.log(CauseFound(why=why))

    async def aside(self, work: Callable[..., T], *args: object) -> T:
        """Work something out without keeping the launchers' heartbeats waiting."""
        if self.rehearsal:
            return work(*args)
        return await anyio.to_thread.run_sync(work, *args)

    # -- whether every launcher is still --------------------------------------------------

    def stopping(self) -> list[LauncherHandle]:
        """Launchers that a person should be able to count on, and that have neither said that
        they stopped (or hold) nor been left alone for their watchdog's time."""
        if self.phase not in STILL:
            return []
        now_s, held = anyio.current_time(), self.phase is Phase.HELD
        return [each for each in self.launchers if each.still_from_s(held=held) > now_s]

    def held_until_s(self) -> float:
        """When the first launcher makes a stop of the hold (host's clock); infinite outside one."""
        if self.phase is not Phase.HELD:
            return math.inf
        ends = [
            each.held_from_s + each.port.description.hold_limit_s
            for each in self.launchers
            if each.linked and each.held_from_s is not None
        ]
        return min(ends, default=math.inf)

    def still_from_s(self) -> float:
        """When the next of those will be still at the latest; infinite where none is to come."""
        held = self.phase is Phase.HELD
        return min((each.still_from_s(held=held) for each in self.stopping()), default=math.inf)
