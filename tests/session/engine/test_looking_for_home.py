"""A stand-in whose head is led by stepping motors looks for its home; a lesson on it says so."""

from __future__ import annotations

import math

import msgspec
import pytest
from feedscript_simulator.homing import homes_of

from feedscript.launcher.profile.model import Profile
from feedscript.plan.model import Collect, ShowSpeed
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.phases import Phase
from tests.plan.small_plans import send
from tests.session import rehearsing
from tests.session.rehearsing import garage, lesson_plan, rehearse


def with_stepping_head() -> Profile:
    profile = garage()
    limits = msgspec.structs.replace(
        profile.limits, azimuth_gain_dps2=20.0, elevation_gain_dps2=16.0
    )
    return msgspec.structs.replace(profile, limits=limits)


def test_each_arming_ends_when_the_head_has_found_its_home(monkeypatch: pytest.MonkeyPatch) -> None:
    """Between the person's act and the first ball, and again after collecting; nobody is asked to
    act while it looks."""
    profile = with_stepping_head()
    monkeypatch.setattr(rehearsing, "GARAGE", profile)
    read: list[tuple[str, str]] = []

    async def screen(engine: Engine) -> None:
        async for view in engine.views():
            now = (str(view.launchers[0].state_words), str(view.waits_for))
            if not read or now != read[-1]:
                read.append(now)

    plan = lesson_plan(
        ShowSpeed(feed=0, line=1), send(0, 4.0), Collect(break_s=5.0, line=3), send(0, 20.0)
    )
    run = rehearse(plan, screen)
    assert run.ending.phase is Phase.FINISHED
    assert len(run.left()) == 3
    longest_s = max(home.longest_ms() for home in homes_of(profile) if home is not None) / 1000
    looks = [at for at, (words, _) in enumerate(read) if words == "looks for its home"]
    assert len(looks) == 2
    for at in looks:
        assert read[at][1].startswith("Hands off: the head looks for its home, ")
        assert f" {math.ceil(longest_s)} s at most" in read[at][1]
        assert read[at - 1][0] == "waits to be armed"


def test_servos_are_armed_at_once() -> None:
    read: set[str] = set()

    async def screen(engine: Engine) -> None:
        async for view in engine.views():
            read.add(str(view.launchers[0].state_words))

    run = rehearse(lesson_plan(ShowSpeed(feed=0, line=1), send(0, 4.0)), screen)
    assert run.ending.phase is Phase.FINISHED
    assert "waits to be armed" in read
    assert "looks for its home" not in read
