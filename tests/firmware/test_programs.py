"""Whole programs on the compiled firmware: text, check, plan, engine, driver, wire, AVR, balls."""

from __future__ import annotations

import statistics
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import anyio
import pytest
from feedscript_drivers.wire.trust import Trust

from feedscript.check.check_program import check_program
from feedscript.journal.store import open_journal
from feedscript.launcher.profile.model import Profile
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.guards import CertifiedFences
from feedscript.session.engine.start import Setting, begin_lesson
from feedscript.session.operator.auto_operator import AutoOperator
from feedscript.session.operator.phases import Phase
from feedscript.shipped import shipped_folder
from tests.firmware.far_end import IMAGES, FarEnd
from tests.firmware.virtual_link import Person, garage, in_virtual_time, stepped_launcher

PROFILE = garage()
SESSION = 7

#: Thirty balls and the one that is watched first; an invented lesson for one improver.
THIRTY = """
feedscript 1
title "Thirty balls, side to side"

court { surface hard }
balls { type 2  load 60 }
launcher { profile "launchers/garage.toml"  stands 1 m behind centre mark }
group { 1 player  level club  receiver 1 m behind baseline, on centre line }

feed wide { land 3 m inside baseline, 1.5 m inside ad sideline  speed 72 km/h  spin top 300 rpm }
feed back = wide with { land 3 m inside baseline, 1.5 m inside deuce sideline }

lesson {
    show speed of wide
    repeat 15 { send wide after 2.4 s  send back after 2.4 s }
}
"""


async def conduct(
    text: str,
    far: FarEnd,
    profile: Profile = PROFILE,
    trust: Trust = Trust.PLAIN,
    link: int = 0,
    beside: Callable[[Engine], Awaitable[None]] | None = None,
) -> tuple[Any, list[dict[str, Any]]]:
    """Run a program through engine and driver on a stepped image; the ending and its balls."""
    verdict = check_program(shipped_folder() / "thirty.feed", text=text)
    assert verdict.plan is not None, verdict.diagnostics
    journal = open_journal(None)
    setting = Setting(source="thirty.feed", rehearsal=True, wall_utc_s=1e9)
    async with stepped_launcher(far, profile, SESSION, trust=trust, link=link) as (launcher, _):
        lesson = begin_lesson(
            verdict.plan, verdict.profiles, journal, CertifiedFences(), setting, SESSION
        )
        engine = Engine(lesson, [launcher], verdict.profiles)
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(AutoOperator(engine).operate)
            if beside is not None:
                tasks.start_soon(beside, engine)
            with anyio.fail_after(1200):
                ending = await engine.run()
            tasks.cancel_scope.cancel()
    balls = [dict(row) for row in journal.rows("SELECT * FROM ball ORDER BY feed_id")]
    journal.close()
    return ending, balls


@pytest.mark.timeout(900)  # the emulated chip needs minutes on a busy machine
@pytest.mark.parametrize("image", IMAGES)
def test_thirty_feeds_on_the_firmware(image: str, garage_memory: dict[str, Path]) -> None:
    with FarEnd(image, memory=garage_memory[image]) as far:
        ending, balls = in_virtual_time(conduct, THIRTY, far)
        leaves = far.leaves()
        pins = far.run(1000)
    assert ending.phase is Phase.FINISHED
    assert [(ball["ball_no"], ball["outcome"]) for ball in balls] == [
        (number, "left") for number in range(1, 32)
    ]
    assert len(leaves) == 31
    ahead_s = [
        leave["at_s"] - ball["left_device_s"] for leave, ball in zip(leaves, balls, strict=True)
    ]
    began_s = statistics.median(ahead_s)  # the launcher's clock begins when it has started
    assert abs(began_s) <= 0.02
    late_ms = [abs(each - began_s) * 1000 for each in ahead_s]
    planned_ms = [abs(ball["left_device_s"] - ball["leave_at_device_s"]) * 1000 for ball in balls]
    assert max(late_ms) <= 2.0, "what the launcher says is what happened"
    assert max(planned_ms) <= 2.0, "and it happened when it was planned"
    assert not pins["power"], "the host has left: nothing is powered"


@pytest.mark.parametrize("cut", range(1, 24))
def test_whoever_stands_at_the_launcher_reads_lines_cut_anywhere(cut: int) -> None:
    """Where a line is cut depends on the number it carries: once in a while nobody armed."""

    class Switch:
        turned = 0

        def set(self, name: str, value: int) -> None:
            self.turned += value if name == "arm_switch" else 0

    switch, line = Switch(), b"! 2 735 STATE 1 1*6DCD\n"

    async def watch() -> None:
        person = Person(switch)
        async with anyio.create_task_group() as tasks:
            for piece in (line[:cut], line[cut:], b"", b"OK\n"):
                await person.watch(piece, tasks)

    in_virtual_time(watch)
    assert switch.turned == 1
