"""The engine: takes a certified plan and connected launchers, and conducts the lesson.

It knows no clock but ``anyio.current_time`` and no launcher but the port, so the same engine runs
on asyncio on court and on trio's virtual clock in rehearsal.
"""

from __future__ import annotations

import math
from collections.abc import AsyncIterator, Sequence
from contextlib import suppress

import anyio
import msgspec

from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.launcher.port import (
    GivenUpError,
    LauncherError,
    LauncherPort,
    Outcome,
    StopCategory,
)
from feedscript.launcher.profile.model import Profile
from feedscript.session.engine.carry_out import carry_out, stop_one
from feedscript.session.engine.launcher_handle import LauncherHandle
from feedscript.session.engine.launcher_news import LauncherNews
from feedscript.session.engine.live_run import LiveRun
from feedscript.session.engine.phase_handlers import (
    HANDLERS,
    LOOK_AGAIN_S,
    each,
    measure_clocks,
)
from feedscript.session.engine.resume import unsettled_balls
from feedscript.session.engine.wall_clock import never
from feedscript.session.operator.commands import Command
from feedscript.session.operator.phases import ENDED, Happening, Phase
from feedscript.session.operator.view import Asks, LessonView
from feedscript.session.operator.view_of import asks_of, view_of
from feedscript.session.state.events import Ended, ExerciseEnded, HowEnded
from feedscript.tongues.text import _

#: How often it is looked whether the computer was suspended. Design value.
LOOK_S = 1.0
#: How often the clocks are measured anew while the lesson goes on.
MEASURE_S = 5.0
#: What our own stop or hold overtook is no trouble: the phase goes on, this much later. Until the
#: stop is acknowledged every other request is given up at once, so going on without a pause would
#: only spin.
OVERTAKEN_S = 0.02
#: How long launchers are given to acknowledge the last stop.
CLOSING_S = 2.0
#: After the end a coach has so long, from the last tap, to record the last balls. Design value.
LATE_TAPS_S = 20.0


class Ending(msgspec.Struct, frozen=True, kw_only=True):
    """How a lesson ended. ``cause`` says why, where nobody chose that it should: else it is ""."""

    phase: Phase
    diagnostics: tuple[Diagnostic, ...]
    cause: str

    @property
    def finished(self) -> bool:
        return self.phase is Phase.FINISHED


