"""``feedscript run`` on a foreign device until its lesson is over: the command itself, its checker,
its journal's file; what is put in are the port, the clock that jumps, and a coach.

A run that trouble or a dead line ends is taken up again by ``--resume``, as the command says; the
device lives on between. Its own record says what became of every ball.
"""

from __future__ import annotations

import json
import operator
import re
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import anyio
import anyio.to_thread
import msgspec
import pytest
from click.testing import CliRunner
from feedscript_drivers.mapped import driver
from feedscript_drivers.mapped.description.read import read_mapping
from feedscript_drivers.mapped.guarantees import lost
from feedscript_simulator.mapped_devices import Gone

from feedscript.cli import verbs
from feedscript.cli.on_court import run as run_command
from feedscript.host.reading import Read
from feedscript.journal.store import open_journal
from feedscript.launcher.setting import Setting
from feedscript.plan.model import Plan
from feedscript.session.engine.engine import Engine
from feedscript.shipped import shipped_folder
from feedscript.terminal import run as terminal_run
from tests.drivers.mapped.devices import FOREIGN
from tests.drivers.mapped.foreign_sessions import Faults, ForeignStream, TruthfulCoach, as_written
from tests.drivers.mapped.mapped_sessions import as_meant
from tests.drivers.mapped.mappings import FILES
from tests.virtual_time import in_virtual_time

PROGRAM = """feedscript 1
title "Three kinds of ball, invented"
court { surface hard }
balls { stage yellow  load 40 }
launcher { profile "device.toml"  stands 1 m behind centre mark }
feed drive { land 2 m inside baseline, on centre line  speed 76 km/h  spin top 668 rpm }
feed wide { land 2 m inside baseline, 1.5 m to ad of centre line  speed 69 km/h  spin top 334 rpm }
feed lob { land 3 m inside baseline, 1 m to deuce of centre line  speed 62 km/h  spin top 0 rpm }
lesson {
  show speed of drive
  send drive after 5 s
  repeat 2 { send wide after 5 s  send lob after 5 s }
  send drive after 5 s
}
"""
BALLS = 7
#: What its steps of 7 km/h, 334 rpm and whole degrees stray from what was meant, as the profile of
#: the device that takes steps only must say it.
OF_STEPS = {"speed_share": 0.06, "spin_rpm": 170.0, "elevation_deg": 0.5, "azimuth_deg": 0.5}
MOST_RUNS = 60
#: So long somebody needs until the command is typed again; the device goes on meanwhile.
TYPES_S = 3.0


class Run(msgspec.Struct, frozen=True):
    """What came of a lesson: the commands' exits, what is written down, what the device
    knows."""

    codes: tuple[int, ...]
    said: str
    balls: tuple[dict[str, Any], ...]
    plan: Plan
    gone: tuple[Gone, ...]

    def wrongs(self, is_meant: Callable[[Gone, Setting], bool] = as_meant) -> list[str]:
        settings = [feed.setting for feed in self.plan.feeds]
        return as_written(self.balls, settings, self.gone, is_meant)


def on_its_grid(drives_rpm: float, aim_deg: float) -> Callable[[Gone, Setting], bool]:
    """Whether a ball left as near to its setting as the device's numbers get."""

    def is_meant(truth: Gone, meant: Setting) -> bool:
        if truth.aim_deg != pytest.approx((meant.pan_deg, meant.tilt_deg), abs=aim_deg):
            return False
        if truth.stopped:
            most = (drive + drives_rpm for drive in meant.drives)
            return all(map(operator.le, truth.drives, most))
        return truth.drives == pytest.approx(meant.drives, abs=drives_rpm)

    return is_meant


