"""A laptop that sleeps in the middle of a lesson: the journal's times stay true, and it says so.

Held against the launcher's clock, which goes on while the host's stands still.
"""

from __future__ import annotations

import json
import time
from itertools import pairwise

import anyio
import pytest

from feedscript.console.access import CODE_LIFE_S, Access, Role
from feedscript.diagnostics import Diagnostic
from feedscript.plan.model import Repeat, ShowSpeed
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.wall_clock import WallClock, elapsed_s, suspended_s
from feedscript.session.operator.commands import PlayedTone
from feedscript.session.operator.phases import Act, Phase
from tests.plan.small_plans import send
from tests.session.coach import say, see, see_balls, see_phase
from tests.session.rehearsing import Rig, lesson_plan, rehearse

PLAN = lesson_plan(ShowSpeed(feed=0, line=1), Repeat(times=8, body=(send(0, 4.0),), line=2))
NAPS_S = (95.0, 1800.0)


def test_times_in_the_journal_count_what_the_computer_slept() -> None:
    slept = [0.0]
    rig = Rig(asleep_s=lambda: slept[0])
    tones: list[float] = []

    def sleep(seconds: float) -> None:
        """Everything but the host's clock goes on."""
        slept[0] += seconds
        rig.stand_ins[0].end.powered_s -= seconds
        rig.stand_ins[0].changed()

    async def coach(engine: Engine) -> None:
        for balls, nap_s in zip((3, 6), NAPS_S, strict=True):
            await see_balls(engine, balls)
            state = await see(engine, lambda s: bool(s.coming))
            # The lid is closed just before a ball leaves, or in the middle of a pause.
            early_s = 0.3 if balls == 3 else 2.5
            await anyio.sleep(state.coming[0].leaves_utc_s - state.utc_s - early_s)
            sleep(nap_s)
            await see_phase(engine, Phase.STOPPED)  # the launcher heard nothing for so long
            assert any(t.slug == "suspended" for t in engine.view.troubles)
            await engine.command(PlayedTone())
            tones.append(rig.stand_ins[0].end.device_ms(anyio.current_time()) / 1000)
            await say(engine, Act.SET_UP_AGAIN)

    run = rehearse(PLAN, coach, rig=rig)
    assert run.ending.phase is Phase.FINISHED, run.ending.diagnostics
    told = [float(str(ball["left_utc_s"])) for ball in run.left()]
    really = rig.thrown_s(0)
    assert len(told) == len(really) == 9
    apart = [b - a for a, b in pairwise(told)]
    assert apart == pytest.approx([b - a for a, b in pairwise(really)], abs=0.05)
    assert max(apart) > max(NAPS_S)
    rows = run.journal.rows("SELECT kind, utc_s, data FROM entry ORDER BY id")
    naps = [json.loads(row["data"])["seconds"] for row in rows if row["kind"] == "suspended"]
    assert naps == list(NAPS_S)
    marks = [row["utc_s"] - told[0] for row in rows if row["kind"] == "sync-tone"]
    assert marks == pytest.approx([tone - really[0] for tone in tones], abs=0.05)


def test_a_wall_clock_is_true_on_both_sides_of_a_nap() -> None:
    slept = [7.0]  # before the lesson: of no account
    wall = WallClock(1000.0, 50.0, lambda: slept[0])
    assert wall.notice(60.0) == 0.0
    slept[0] += 100.0
    assert wall.notice(60.0) == pytest.approx(100.0)
    assert wall.notice(61.0) == 0.0
    assert (wall.utc(55.0), wall.utc(62.0)) == (1005.0, 1112.0)
    assert (wall.host(1005.0), wall.host(1112.0), wall.host(1050.0)) == (55.0, 62.0, 60.0)


def test_the_clock_that_counts_sleep_is_read() -> None:
    """On Linux, where there is one: what it counts more than the other is what the host slept."""
    boot_s = time.clock_gettime(time.CLOCK_BOOTTIME)
    assert suspended_s() == pytest.approx(boot_s - time.monotonic(), abs=0.2)
    assert elapsed_s() == pytest.approx(boot_s, abs=0.2)


def test_a_pairing_code_does_not_live_longer_for_a_nap(monkeypatch: pytest.MonkeyPatch) -> None:
    from feedscript.session.engine import wall_clock

    slept = [0.0]
    monkeypatch.setattr(wall_clock, "suspended_s", lambda: slept[0])
    access = Access(elapsed_s)
    code = access.new_code(Role.COACH)
    slept[0] = CODE_LIFE_S + 1.0
    assert isinstance(access.pair(code, "phone"), Diagnostic)
