"""One lesson as the club's log tells it: its state by the lesson's own ``apply``, event by event,
and beside it what its launchers and the coach's screen were last told."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec
from msgspec.structs import replace

from feedscript.club.batch import Event, Header
from feedscript.diagnostics import FeedscriptError
from feedscript.launcher.port import HOMING, LauncherState
from feedscript.plan.model import Plan
from feedscript.session.operator.phases import POWERED, STILL, Phase
from feedscript.session.state import events as e
from feedscript.session.state.apply import apply
from feedscript.session.state.lanes import fork_of, station_of
from feedscript.session.state.run_state import RunState, state_at_the_start

#: States in which no ball leaves a launcher until a person arms it. One that is stopping or has
#: found a fault may still have to be told, and one that is held may have a ball in its mouth.
_STILL = frozenset((LauncherState.SAFE, LauncherState.AWAITING_ARM, LauncherState.STOPPED))


class LauncherNow(msgspec.Struct, frozen=True):
    """A launcher, by what it last said."""

    state: LauncherState = LauncherState.SAFE
    homing: bool = False  # its axes look for their places before it is armed
    linked: bool = True
    fault: str = ""
    watchdog: bool = False  # it said of itself that it stops when it hears nothing
    stopped: bool = False  # it acknowledged a stop and was not armed since
    holding: bool = False  # it acknowledged a hold and did not go on since


class Trouble(msgspec.Struct, frozen=True):
    """What the coach was shown, and when by the court's clock."""

    utc_s: float
    words: str