class Bench:
    """The device, the files beside it, and the clock that goes on from one command to the next."""

    def __init__(self, name: str, folder: Path, faults: Faults, seed: int) -> None:
        self.name = name
        self.faults = faults
        self.seed = seed
        self.device = FOREIGN[name]()
        self.now_s = 0.0
        self.opened = 0
        self.cut = False
        self.journal = folder / "journal.sqlite"
        self.program = folder / "three.feed"
        self.program.write_text(PROGRAM, "utf-8")
        (folder / "device.toml").write_text(profile_of(name), "utf-8")
        way = "ble" if name == "by-radio" else "serial"
        self.address = f"mapped:{FILES[name]}@{way}:bench"

    @asynccontextmanager
    async def port(self, *_: object) -> AsyncIterator[ForeignStream]:
        """Opened anew by each command."""
        self.opened += 1
        seed = 1000 * self.seed + self.opened
        stream = ForeignStream(self.device, self.faults, seed, packets=self.name == "by-radio")
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(stream.keep_time)
            tasks.start_soon(self.may_cut, stream)
            yield stream
            tasks.cancel_scope.cancel()

    async def may_cut(self, stream: ForeignStream) -> None:
        """Once in the lesson the line is dead from one moment on."""
        most = self.faults.cut_after
        if most is None or self.cut:
            return
        while len(self.device.hardware.left) < most:
            await anyio.sleep(0.01)
        self.cut = stream.dead = True

    @asynccontextmanager
    async def coach(self, engine: Engine) -> AsyncIterator[None]:
        """At another screen of the lesson."""
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(TruthfulCoach(engine, self.device).conduct)
            yield
            tasks.cancel_scope.cancel()

    def timed(self, program: Callable[..., Any], *arguments: object) -> Any:
        """Instead of ``anyio.run``."""

        async def until_it_ends() -> Any:
            try:
                return await program(*arguments)
            finally:
                self.now_s = anyio.current_time()

        return in_virtual_time(until_it_ends, seed=self.seed, from_s=self.now_s)

    def alone(self) -> None:
        """Nobody listens to the device."""
        until_s = self.now_s + TYPES_S
        while self.now_s < until_s:
            self.now_s += 0.01
            self.device.tick(self.now_s)

    def type(self, *words: str) -> tuple[int, str]:
        """One command; its exit code and what it wrote."""
        line = [*words, "--on", self.address, "--journal", str(self.journal), "--format", "json"]
        runner = CliRunner()
        with pytest.MonkeyPatch.context() as patch, runner.isolation() as (out, error, _):
            patch.setattr("sys.stdin.isatty", lambda: True, raising=False)
            patch.setattr(terminal_run, "keys", nobody_types)
            patch.setattr(run_command, "club_link", lambda: self.coach)
            patch.setattr(anyio, "run", self.timed)
            patch.setattr(anyio.to_thread, "run_sync", at_once)
            patch.setattr(driver, "_stream", self.port)
            code = 0
            try:
                verbs.main(args=line, prog_name="feedscript", standalone_mode=False)
            except SystemExit as end:
                code = int(end.code or 0)
            return code, out.getvalue().decode() + (error.getvalue().decode() if error else "")


@asynccontextmanager
async def nobody_types() -> AsyncIterator[Read]:
    async def read() -> bytes:
        await anyio.sleep_forever()
        raise AssertionError

    yield read


async def at_once(work: Callable[..., Any], *arguments: Any, **_: Any) -> Any:
    """On the clock that jumps nothing waits for a thread."""
    await anyio.lowlevel.checkpoint()
    return work(*arguments)


def profile_of(name: str) -> str:
    """The shipped profile, as it must be for this device."""
    text = (shipped_folder() / "launchers" / "garage.toml").read_text("utf-8")
    lacks = json.dumps(lost(read_mapping(FILES[name])))
    text = text.replace("[guard]", f"[guard]\nlacks = {lacks}")
    if name != "steps-only":
        return text
    before, section, after = text.partition("[dispersion]")
    for key, value in OF_STEPS.items():
        after = re.sub(rf"^{key} = \S+", f"{key} = {value}", after, count=1, flags=re.M)
    return before + section + after


def run_to_the_end(name: str, folder: Path, faults: Faults = Faults(), seed: int = 0) -> Run:  # noqa: B008 - frozen
    """One lesson by the command line, taken up again as often as needed."""
    bench = Bench(name, folder, faults, seed)
    codes: list[int] = []
    said = ""
    words = ["run", str(bench.program)]
    while not codes or (codes[-1] == 3 and len(codes) < MOST_RUNS):
        code, told = bench.type(*words)
        codes.append(code)
        said += told
        bench.alone()
        if '"lesson":' in told:
            words = ["run", "--resume"]
    journal = open_journal(bench.journal)
    (session,) = journal.rows("SELECT plan FROM session")
    balls = tuple(dict(row) for row in journal.rows("SELECT * FROM ball ORDER BY feed_id"))
    journal.close()
    plan = msgspec.json.decode(session["plan"], type=Plan)
    return Run(tuple(codes), said, balls, plan, tuple(bench.device.hardware.left))
