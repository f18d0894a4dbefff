"""A whole lesson over bad lines: engine, driver, wire and journal file, as on court.

One host after another conducts the same lesson: each dies or ends, and the next takes it up from
the journal, as ``run --resume`` does. The launchers live on.
"""

from __future__ import annotations

import contextlib
import random
import shutil
import sqlite3
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import anyio
import msgspec
from anyio.abc import TaskGroup
from feedscript_drivers.wire.wire_launcher import WireLauncher, open_launcher
from feedscript_simulator.faults import Faults, LineFaults

from feedscript.check.check_program import check_program
from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.journal.store import Journal, open_journal
from feedscript.launcher.port import ConnectOptions, LauncherState, StopCategory
from feedscript.launcher.profile.model import Profile
from feedscript.plan.canonical import canonical_bytes
from feedscript.plan.model import Plan
from feedscript.session.engine.engine import Ending, Engine
from feedscript.session.engine.guards import CertifiedFences
from feedscript.session.engine.resume import Broken, find_broken, resume_lesson
from feedscript.session.engine.start import Setting, begin_lesson
from feedscript.session.operator.phases import Phase
from tests.drivers.faults.witness import Overheard, StallingLine, Witness
from tests.session.court_people import Coach

LESSONS = Path(__file__).parent / "lessons"
_UTC_S = 1e9  # of the virtual clock's zero


@cache
def certified(name: str) -> tuple[Plan, tuple[Profile, ...]]:
    """A program of these tests through the front door: its certified plan and the profiles."""
    verdict = check_program(LESSONS / name)
    assert verdict.ok, verdict.diagnostics
    assert verdict.plan is not None
    return verdict.plan, verdict.profiles


class RememberingFences(CertifiedFences):
    """Asks the rules once for each plan: they are pure, and hundreds of hosts ask the same."""

    def refusals(self, plan: Plan, profiles: list[Profile]) -> tuple[Diagnostic, ...]:
        key = (CertifiedFences.refusals, canonical_bytes(plan), tuple(profiles))
        if key not in _REMEMBERED:
            _REMEMBERED[key] = super().refusals(plan, profiles)
        return _REMEMBERED[key]


_REMEMBERED: dict[tuple[object, ...], tuple[Diagnostic, ...]] = {}


def promising(witness: Witness) -> type[WireLauncher]:
    """The driver's launcher, that lets the witness note what it acknowledged."""

    class Promising(WireLauncher):
        async def hold(self) -> None:
            await super().hold()
            witness.promised(held=True)

        async def go_on(self) -> None:
            witness.goes_on()
            await super().go_on()

        async def stop(self, category: StopCategory) -> None:
            await super().stop(category)
            witness.promised()

        async def disarm(self) -> None:
            await super().disarm()
            witness.promised()

    return Promising


