"""A battery that runs down: the launcher stops before its controller's supply gives way.

Text, check, plan, engine, driver, wire, compiled image; the battery and the brown-out are the
mechanics' own. The same lesson without a least voltage shows what the protection is for.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import anyio
import pytest

from feedscript.check.check_program import check_program
from feedscript.journal.store import open_journal
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.guards import CertifiedFences
from feedscript.session.engine.start import Setting, begin_lesson
from feedscript.session.operator.auto_operator import AutoOperator
from feedscript.session.operator.phases import Phase
from feedscript.session.operator.view import LessonView
from feedscript.shipped import shipped_folder
from tests.firmware.far_end import IMAGES, FarEnd
from tests.firmware.plain_host import PlainHost
from tests.firmware.test_programs import PROFILE, SESSION, THIRTY
from tests.firmware.virtual_link import in_virtual_time, stepped_launcher

LEAST_MV = 11_000
BROWN_OUT_MV = 10_500
LEAST_VOLTAGE = 18
SIXTY = THIRTY.replace("repeat 15", "repeat 29")


def memory_with(memory: Path, image: str, path: Path, least_mv: int | None) -> Path:
    """The image's memory, set up with the shipped profile, with or without a least voltage."""
    with FarEnd(image, memory=memory) as far, PlainHost(far) as host:
        host.open()
        profile_hash = host.must("HASH")[0]
        if least_mv is not None:
            host.must(f"SET {LEAST_VOLTAGE} {least_mv}", wait=600)
            host.must(f"HASH {profile_hash}", wait=600)
        far.save(path)
    return path


def battery(far: FarEnd, mv: int, per_ball: int) -> None:
    for name, value in {
        "battery_mv": mv,
        "battery_mv_per_ball": per_ball,
        "battery_sag_mv": 900,
        "brown_out_mv": BROWN_OUT_MV,
    }.items():
        far.set(name, value)


async def conduct(far: FarEnd) -> tuple[Any, list[LessonView]]:
    """Run the lesson through engine and driver; where there is trouble, it is quit. Every view."""
    verdict = check_program(shipped_folder() / "sixty.feed", text=SIXTY)
    assert verdict.plan is not None, verdict.diagnostics
    journal = open_journal(None)
    setting = Setting(source="sixty.feed", rehearsal=True, wall_utc_s=1e9)
    views: list[LessonView] = []
    async with stepped_launcher(far, PROFILE, SESSION) as (launcher, _):
        lesson = begin_lesson(
            verdict.plan, verdict.profiles, journal, CertifiedFences(), setting, SESSION
        )
        engine = Engine(lesson, [launcher], verdict.profiles)
        async with anyio.create_task_group() as tasks:
            tasks.start_soon(AutoOperator(engine, watch=views.append, fixes=0).operate)
            with anyio.fail_after(1200):
                ending = await engine.run()
            tasks.cancel_scope.cancel()
    journal.close()
    return ending, views


def run_down(image: str, memory: Path, mv: int, per_ball: int) -> Any:
    with FarEnd(image, memory=memory) as far:
        battery(far, mv, per_ball)
        ending, views = in_virtual_time(conduct, far)
        return ending, views, far.run(1000)


@pytest.mark.timeout(900)  # the emulated chip needs minutes on a busy machine
@pytest.mark.parametrize("image", IMAGES)
def test_a_lesson_stops_before_the_controller_s_supply_gives_way(
    image: str, garage_memory: dict[str, Path], tmp_path: Path
) -> None:
    memory = memory_with(garage_memory[image], image, tmp_path / "memory", LEAST_MV)
    ending, views, pins = run_down(image, memory, 11_500, 60)
    told = [trouble for view in views for trouble in view.troubles]
    assert any("low-voltage (the supply fell to 1" in one.message for one in told), told
    assert any("charge the battery" in one.help for one in told)
    assert ending.phase is Phase.BROKEN_OFF
    assert 2 < pins["balls"] < 15
    assert pins["resets"] == 0, "the controller never browned out"
    assert not pins["power"]


@pytest.mark.timeout(900)
@pytest.mark.parametrize("image", [pytest.param("avr", marks=pytest.mark.long), *IMAGES[1:]])
def test_without_a_least_voltage_the_same_lesson_ends_in_a_brown_out(
    image: str, garage_memory: dict[str, Path], tmp_path: Path
) -> None:
    """The protection switched off: what it protects from does come."""
    memory = memory_with(garage_memory[image], image, tmp_path / "memory", None)
    _, views, pins = run_down(image, memory, 11_500, 60)
    assert pins["resets"] >= 1
    assert not pins["power"], "every start is without power"
    told = [trouble.message for view in views for trouble in view.troubles]
    assert any("the launcher restarted" in one for one in told), told


@pytest.mark.long
def test_the_balls_left_in_the_battery_are_told_from_the_lesson_s_own_draw(
    garage_memory: dict[str, Path], tmp_path: Path
) -> None:
    """Held against the ball at which the launcher then really stops."""
    memory = memory_with(garage_memory["posix"], "posix", tmp_path / "memory", LEAST_MV)
    _, views, pins = run_down("posix", memory, 12_200, 24)
    said = [
        (view.launchers[0].battery_balls, pins["balls"] - view.balls_left)
        for view in views
        if view.launchers and view.launchers[0].battery_balls is not None
    ]
    assert max(came for _, came in said) >= 25, "it is told well before the end"
    for told, came in said:
        assert told <= came + 1, "no promise of balls that did not come"
        assert told >= came / 2 - 3, "and not so careful that it says nothing"