class Followed(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson up to the event of this ``number``. ``utc_s`` is that event's moment by the court's
    clock, ``received_s`` when it came, by ours."""

    header: Header
    plan: Plan
    state: RunState
    launchers: tuple[LauncherNow, ...]
    number: int = 0
    utc_s: float = 0.0
    received_s: float = 0.0
    loaded_after: int = 0  # so many balls had left when the hoppers were last filled
    troubles: tuple[Trouble, ...] = ()  # since the launchers were last armed
    work: Mapping[str, tuple[str, ...]] = {}  # who was called to work alone at which station
    at: frozenset[str] = frozenset()  # stations side by side of which anything was heard
    stop_received_s: float = 0.0  # when the last stop that a person commanded came here

    @property
    def stopping(self) -> bool:
        """Whether a launcher that people should be able to count on has not acknowledged yet.

        The end of a lesson is written down when the watchdogs of those that never did have had
        their time.
        """
        if self.state.phase not in STILL:
            return False
        held, ended = self.state.phase is Phase.HELD, self.state.ending is not None
        return any(
            not (one.stopped or one.state in _STILL)
            and not (held and one.holding)
            and not (ended and one.watchdog)
            for one in self.launchers
        )

    def alone(self) -> dict[str, tuple[str, ...]]:
        """Who works by themselves now, by the name of their station."""
        here = self.state.roster.here
        return {at: tuple(one for one in who if one in here) for at, who in self.work.items()}

    def run_s(self, now_s: float) -> float:
        """How long the lesson has run: whatever the court's clock says, it goes as fast as ours."""
        if self.state.ending is not None:
            return max(0.0, self.utc_s - self.header.begun_utc_s)
        gone_s = max(0.0, now_s - self.received_s)
        return max(0.0, self.utc_s - self.header.begun_utc_s + gone_s)

    def in_hopper(self, launcher: int) -> int | None:
        """How many are left in it, by what was loaded; None where the program does not say."""
        load = self.plan.launchers[launcher].load
        if load is None:
            return None
        since = list(self.state.left.values())[self.loaded_after :]
        return max(0, load - sum(ball.launcher == launcher for ball in since))


def begin(header: Header) -> Followed | None:
    """A lesson of which nothing has happened yet; None where its plan cannot be read here."""
    try:
        plan = msgspec.json.decode(header.plan, type=Plan)
    except (msgspec.MsgspecError, UnicodeError, RecursionError):
        return None
    launchers = tuple(LauncherNow() for _ in plan.launchers)
    return Followed(
        header=header, plan=plan, state=state_at_the_start(plan), launchers=launchers,
        utc_s=header.begun_utc_s,
    )  # fmt: skip


def follow(lesson: Followed, told: Iterable[Event], received_s: float) -> Followed | None:
    """The lesson after these events; None where one of them is missing, or is none that this
    version knows: then nothing is shown rather than something untrue."""
    for one in told:
        if one.number <= lesson.number:
            continue
        if one.number != lesson.number + 1:
            return None
        after = _after(lesson, one, received_s)
        if after is None:
            return None
        lesson = replace(after, number=one.number, utc_s=one.utc_s, received_s=received_s)
    return lesson


def _after(lesson: Followed, one: Event, received_s: float) -> Followed | None:
    try:
        event = msgspec.json.decode(one.data, type=e.KINDS[one.kind])
        state = apply(lesson.plan, lesson.state, event)
    except (msgspec.MsgspecError, UnicodeError, RecursionError, KeyError, FeedscriptError):
        return None
    lesson = _moved(replace(lesson, state=state), lesson.state.phase)
    match event:
        case e.LauncherReported() if event.launcher < len(lesson.launchers):
            return _launcher_said(lesson, event)
        case e.Spoken() | e.FeedRequested() | e.TurnBegan() if fork_of(event.lane) is not None:
            return _heard_of_station(lesson, event)
        case e.StationsEnded() | e.TurnBegan():
            return replace(lesson, work={}, at=frozenset())
        case e.TroubleMet():
            troubles = (*lesson.troubles, Trouble(one.utc_s, event.message))
            return replace(lesson, troubles=troubles)
        case e.Resumed():
            # As at its court: what is in the hoppers is told anew once somebody has set up again.
            launchers = tuple(LauncherNow() for _ in lesson.launchers)
            return replace(lesson, launchers=launchers, loaded_after=0)
        case e.Commanded() if event.act in ("stop", "emergency-stop"):
            return replace(lesson, stop_received_s=received_s)
    return lesson


def _heard_of_station(
    lesson: Followed, event: e.Spoken | e.FeedRequested | e.TurnBegan
) -> Followed:
    lesson = replace(lesson, at=lesson.at | {station_of(event.lane)})
    if isinstance(event, e.Spoken) and event.station and event.players:
        return replace(lesson, work={**lesson.work, event.station: event.players})
    return lesson


def _moved(lesson: Followed, before: Phase) -> Followed:
    """What belongs to a change of phase; as the lesson itself has it at its court."""
    after = lesson.state.phase
    if after is before:
        return lesson
    if before in (Phase.ARMING, Phase.REGROUPING) and after in (*POWERED, Phase.RUNNING):
        lesson = replace(lesson, troubles=())
    loaded = before is Phase.COLLECTING and after is not Phase.STOPPED
    if loaded or before is Phase.CONNECTING:
        lesson = replace(lesson, loaded_after=len(lesson.state.left))
    return lesson


def _launcher_said(lesson: Followed, event: e.LauncherReported) -> Followed:
    now = lesson.launchers[event.launcher]
    if event.event == e.GREETING:
        now = replace(now, watchdog=event.said.get("watchdog_s") is not None)
    elif event.event == e.ACKNOWLEDGED:
        hold = event.said.get("hold") is True
        now = replace(now, holding=hold, stopped=now.stopped or not hold)
    elif event.event == "link-lost":
        now = replace(now, linked=False)
    elif event.event == "fault":
        now = replace(now, fault=str(event.said.get("kind", "")))
    elif event.event == "state":
        try:
            state = LauncherState(event.said.get("state", ""))
        except ValueError:
            return lesson
        fault = now.fault if state is LauncherState.FAULT else ""
        homing = state is LauncherState.AWAITING_ARM and event.said.get("reason") == HOMING
        now = replace(now, state=state, fault=fault, homing=homing)
        if state is LauncherState.ARMED:
            now = replace(now, stopped=False, holding=False)
    launchers = list(lesson.launchers)
    launchers[event.launcher] = now
    return replace(lesson, launchers=tuple(launchers))