@dataclass(eq=False)
class Host:
    """One life of a host: it opens the launchers, conducts the lesson, and ends or is killed."""

    world: LessonWorld
    journal: Path
    lines: list[StallingLine] = field(default_factory=list)
    phases: list[tuple[float, Phase]] = field(default_factory=list)
    broken: Broken | None = None
    engine: Engine | None = None
    ending: Ending | None = None
    failed: FeedscriptError | None = None
    gone: anyio.Event = field(default_factory=anyio.Event)  # ended or killed
    scope: anyio.CancelScope = field(default_factory=anyio.CancelScope)

    async def live(self, journal: Journal) -> None:
        try:
            with self.scope:
                if self.world.session_id is not None:
                    self.broken = find_broken(journal, self.world.session_id)
                async with contextlib.AsyncExitStack() as stack:
                    await self._conduct(await self._open(stack), journal)
        except FeedscriptError as failed:
            self.failed = failed
        finally:
            journal.close()
            self.phases.append((anyio.current_time(), Phase.BROKEN_OFF))
            self.gone.set()

    async def _open(self, stack: contextlib.AsyncExitStack) -> list[WireLauncher]:
        w = self.world
        ports = []
        for number, (far, profile) in enumerate(zip(w.far, w.profiles, strict=True)):
            line = far.lay_line(w.chance.randrange(2**32))
            self.lines.append(line)
            stream = Overheard(line, far) if w.keyed else line
            options = ConnectOptions(
                profile=profile,
                session=w.token,
                key=far.key,
                left_before=0 if self.broken is None else self.broken.left_before[number],
            )
            nonce = far.draw_nonce(w.chance)
            opening = open_launcher(
                stream, options, "line", nonce, kind=promising(far), trust=far.trust
            )
            ports.append(await stack.enter_async_context(opening))
        return ports

    async def _conduct(self, ports: list[WireLauncher], journal: Journal) -> None:
        w, fences = self.world, RememberingFences()
        setting = Setting("invented.feed", rehearsal=True, wall_utc_s=_UTC_S + anyio.current_time())
        if self.broken is None:
            lesson = begin_lesson(w.plan, w.profiles, journal, fences, setting, w.token)
            w.session_id = lesson.session_id
        else:
            lesson = resume_lesson(self.broken, journal, fences, setting)
        self.engine = Engine(lesson, ports, w.profiles)
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(self._note_phases)
            coach = Coach(self.engine, w.really_left, w.chance, sure=w.calm, quick=w.quick)
            w.quick = False
            tasks.start_soon(coach.operate)
            tasks.start_soon(coach.tap)
            self.ending = await self.engine.run()
            tasks.cancel_scope.cancel()

    async def _note_phases(self) -> None:
        assert self.engine is not None
        lesson = self.engine.lesson
        while True:
            changed = lesson.changed
            if not self.phases or self.phases[-1][1] is not lesson.phase:
                self.phases.append((anyio.current_time(), lesson.phase))
            await changed.wait()