class Engine:
    """Conducts one lesson; the :class:`feedscript.session.operator.controller.Controller` of it."""

    def __init__(
        self, lesson: LiveRun, ports: Sequence[LauncherPort], profiles: Sequence[Profile]
    ) -> None:
        self.lesson = lesson
        news, unsettled = LauncherNews(lesson), unsettled_balls(lesson)
        lesson.launchers = tuple(
            LauncherHandle(
                index=index,
                name=placed.name,
                port=port,
                profile=profile,
                listener=news,
                balls={ball.feed_id: ball for ball in unsettled if ball.action.launcher == index},
            )
            for index, (placed, port, profile) in enumerate(
                zip(lesson.plan.launchers, ports, profiles, strict=False)
            )
        )

    @property
    def view(self) -> LessonView:
        return view_of(self.lesson)

    @property
    def asks(self) -> Asks:
        return asks_of(self.lesson)

    async def views(self) -> AsyncIterator[LessonView]:
        """The state now and after each change, until the lesson has ended."""
        async for _change in self.changes():
            yield self.view

    async def changes(self) -> AsyncIterator[None]:
        """Once now and after each change, for whoever needs no view of it."""
        while True:
            changed, ended = self.lesson.changed, self.lesson.ending is not None
            yield
            if ended:
                return
            await changed.wait()

    def notice(self, trouble: Diagnostic) -> None:
        """See :class:`feedscript.session.operator.controller.Controller`."""
        self.lesson.trouble(trouble)

    async def command(self, command: Command, by: str = "terminal") -> Diagnostic | None:
        return await carry_out(self.lesson, command, by)

    async def run(self, late_taps_s: float = 0.0) -> Ending:
        """Conduct the lesson to its end. Whatever ends it, every launcher is told to stop.

        With ``late_taps_s`` the lesson, once ended, still takes records until so long after the
        last one, or until a person quits.
        """
        lesson = self.lesson
        try:
            async with anyio.create_task_group() as tasks:
                tasks.start_soon(lesson.journal_queue.run)
                try:
                    await self._conduct_all(late_taps_s)
                except* FeedscriptError as failed:
                    lesson.happen(Happening.REFUSED, _leaves(failed)[0].diagnostic)
                    raise
                finally:
                    with anyio.CancelScope(shield=True):
                        await self._close()
                        lesson.journal_queue.close()
        except* FeedscriptError as failed:
            found = [leaf.diagnostic for leaf in _leaves(failed)]
            lesson.troubles += found
        return self._ending()

    def _ending(self) -> Ending:
        """What could not be written down, to the last word, is part of it."""
        lesson = self.lesson
        unwritten = lesson.journal_queue.trouble
        if unwritten is not None and unwritten not in lesson.troubles:
            lesson.troubles.append(unwritten)
        cause = lesson.cause if unwritten is None else unwritten.message
        return Ending(phase=lesson.phase, diagnostics=tuple(lesson.troubles), cause=cause)

    async def _conduct_all(self, late_taps_s: float) -> None:
        async with anyio.create_task_group() as tasks:
            for launcher in self.lesson.launchers:
                tasks.start_soon(launcher.pump)
                tasks.start_soon(self._stop_again, launcher)
            tasks.start_soon(self._keep_measuring)
            tasks.start_soon(self._tell_when_still)
            tasks.start_soon(self._notice_sleep)
            await self._conduct()
            if late_taps_s > 0.0 and not self.lesson.goodbye.is_set():
                await self._stop_all()
                self._write_ending()
                await self._take_late_taps(late_taps_s)
            tasks.cancel_scope.cancel()

    async def _take_late_taps(self, for_s: float) -> None:
        """Wait for the last records; a launcher cannot be started any more."""
        lesson = self.lesson
        newest, until_s = -1, 0.0
        while not lesson.goodbye.is_set():
            if newest != lesson.taps:
                newest, until_s = lesson.taps, anyio.current_time() + for_s
            with anyio.CancelScope(deadline=until_s) as patience:
                await lesson.changed.wait()
            if patience.cancelled_caught:
                return

    async def _conduct(self) -> None:
        """One phase after another."""
        lesson = self.lesson
        while lesson.phase not in ENDED:
            phase, overtaken = lesson.phase, False
            with anyio.CancelScope() as scope:
                lesson.scope = scope
                try:
                    await HANDLERS[phase](lesson)
                except* GivenUpError:
                    overtaken = True
                except* LauncherError as failed:
                    self._launcher_failed(_leaves(failed))
                except* FeedscriptError as failed:
                    found = [leaf.diagnostic for leaf in _leaves(failed)]
                    for diagnostic in found:
                        lesson.trouble(diagnostic)
                    lesson.happen(Happening.REFUSED, found[0])
            if overtaken:
                await anyio.sleep(OVERTAKEN_S)

    def _launcher_failed(self, failures: list[FeedscriptError]) -> None:
        """A launcher refused or failed: stop where that helps, else end the lesson."""
        lesson = self.lesson
        for failure in failures:
            lesson.trouble(failure.diagnostic)
        why = failures[0].diagnostic
        if not all(launcher.linked for launcher in lesson.launchers):
            lesson.happen(Happening.LINK_LOST, why)
        elif not lesson.happen(Happening.LAUNCHER_STOPPED, why):
            lesson.happen(Happening.REFUSED, why)

    async def _keep_measuring(self) -> None:
        """New clock readings now and then, so that several launchers stay together."""
        while True:
            await anyio.sleep(MEASURE_S)
            if self.lesson.phase in (Phase.CONNECTING, *ENDED):
                continue
            try:
                await measure_clocks(self.lesson)
            except LauncherError:
                continue  # the link's own events say what is wrong with it

    async def _notice_sleep(self) -> None:
        """Clocks that went on while this one stood still are measured anew."""
        lesson, naps, again = self.lesson, 0, 0
        while lesson.wall.asleep_s is not never:
            await anyio.sleep(LOOK_S)
            lesson.notice_sleep()
            if naps < len(lesson.wall.naps):  # a heartbeat may still have to come that shows it
                naps, again = len(lesson.wall.naps), 3
            if again > 0:
                again -= 1
                with suppress(LauncherError):
                    await measure_clocks(lesson)

    async def _tell_when_still(self) -> None:
        """A launcher that does not acknowledge is still when its watchdog's time is over: whoever
        looks is told then, though nothing is heard."""
        lesson = self.lesson
        while True:
            changed, until_s = lesson.changed, lesson.still_from_s()
            with anyio.CancelScope(deadline=until_s) as patience:
                await changed.wait()
            if patience.cancelled_caught:
                lesson.touch()

    async def _stop_again(self, launcher: LauncherHandle) -> None:
        """Whenever it says that it is armed after it acknowledged a stop or a hold."""
        while True:
            await launcher.wait_until(lambda one: one.armed_unasked and one.linked)
            await stop_one(self.lesson, launcher, StopCategory.RUN_DOWN)
            if launcher.armed_unasked:
                await anyio.sleep(LOOK_AGAIN_S)

    async def _close(self) -> None:
        """Stop every launcher and write down how the lesson ended."""
        lesson = self.lesson
        await self._stop_all()
        if lesson.phase is not Phase.FINISHED:
            self._blame_launchers()
        if (until_s := lesson.still_from_s()) < math.inf:
            await anyio.sleep_until(until_s)
        for launcher in lesson.launchers:
            for ball in list(launcher.balls.values()):
                if ball.outcome is None:
                    launcher.settle(
                        ball.feed_id, Outcome.UNKNOWN, None, "the lesson was broken off"
                    )
        if lesson.state.ending is None:
            self._write_ending()
        lesson.ending = lesson.phase.value
        lesson.touch()

    def _blame_launchers(self) -> None:
        """A person may have ended the lesson; that a launcher never confirmed it nobody chose."""
        for launcher in self.lesson.launchers:
            name = launcher.name or _("the launcher")
            if not launcher.linked:
                why = _("the link to {launcher} is gone", launcher=name)
            elif not launcher.stopped:
                why = _("{launcher} did not confirm that it stopped", launcher=name)
            else:
                continue
            self.lesson.blame = self.lesson.blame or why

    async def _stop_all(self) -> None:
        with anyio.move_on_after(CLOSING_S):
            await each(self.lesson, _stop_quietly)

    def _write_ending(self) -> None:
        lesson = self.lesson
        on = lesson.state.exercise
        if on is not None:
            lesson.log(ExerciseEnded(exercise=on.exercise, how=HowEnded.EARLY))
        lesson.log(Ended(phase=lesson.phase, cause=lesson.cause))


async def _stop_quietly(launcher: LauncherHandle) -> None:
    try:
        await launcher.stop()
        await launcher.ask_outcomes()
    except LauncherError:
        return  # its watchdog stops it; the balls' outcomes stay open


def _leaves(group: BaseExceptionGroup[FeedscriptError]) -> list[FeedscriptError]:
    """The exceptions inside, however deep."""
    found: list[FeedscriptError] = []
    for each_one in group.exceptions:
        if isinstance(each_one, BaseExceptionGroup):
            found += _leaves(each_one)
        else:
            found.append(each_one)
    return found
