"""A lesson while it runs: everything that changes, in one place, and the one way to change phase.

The modules around it are its work: ``phase_handlers`` (what each phase does), ``station_runner``
and ``feed_scheduler`` (following the plan), ``carry_out`` (what a person commands).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

import anyio
import anyio.to_thread
import msgspec

from feedscript.diagnostics import Diagnostic, Page
from feedscript.journal.store import BallOutcome, Journal
from feedscript.launcher.port import (
    LINK_LOST,
    Event,
    Fault,
    LauncherState,
    LinkLost,
    Outcome,
    OutcomeUnknown,
    StateChanged,
)
from feedscript.plan.certificate import SetUpItem
from feedscript.plan.interpreter.actions import (
    Action,
    Jump,
    Reply,
    SendBall,
    StartStations,
    WatchSpeed,
)
from feedscript.plan.model import Plan
from feedscript.session.engine.guards import Fences
from feedscript.session.engine.in_the_air import Apart, apart_in
from feedscript.session.engine.journal_queue import JournalQueue
from feedscript.session.engine.launcher_handle import Ball, LauncherHandle
from feedscript.session.engine.launcher_stops import (
    HOLD_LIMIT,
    fault_words,
    launcher_fault,
    stopped_by_itself,
)
from feedscript.session.engine.lesson_clock import Timeline
from feedscript.session.engine.plan_cursor import Course, begin
from feedscript.session.engine.wall_clock import WallClock
from feedscript.session.group.recording import Recording
from feedscript.session.group.records import FlownBall, Record
from feedscript.session.group.roster import Roster
from feedscript.session.operator.phases import (
    ENDED,
    NOT_CHOSEN,
    POWERED,
    STILL,
    Act,
    Cause,
    Happening,
    Phase,
    follow,
)
from feedscript.session.operator.view import Call

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

#: So many balls in a row that did not leave end in a hold. Design value.
MISSES_MOST = 3
#: Calls that can still be seen.
CALLS_KEPT = 8
#: States in which a launcher will not feed, though nobody asked it to stop.
_OUT = (
    LauncherState.SAFE,
    LauncherState.STOPPING,
    LauncherState.STOPPED,
    LauncherState.FAULT,
)


@dataclass(frozen=True, slots=True)
class Due:
    """Something to be done at a moment of the plan, for an action at this place in the course.

    With ``lesson_s`` at that moment of the lesson, however long what follows is put off.
    """

    plan_s: float
    place: tuple[str, int]
    what: Callable[[], None]
    lesson_s: float | None = None


@dataclass(slots=True, eq=False)
class Lesson:
    """One lesson under way."""

    plan: Plan
    journal: Journal
    session_id: int
    journal_queue: JournalQueue
    wall: WallClock
    fences: Fences
    roster: Roster
    recording: Recording
    set_up: tuple[SetUpItem, ...]
    after_pause: tuple[SetUpItem, ...]
    rehearsal: bool
    unsettled: tuple[Ball, ...] = ()  # from before the lesson was broken off
    course: Course = field(init=False)
    apart: Apart = field(init=False)
    timeline: Timeline = field(default_factory=Timeline)
    launchers: tuple[LauncherHandle, ...] = ()
    phase: Phase = Phase.CONNECTING
    confirmed: set[str] = field(default_factory=set)
    done: dict[int, int] = field(default_factory=dict)  # last ball that left, a launcher
    last_place: dict[str, tuple[str, int]] = field(default_factory=dict)  # a lane: of its last ball
    on_court_s: dict[str, float] = field(default_factory=dict)  # a lane: not before may be fed
    went_on: bool = True  # a person said so, and no ball was queued since
    next_feed_id: int = 1
    jumps: list[Jump] = field(default_factory=list)
    reached_s: float = 0.0  # the moment of the plan at which the lesson last ceased to run
    misses: int = 0
    balls_in_stretch: int = 0  # left since the lesson last began to run
    calls: list[Call] = field(default_factory=list)
    due: list[Due] = field(default_factory=list)
    troubles: list[Diagnostic] = field(default_factory=list)
    trouble_utc_s: dict[str, float] = field(default_factory=dict)  # a message: when it last came
    offsets_before_nap: list[float] = field(default_factory=list)  # of the launchers' clocks
    cleared_utc_s: float = 0.0  # when the launchers were last armed, or the lesson last went on
    cause: str = ""  # why it does not run, where no person chose that; "" once it runs again
    ending: str | None = None
    ended_utc_s: float | None = None
    first_left_host_s: float | None = None
    paces: dict[float, bool] = field(default_factory=dict)  # which were certified, as asked
    shown_mps: dict[int, float] = field(default_factory=dict)  # fastest seen, a launcher
    revision: int = 0
    scope: anyio.CancelScope = field(default_factory=anyio.CancelScope)
    changed: anyio.Event = field(default_factory=anyio.Event)
    goodbye: anyio.Event = field(default_factory=anyio.Event)  # a person has ended it for good

    def __post_init__(self) -> None:
        self.course = begin(self.plan)
        self.apart = apart_in(self.plan)

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
            self.note("suspended", {"seconds": round(nap_s, 3)})
            self.trouble(
                SUSPENDED.report(
                    f"this computer slept for {nap_s:.0f} s in the middle of the lesson",
                    help="keep its lid open and its sleep switched off while a lesson runs",
                )
            )
        return nap_s > 0.0

    def note(self, kind: str, data: Mapping[str, Any], launcher: int | None = None) -> None:
        """Into the journal, in order, without waiting for the disk."""
        self.note_at(self.now_utc_s(), kind, data, launcher)

    def note_at(
        self, utc_s: float, kind: str, data: Mapping[str, Any], launcher: int | None = None
    ) -> None:
        """The same for a moment that is past."""
        self.journal_queue.later(
            lambda: self.journal.note(self.session_id, utc_s, kind, data, launcher)
        )

    def write_record(self, record: Record) -> None:
        """A result into the journal; one that it replaces stays there, marked."""
        feed_id, result = record.ball.feed_id, record.result.value
        utc_s = self.wall.utc(record.tapped_s)

        def write() -> None:
            self.journal.take_back(self.session_id, feed_id)
            self.journal.record(self.session_id, feed_id, result, utc_s, record.landing_m)

        self.journal_queue.later(write)

    def change_pace(self, pace: float) -> None:
        """Another pace, from the last ball that is queued on."""
        queued_s = [ball.action.at_s for a in self.launchers for ball in a.balls.values()]
        plan_s = self.timeline.plan_s(self.timeline.from_host(anyio.current_time()))
        self.timeline.set_pace(pace, max([plan_s, *queued_s]))
        self.note("pace", {"percent": self.timeline.percent()})
        self.touch()

    def trouble(self, diagnostic: Diagnostic) -> None:
        """Show and journal what went wrong. What is shown already is not shown twice."""
        shown = {(trouble.slug, trouble.message) for trouble in self.troubles}
        if (diagnostic.slug, diagnostic.message) not in shown:
            self.troubles = [*self.troubles[-4:], diagnostic]
        self.trouble_utc_s[diagnostic.message] = self.now_utc_s()
        self.note("trouble", {"slug": diagnostic.slug, "message": diagnostic.message})
        self.touch()

    def call(self, text: str) -> None:
        """Words for everyone."""
        number = self.calls[-1].number + 1 if self.calls else 1
        self.calls = [*self.calls, Call(number=number, text=text, utc_s=self.now_utc_s())]
        del self.calls[:-CALLS_KEPT]
        self.note("call", {"text": text})
        self.touch()

    async def aside(self, work: Callable[..., T], *args: object) -> T:
        """Work something out without keeping the launchers' heartbeats waiting."""
        if self.rehearsal:
            return work(*args)
        return await anyio.to_thread.run_sync(work, *args)

    # -- phases ---------------------------------------------------------------------------

    def act(self, act: Act, by: str) -> Diagnostic | None:
        """A person's command moves the lesson, or is refused."""
        self.note("act", {"act": act.value, "by": by, "phase": self.phase.value})
        return self._move(act)

    def happen(self, happening: Happening, why: Diagnostic | None = None) -> bool:
        """What occurs moves the lesson where the table says so; else it changes nothing."""
        return self._move(happening, why) is None

    def _move(self, cause: Cause, why: Diagnostic | None = None) -> Diagnostic | None:
        after = follow(self.phase, cause)
        if isinstance(after, Diagnostic):
            return after
        self._note_cause(cause, after, why)
        if self.phase in (Phase.ARMING, Phase.REGROUPING) and after in (*POWERED, Phase.RUNNING):
            self.cleared_utc_s = self.now_utc_s()
        if after is not self.phase:
            if self.phase is Phase.RUNNING:
                now_s = self.timeline.from_host(anyio.current_time())
                self.reached_s = self.timeline.plan_s(now_s)
            self.phase = after
            self.went_on = self.went_on or cause is Act.GO_ON
            self.note("phase", {"phase": after.value, "cause": cause.value})
            self.scope.cancel()
        self.touch()
        return None

    def _note_cause(self, cause: Cause, after: Phase, why: Diagnostic | None) -> None:
        """What a person already chose to stop is not blamed on what comes of it."""
        if after is Phase.RUNNING:
            self.cause = ""
        elif after in ENDED or (self.phase in POWERED and not self.cause):
            words = NOT_CHOSEN.get(cause) if isinstance(cause, Happening) else None
            if words is not None:
                self.cause = words if why is None else why.message

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

    # -- the place in the plan ------------------------------------------------------------

    def decide(self, key: str, reply: Reply) -> Action | None:
        """Answer a lane's action and go to the next; an answer goes into the journal."""
        if reply is not None:
            self.note_decision((key, self.course.number(key)), reply)
        return self.course.reply(key, reply)

    def note_decision(self, place: tuple[str, int], reply: Reply) -> None:
        """Into the journal; it overrules whatever was decided from there on."""
        data = {"lane": place[0], "number": place[1], "reply": reply_as_data(reply)}
        self.note("decision", data)

    def stations(self) -> tuple[str, ...]:
        """The names of the stations side by side now; one without a name outside of forks."""
        action = self.course.action()
        if isinstance(action, StartStations):
            return tuple(station.name for station in action.stations)
        return ("",)

    def when_due(
        self,
        plan_s: float,
        place: tuple[str, int],
        what: Callable[[], None],
        lesson_s: float | None = None,
    ) -> None:
        """Do something at a moment of the plan, also if put off; or at one of the lesson."""
        self.due.append(Due(plan_s, place, what, lesson_s))
        self.touch()

    def due_s(self, due: Due) -> float:
        """The moment of the lesson at which it is due."""
        return self.timeline.at(due.plan_s) if due.lesson_s is None else due.lesson_s

    def turn_begins(self, place: tuple[str, int], station: str, player: int | None) -> None:
        """A turn begins on court: who is on now."""
        name = self.roster.name(player)
        self.roster.begins(place, station, name)
        self.note("turn", {"lane": place[0], "number": place[1]})
        if name is not None:
            self.call(f"{name} to {station}" if station else f"{name} is on")
        self.touch()

    def speak(self, place: tuple[str, int], text: str) -> None:
        """A call of the plan is due: it is made, and not made again."""
        self.course.decisions[place] = True
        self.note("said", {"lane": place[0], "number": place[1]})
        self.call(text)

    def stations_end(self) -> None:
        """The stations are over: nobody is on until the next turn."""
        self.roster.on.clear()
        self.touch()

    # -- what launchers do ----------------------------------------------------------------

    def ball_settled(self, launcher: LauncherHandle, ball: Ball) -> None:
        """A ball's outcome became known (or is known to be unknown)."""
        assert ball.outcome is not None
        self.notice_sleep()
        now_s = anyio.current_time()
        left_host_s = self._left_host_s(launcher, ball)
        fate = BallOutcome(
            feed_id=ball.feed_id,
            outcome=ball.outcome,
            outcome_utc_s=self.wall.utc(now_s),
            left_device_s=ball.left_device_s,
            left_utc_s=None if left_host_s is None else self._left_utc_s(launcher, left_host_s),
            reason=ball.reason,
        )
        self.journal_queue.later(lambda: self.journal.settle(self.session_id, fate))
        if ball.outcome is Outcome.LEFT:
            self._ball_left(launcher, ball, left_host_s or now_s)
        elif ball.outcome is Outcome.NOT_SENT and self.phase in (Phase.RUNNING, Phase.WATCHING):
            self._ball_missed()
        self.touch()

    def _left_host_s(self, launcher: LauncherHandle, ball: Ball) -> float | None:
        """When a ball left, by the host's clock; when it was to leave, where nobody measured it."""
        if ball.outcome is not Outcome.LEFT:
            return None
        if ball.left_device_s is None or not self.timeline.readings:
            return min(ball.host_s, anyio.current_time())
        left_s = self.timeline.lesson_s(launcher.index, ball.left_device_s)
        return self.timeline.host_s(left_s)

    def _left_utc_s(self, launcher: LauncherHandle, left_host_s: float) -> float:
        """A clock reading from before the computer slept knows nothing of that: what is reckoned
        by it goes on as if it had not slept."""
        index = launcher.index
        if self.wall.naps and index < len(self.offsets_before_nap):
            noticed_s, nap_s = self.wall.naps[-1]
            risen_s = self.timeline.readings[index].offset_s - self.offsets_before_nap[index]
            if risen_s < nap_s / 2 and left_host_s >= noticed_s:
                return self.wall.utc(left_host_s) - nap_s
        return self.wall.utc(left_host_s)

    def _ball_left(self, launcher: LauncherHandle, ball: Ball, left_host_s: float) -> None:
        self.misses = 0
        self.balls_in_stretch += 1
        index = launcher.index
        self.done[index] = max(self.done.get(index, 0), ball.action.ball)
        if self.first_left_host_s is None:
            self.first_left_host_s = left_host_s
        if isinstance(ball.action, SendBall):
            self.last_place[ball.place[0]] = ball.place
        feed = self.plan.feeds[ball.action.feed]
        self.recording.ball_left(
            FlownBall(
                feed_id=ball.feed_id,
                ball_no=ball.action.ball,
                feed=feed.wish or feed.name,
                player=ball.player,
                left_s=left_host_s,
                flight_s=feed.flight_s,
                launcher=index,
                station=ball.action.station,
                feed_index=ball.action.feed,
                shown=isinstance(ball.action, WatchSpeed),
            )
        )

    def _ball_missed(self) -> None:
        self.misses += 1
        if self.misses >= MISSES_MOST:
            self.misses = 0
            self.happen(Happening.TOO_MANY_MISSED)
        else:
            self.happen(Happening.BALL_MISSED)

    def event_heard(self, launcher: LauncherHandle, event: Event) -> None:
        """A launcher did something by itself."""
        self.note("event", {"event": type(event).__name__, **_plain(event)}, launcher.index)
        match event:
            case LinkLost(detail=detail):
                # Said here too: the loss may be noticed while no command was waiting to fail.
                lost = LINK_LOST.report(
                    detail,
                    device=launcher.name,
                    help="look at cable, power and range; then `feedscript run --resume`",
                )
                self.trouble(lost)
                self.happen(Happening.LINK_LOST, lost)
            case OutcomeUnknown():
                self.happen(Happening.OUTCOME_UNKNOWN)
            case Fault(kind=kind, detail=detail):
                fault = launcher_fault(launcher.name, fault_words(kind, detail))
                self.trouble(fault)
                if not self.happen(Happening.LAUNCHER_STOPPED, fault) and self.cause:
                    self.cause = fault.message  # the jam of a ball that was in question before
            case StateChanged(state=state, reason=reason) if state in _OUT:
                # On its way to be armed a launcher passes through safe; out of a fault,
                # too, through the rest of its run-down.
                ends_fault = launcher.before is LauncherState.FAULT
                passes = state is LauncherState.SAFE or (
                    state is LauncherState.STOPPING and ends_fault
                )
                why = stopped_by_itself(launcher.name, state, reason)
                if passes and self.phase is Phase.ARMING:
                    pass
                elif self.happen(Happening.LAUNCHER_STOPPED, why):
                    self.trouble(why)
                    if reason == HOLD_LIMIT:
                        self.call("The hold has become a stop.")
        self.touch()


def _plain(event: Event) -> dict[str, Any]:
    plain: dict[str, Any] = msgspec.to_builtins(event)
    return plain


def reply_as_data(reply: Reply) -> Any:
    """A reply as the journal writes it."""
    if isinstance(reply, Jump):
        return {"jump": reply.value}
    if isinstance(reply, bool) or reply is None:
        return reply
    return {"player": reply.player, "left_handed": reply.left_handed}
