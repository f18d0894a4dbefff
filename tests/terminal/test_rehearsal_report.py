"""A rehearsal as it is printed for a person, in a window of the usual width."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

FEEDSCRIPT = [sys.executable, "-c", "from feedscript.cli import main; main()"]
PROGRAM = """feedscript 1
title "One"
court { surface hard }
balls { type 2  load 5 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { players "Ash"  level club }
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h  spin top 900 rpm }
lesson { show speed of deep }
"""


@pytest.fixture
def printed(tmp_path: Path) -> list[str]:
    program = tmp_path / "one.feed"
    program.write_text(PROGRAM, "utf-8")
    done = subprocess.run(
        [*FEEDSCRIPT, "rehearse", program, "--fault", "jam=1"],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
        env=os.environ | {"COLUMNS": "80"},
    )
    return done.stdout.splitlines()


def test_what_happens_stands_in_one_line_across_the_columns(printed: list[str]) -> None:
    lines = [line.rpartition("  ")[2] for line in printed]
    assert "the set-up list is gone through" in lines
    assert "a ball's outcome is unknown; a person is asked" in lines
    assert max(map(len, printed)) <= 80


def test_one_ball_is_one_ball(printed: list[str]) -> None:
    assert any(line.startswith("1 ball left (planned 1);") for line in printed)
