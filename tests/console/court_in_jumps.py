"""A lesson on the stand-in, in a thread of its own, whose time stands still until it is let go on.

The engine, its drivers and the stand-in are the real ones, on a clock that jumps to whatever is due
next. The page that they serve lives by the browser's own time, as always: so a whole hour is
played by real taps in the time that the taps take, and the same way each time.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import anyio
import trio
import trio.testing
from trio._core import _thread_cache

from feedscript.check.check_program import Verdict
from feedscript.console.review_page import review_page
from feedscript.console.serve import Served, serve
from feedscript.journal.store import open_journal
from feedscript.session.engine.connect import Links, connect_lesson
from feedscript.session.engine.engine import LATE_TAPS_S, Engine
from feedscript.session.engine.start import Setting
from feedscript.session.operator.view import LessonView
from feedscript.tongues.tongue import Tongue

#: The longest that a lesson is let go on for one thing to come about, by its own clock.
PATIENCE_S = 900.0


class JumpingCourt:
    """A running lesson with its page, for the thread of a test."""

    def __init__(
        self, verdict: Verdict, source: str, journal_path: Path, *, measures: bool = False
    ) -> None:
        assert verdict.plan is not None, verdict.diagnostics
        self.plan = verdict.plan
        self.profiles = verdict.profiles
        self._source = source
        self._measures = measures
        self._journal_path = journal_path
        self._clock = trio.testing.MockClock(rate=0.0, autojump_threshold=0)
        self._ready = threading.Event()
        self._engine: Engine | None = None
        self._fault: BaseException | None = None
        self.served: Served | None = None
        self._thread = threading.Thread(target=self._run, name="lesson")

    def __enter__(self) -> JumpingCourt:
        self._thread.start()
        self._ready.wait(60)
        if self._fault is not None:
            raise self._fault
        return self

    def __exit__(self, *_: object) -> None:
        trio.from_thread.run_sync(self._close, trio_token=self._token)
        self._thread.join(60)
        if self._fault is not None:
            raise self._fault

    def _run(self) -> None:
        # Threads that trio keeps for the next who needs one would outlive a test.
        _thread_cache.IDLE_TIMEOUT = 0.2
        try:
            trio.run(self._conduct, clock=self._clock)
        except BaseException as fault:  # noqa: BLE001 - handed to the test, which raises it
            self._fault = fault
        self._ready.set()

    async def _conduct(self) -> None:
        journal = open_journal(self._journal_path)
        links = Links(urls=("sim:",) * len(self.plan.launchers))
        setting = Setting(
            source=self._source, rehearsal=True, wall_utc_s=time.time(), measures=self._measures
        )
        self._token = trio.lowlevel.current_trio_token()
        self._over = trio.Event()
        try:
            async with connect_lesson(self.plan, self.profiles, links, journal, setting) as engine:
                self._stand_still()
                await self._serve(engine)
        finally:
            journal.close()

    async def _serve(self, engine: Engine) -> None:
        async with (
            serve(engine, review=self._review_of(engine)) as self.served,
            anyio.create_task_group() as group,
        ):
            group.start_soon(engine.run, LATE_TAPS_S)
            self._engine = engine
            self._ready.set()
            await self._over.wait()
            group.cancel_scope.cancel()

    def _review_of(self, engine: Engine) -> Callable[[Tongue], str]:
        return partial(review_page, str(self._journal_path), engine.lesson.session_id)

    def _close(self) -> None:
        self._clock.autojump_threshold = 0
        self._over.set()

    def _stand_still(self) -> None:
        self._clock.autojump_threshold = math.inf

    # --- what a test says

    @property
    def view(self) -> LessonView:
        """The lesson as it stands."""
        return self._ask(lambda engine: engine.view)

    def until(self, holds: Callable[[LessonView], bool]) -> LessonView:
        """Let the lesson go on until it looks so, and stand still there."""
        return trio.from_thread.run(self._until, holds, trio_token=self._token)

    def let_pass(self, seconds: float) -> None:
        """Let the lesson go on for so long."""
        trio.from_thread.run(self._let_pass, seconds, trio_token=self._token)

    def _ask(self, about: Callable[[Engine], Any]) -> Any:
        assert self._engine is not None
        return trio.from_thread.run_sync(about, self._engine, trio_token=self._token)

    async def _until(self, holds: Callable[[LessonView], bool]) -> LessonView:
        assert self._engine is not None
        self._clock.autojump_threshold = 0
        try:
            with anyio.move_on_after(PATIENCE_S):
                async for view in self._engine.views():
                    if holds(view):
                        return view
        finally:
            self._stand_still()
        raise AssertionError(f"this never came about; the lesson is at {self._engine.view}")

    async def _let_pass(self, seconds: float) -> None:
        self._clock.autojump_threshold = 0
        try:
            await anyio.sleep(seconds)
        finally:
            self._stand_still()