@dataclass
class LessonWorld:
    """Launchers and people that stay, hosts that come and go; times are the host's clock."""

    name: str
    folder: Path
    seed: int
    tasks: TaskGroup
    faults: LineFaults
    keyed: bool = False
    jams_at: frozenset[int] = frozenset()
    clock_ppm: float = 0.0
    token: int = 1
    session_id: int | None = None
    lives: int = 0
    calm: bool = False  # the coach goes and looks before answering, and never quits
    quick: bool = False  # the next host's coach does everything at once
    host: Host | None = None
    hosts: list[Host] = field(default_factory=list)
    trouble: list[str] = field(default_factory=list)
    finished: int = 0

    def __post_init__(self) -> None:
        self.chance = random.Random(f"lesson {self.seed}")
        self.plan, self.profiles = certified(self.name)
        self.far = [
            Witness(
                profile,
                self.seed + number,
                self.tasks,
                keyed=self.keyed,
                faults=Faults(self.faults, self.jams_at, self.clock_ppm * (1 - number)),
            )
            for number, profile in enumerate(self.profiles)
        ]
        for far in self.far:
            self.tasks.start_soon(self._unlatch, far)
        self.journal = self.folder / "journal-0.sqlite"

    async def _unlatch(self, far: Witness) -> None:
        """Somebody resets a launcher that was stopped in an emergency, at the launcher."""
        while True:
            await anyio.sleep(self.chance.uniform(0.5, 2.0))
            if far.end.machine.state is LauncherState.STOPPED:
                far.reset_emergency()

    def balls(self) -> int:
        return sum(len(far.truth) for far in self.far)

    def really_left(self, launcher: int, feed_id: int) -> bool:
        """What somebody finds who goes and looks."""
        return any(
            (gone.session, gone.ball.feed_id) == (self.token, feed_id)
            for gone in self.far[launcher].truth
        )

    # Hosts

    @property
    def alive(self) -> bool:
        return self.host is not None and not self.host.gone.is_set()

    async def begin_life(self) -> None:
        """The next host: of the lesson that was broken off, or of a new one."""
        if self.host is not None and self.host.ending is not None and self.host.ending.finished:
            self.finished += 1
            self.token, self.session_id = self.token + 1, None
        self.lives += 1
        self.host = Host(self, self.journal)
        self.hosts.append(self.host)
        self.tasks.start_soon(self.host.live, open_journal(self.journal))
        await anyio.sleep(0)

    async def pass_time(self, seconds: float) -> None:
        """Let time pass, unless the host is gone before."""
        assert self.host is not None
        with anyio.move_on_after(seconds):
            await self.host.gone.wait()

    def kill(self) -> None:
        """kill -9: not a byte more is sent or written; what is on its way still arrives."""
        host = self.host
        assert host is not None
        for far in self.far:
            far.line_dies()
        for line in host.lines:
            line.host_dead = line.deaf_back = True
        self._keep_what_is_on_the_disk(host.journal)
        host.phases.append((anyio.current_time(), Phase.BROKEN_OFF))
        host.gone.set()
        host.scope.cancel()

    def _keep_what_is_on_the_disk(self, journal: Path) -> None:
        self.journal = self.folder / f"journal-{self.lives}.sqlite"
        for suffix in ("", "-wal"):
            if Path(f"{journal}{suffix}").exists():
                shutil.copyfile(f"{journal}{suffix}", f"{self.journal}{suffix}")
        known = {(row["token"], row["feed_id"]) for row in self.rows()}
        for far in self.far:
            for gone in far.truth:
                if (gone.session, gone.ball.feed_id) not in known:
                    self.trouble.append(
                        f"4: ball {gone.ball.feed_id} left and is not in the killed host's journal"
                    )
        if self.session_id is not None and not self._sessions(self.session_id):
            self.session_id = None  # killed before it had written down that there is a lesson

    def _sessions(self, session_id: int) -> bool:
        return bool(self._read("SELECT id FROM session WHERE id = ?", (session_id,)))

    # The journal

    def rows(self) -> list[sqlite3.Row]:
        """Every ball of every lesson in the journal as it lies on the disk."""
        return self._read(
            "SELECT s.token, s.ending, b.* FROM ball b JOIN session s ON s.id = b.session_id"
        )

    def judged_wrong(self, session_id: int, until_utc_s: float) -> list[sqlite3.Row]:
        """Each time until then that the coach said of a watched ball that it was not as stated."""
        return self._read(
            "SELECT id FROM entry WHERE session_id = ? AND utc_s <= ? AND kind = 'act'"
            " AND data ->> 'act' = 'wrong' AND data ->> 'phase' = 'stopped'",
            (session_id, until_utc_s),
        )

    def _read(self, query: str, values: tuple[object, ...] = ()) -> list[sqlite3.Row]:
        with contextlib.closing(sqlite3.connect(self.journal)) as connection:
            connection.row_factory = sqlite3.Row
            return connection.execute(query, values).fetchall()

    def write_plan(self, plan: Plan) -> None:
        """Put another plan into the journal's place for this lesson's."""
        with contextlib.closing(sqlite3.connect(self.journal)) as connection, connection:
            connection.execute(
                "UPDATE session SET plan = ? WHERE id = ?",
                (canonical_bytes(plan), self.session_id),
            )


def faster(plan: Plan, share: float) -> Plan:
    """The plan with every drive turned up: what a spoilt or forged journal might hold."""
    replace = msgspec.structs.replace
    feeds = tuple(
        replace(
            feed,
            setting=replace(
                feed.setting, drives=tuple(drive * share for drive in feed.setting.drives)
            ),
        )
        for feed in plan.feeds
    )
    return replace(plan, feeds=feeds)


@contextlib.asynccontextmanager
async def lesson_world(
    name: str, folder: Path, seed: int, faults: LineFaults, **options
) -> AsyncIterator[LessonWorld]:
    async with anyio.create_task_group() as tasks:
        w = LessonWorld(name, folder, seed, tasks, faults, **options)
        try:
            yield w
        finally:
            tasks.cancel_scope.cancel()
