"""``feedscript run`` on the simulated launcher: the shipped program of each kind of launcher."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import msgspec
import pytest

from feedscript.journal.store import open_journal
from feedscript.plan.model import Plan
from feedscript.shipped import shipped_folder
from tests.simulator.stand_in_process import FEEDSCRIPT

pytestmark = pytest.mark.real_time

PROGRAMS = sorted((shipped_folder() / "launchers").glob("*.feed"))
#: Those that are played always; the others take as long again.
ALWAYS = ("swinging-head",)


@pytest.mark.parametrize(
    "path",
    [
        pytest.param(p, id=p.stem, marks=() if p.stem in ALWAYS else pytest.mark.long)
        for p in PROGRAMS
    ],
)
def test_a_series_of_each_is_run_to_its_end(path: Path, tmp_path: Path) -> None:
    words = path.read_text(encoding="utf-8")
    assert "repeat" in words
    program = tmp_path / path.name
    for long, short in (("repeat 4", "repeat 1"), ("repeat 3", "repeat 1"), ("7 s", "5 s")):
        words = words.replace(long, short)
    program.write_text(words, encoding="utf-8")
    journal = tmp_path / "journal.sqlite"
    run = [*FEEDSCRIPT, "run", str(program), "--on", "sim:", "--journal", str(journal)]
    run += ["--yes-i-am-behind-the-launcher", "--format", "json"]
    ended = subprocess.run(run, capture_output=True, text=True, timeout=120, check=False)
    assert ended.returncode == 0, ended.stdout + ended.stderr
    assert json.loads(ended.stdout)
    kept = open_journal(journal)
    (session,) = kept.rows("SELECT plan FROM session")
    balls = kept.rows("SELECT feed_index, outcome FROM ball ORDER BY feed_id")
    kept.close()
    plan = msgspec.json.decode(session["plan"], type=Plan)
    assert {ball["outcome"] for ball in balls} == {"left"}
    least, most = plan.bounds.balls
    assert least <= len(balls) <= most
    if plan.launchers[0].sweep_deg is not None:
        # No direction is ever chosen: each ball stands in the record as the feed itself.
        fed = {plan.feeds[ball["feed_index"]] for ball in balls}
        assert {feed.name for feed in fed} == {feed.wish for feed in fed}
