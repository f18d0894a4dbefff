"""What launchers report, made into events of the lesson."""

from __future__ import annotations

import anyio
import msgspec

from feedscript.launcher.faults import where_to_look
from feedscript.launcher.port import (
    LINK_LOST,
    Event,
    Fault,
    Gauged,
    LauncherState,
    LinkLost,
    Outcome,
    OutcomeUnknown,
    StateChanged,
)
from feedscript.session.engine.launcher_handle import Ball, LauncherHandle
from feedscript.session.engine.launcher_stops import (
    HOLD_LIMIT,
    armed_after_stop,
    launcher_fault,
    stopped_by_itself,
)
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.operator.phases import Happening, Phase
from feedscript.session.state.events import (
    ACKNOWLEDGED,
    BallSettled,
    CauseFound,
    LauncherReported,
)
from feedscript.tongues.text import _

#: So many balls in a row that did not leave end in a hold. Design value.
MISSES_MOST = 3
#: States in which a launcher will not feed, though nobody asked it to stop.
_OUT = (
    LauncherState.SAFE,
    LauncherState.STOPPING,
    LauncherState.STOPPED,
    LauncherState.FAULT,
)


#: So much the voltage changes before it is written down again. Design value.
_SUPPLY_STEP_V = 0.1


def _is_news(launcher: LauncherHandle, event: Gauged) -> bool:
    """Whether a reading is worth a line of the journal; notes it, if it is."""
    volts, before = event.supply_v, launcher.supply_journaled_v
    if volts is None or (before is not None and abs(volts - before) < _SUPPLY_STEP_V):
        return False
    launcher.supply_journaled_v = volts
    return True


class LauncherNews(msgspec.Struct, frozen=True):
    """Hears the launchers of one lesson."""

    lesson: LiveRun

    def ball_settled(
        self,
        launcher: LauncherHandle,
        ball: Ball,
        outcome: Outcome,
        left_device_s: float | None,
        reason: str,
    ) -> None:
        """A ball's outcome became known (or is known to be unknown)."""
        lesson = self.lesson
        lesson.notice_sleep()
        left_utc_s = self._left_utc_s(launcher, ball, left_device_s)
        lesson.log(
            BallSettled(
                feed_id=ball.feed_id,
                outcome=outcome,
                left_device_s=left_device_s,
                left_utc_s=left_utc_s if outcome is Outcome.LEFT else None,
                reason=reason,
            )
        )
        if outcome is Outcome.NOT_SENT and lesson.phase in (Phase.RUNNING, Phase.WATCHING):
            too_many = lesson.state.misses >= MISSES_MOST
            lesson.happen(Happening.TOO_MANY_MISSED if too_many else Happening.BALL_MISSED)

    def stop_is_owed(self) -> None:
        """From now on it is known when the launcher will be still at the latest."""
        self.lesson.touch()

    def acknowledged(self, launcher: LauncherHandle, *, hold: bool) -> None:
        """For whoever follows the lesson by its events alone."""
        said = {"hold": hold}
        self.lesson.log(LauncherReported(event=ACKNOWLEDGED, launcher=launcher.index, said=said))

    def _left_utc_s(
        self, launcher: LauncherHandle, ball: Ball, left_device_s: float | None
    ) -> float:
        """When a ball left; when it was to leave, where nobody measured it.

        A clock reading from before the computer slept knows nothing of that: what is reckoned by it
        goes on as if it had not slept.
        """
        lesson, index = self.lesson, launcher.index
        wall, readings = lesson.wall, lesson.timeline.readings
        if left_device_s is None or not readings:
            return wall.utc(min(ball.host_s, anyio.current_time()))
        left_s = lesson.timeline.host_s(lesson.timeline.lesson_s(index, left_device_s))
        if wall.naps and index < len(lesson.offsets_before_nap):
            noticed_s, nap_s = wall.naps[-1]
            risen_s = readings[index].offset_s - lesson.offsets_before_nap[index]
            if risen_s < nap_s / 2 and left_s >= noticed_s:
                return wall.utc(left_s) - nap_s
        return wall.utc(left_s)

    def event_heard(self, launcher: LauncherHandle, event: Event) -> None:
        """A launcher did something by itself."""
        lesson = self.lesson
        if isinstance(event, Gauged) and not _is_news(launcher, event):
            lesson.touch()
            return
        said = msgspec.to_builtins(event)
        name = said.pop("event")
        lesson.log(LauncherReported(event=name, launcher=launcher.index, said=said))
        match event:
            case LinkLost(detail=detail, cause=cause):
                self._link_lost(launcher, detail, cause)
            case OutcomeUnknown():
                lesson.happen(Happening.OUTCOME_UNKNOWN)
            case Fault(kind=kind, detail=detail):
                self._fault(launcher, kind, detail)
            case StateChanged(state=LauncherState.ARMED) if launcher.armed_unasked:
                why = armed_after_stop(launcher.name)
                lesson.trouble(why)
                lesson.happen(Happening.LAUNCHER_STOPPED, why)  # a hold is none any more
            case StateChanged(state=state, reason=reason) if state in _OUT:
                self._went_out(launcher, state, reason)

    def _link_lost(self, launcher: LauncherHandle, detail: str, cause: str) -> None:
        """Said here too: the loss may be noticed while no command was waiting to fail."""
        first = where_to_look(cause, "") or _("look at cable, power and range")
        lost = LINK_LOST.report(
            detail,
            device=launcher.name,
            help=_("{first}; then `feedscript run --resume`", first=first),
        )
        self.lesson.trouble(lost)
        self.lesson.happen(Happening.LINK_LOST, lost)

    def _fault(self, launcher: LauncherHandle, kind: str, detail: str) -> None:
        lesson, fault = self.lesson, launcher_fault(launcher.name, kind, detail)
        lesson.trouble(fault)
        if lesson.happen(Happening.LAUNCHER_STOPPED, fault):
            return
        if lesson.state.cause and lesson.state.ending is None:
            lesson.log(CauseFound(why=fault.message))  # the jam of a ball that was in question

    def _went_out(self, launcher: LauncherHandle, state: LauncherState, reason: str) -> None:
        """On its way to be armed a launcher passes through safe; out of a fault, too, through the
        rest of its run-down."""
        lesson, ends_fault = self.lesson, launcher.before is LauncherState.FAULT
        passes = state is LauncherState.SAFE or (state is LauncherState.STOPPING and ends_fault)
        why = stopped_by_itself(launcher.name, state, reason)
        if passes and lesson.phase is Phase.ARMING:
            return
        if lesson.happen(Happening.LAUNCHER_STOPPED, why):
            lesson.trouble(why)
            if reason == HOLD_LIMIT:
                lesson.call(_("The hold has become a stop."))
