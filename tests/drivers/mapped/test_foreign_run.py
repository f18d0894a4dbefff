"""Lessons on the six foreign devices by ``feedscript run``, to their ends, on any line."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from feedscript_drivers.mapped.launcher import MappedLauncher

from feedscript.launcher.setting import Setting
from tests.drivers.mapped.devices import FOREIGN
from tests.drivers.mapped.foreign_run import BALLS, on_its_grid, run_to_the_end
from tests.drivers.mapped.foreign_sessions import Faults, drawn_faults

#: Whole rpm and hundredths of a degree; but one takes tens of rpm, and one takes steps: 200 rpm of
#: both drives, 100 rpm apart, and whole degrees.
GRIDS = {"asked-only": on_its_grid(5.1, 0.06), "steps-only": on_its_grid(150.0, 0.51)}
FINE = on_its_grid(0.6, 0.06)
BAD = Faults(lost=0.02, doubled=0.02, spoilt=0.02, late=0.2, late_by_s=0.2, split=0.3, cut_after=2)


@pytest.mark.parametrize("name", FOREIGN)
def test_a_lesson_goes_to_its_end(name: str, tmp_path: Path) -> None:
    run = run_to_the_end(name, tmp_path)
    assert run.codes == (0,), run.said
    assert run.wrongs(GRIDS.get(name, FINE)) == []
    assert [ball["outcome"] for ball in run.balls] == ["left"] * BALLS
    assert len(run.gone) == BALLS


def check_on_a_bad_line(name: str, folder: Path, faults: Faults, seed: int) -> None:
    """Every ball leaves once, at its own setting, however often the lesson is taken up again."""
    run = run_to_the_end(name, folder, faults, seed)
    assert run.codes[-1] == 0, run.said
    assert set(run.codes[:-1]) <= {3}, run.said
    if faults.cut_after is not None:
        assert len(run.codes) > 1, "a dead line was not noticed"
    assert run.wrongs(GRIDS.get(name, FINE)) == [], (name, seed)
    assert len(run.gone) == BALLS, (name, seed)


def test_a_lesson_on_a_bad_line_that_dies_is_taken_up_again_to_its_end(tmp_path: Path) -> None:
    check_on_a_bad_line("crc-frames", tmp_path, BAD, 1)


@pytest.mark.long
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("name", FOREIGN)
def test_so_do_fifty_lessons_on_drawn_lines(name: str, tmp_path: Path) -> None:
    for seed in range(50):
        chance = random.Random(f"run {name} {seed}")
        folder = tmp_path / str(seed)
        folder.mkdir()
        faults = drawn_faults(chance, radio=name == "by-radio")
        check_on_a_bad_line(name, folder, faults, seed)


def test_a_ball_at_the_setting_of_the_one_before_would_be_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    truly = MappedLauncher._set

    async def only_once(self: MappedLauncher, setting: Setting, feed_id: int) -> str | None:
        if self._aim._target is None:
            return await truly(self, setting, feed_id)
        self._aim.for_feed, self._aim.ready_s = feed_id, 0.0
        return None

    monkeypatch.setattr(MappedLauncher, "_set", only_once)
    assert run_to_the_end("crc-frames", tmp_path).wrongs(FINE)
