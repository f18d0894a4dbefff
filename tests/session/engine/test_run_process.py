"""``feedscript run`` in one process, the stand-in in another, a real pty between them."""

from __future__ import annotations

import json
import signal
import subprocess
import time
from pathlib import Path
from typing import Any

import pytest
from feedscript_drivers.wire.protocol import Times

from feedscript.journal.store import open_journal
from tests.simulator.stand_in_process import FEEDSCRIPT, Lines, stand_in

pytestmark = pytest.mark.real_time

PROGRAM = """feedscript 1
title "Short invented lesson"
court {{ surface hard }}
balls {{ stage yellow  load 40 }}
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
feed drive {{ land 2 m inside baseline, on centre line  speed 75 km/h  spin top 600 rpm }}
lesson {{
  show speed of drive
  say "Six balls."
  repeat {count} {{ send drive after 1.9 s }}
}}
"""


@pytest.fixture
def program(tmp_path: Path) -> Path:
    path = tmp_path / "short.feed"
    path.write_text(PROGRAM.format(count=6), encoding="utf-8")
    return path


def run(
    address: str, folder: Path, *arguments: str, stdin: int = subprocess.DEVNULL
) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [
            *FEEDSCRIPT,
            "run",
            "--on",
            address,
            "--journal",
            str(folder / "journal.sqlite"),
            "--yes-i-am-behind-the-launcher",
            "--format",
            "json",
            *arguments,
        ],
        stdin=stdin,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def summary(process: subprocess.Popen[str]) -> dict[str, Any]:
    out, errors = process.communicate(timeout=60)
    assert "Traceback" not in errors, errors
    found: dict[str, Any] = json.loads(out)
    return found


def balls(folder: Path) -> list[tuple[int, int, str | None]]:
    """Feed id, ball number and outcome of every ball in the journal."""
    journal = open_journal(folder / "journal.sqlite")
    rows = journal.rows("SELECT feed_id, ball_no, outcome FROM ball ORDER BY feed_id")
    journal.close()
    return [(row["feed_id"], row["ball_no"], row["outcome"]) for row in rows]


def left_at_launcher(lines: Lines) -> list[int]:
    return [line["feed_id"] for line in lines.drain() if line["event"] == "left"]


def test_a_whole_program_runs_over_a_pty(program: Path, tmp_path: Path) -> None:
    with stand_in("--pty") as (_, lines, address):
        process = run(address, tmp_path, str(program))
        found = summary(process)
    assert process.returncode == 0, found
    assert found["ending"] == "finished"
    assert (found["left"], found["not_sent"], found["unknown"]) == (7, 0, 0)
    assert left_at_launcher(lines) == [1, 2, 3, 4, 5, 6, 7]


def test_a_killed_host_loses_no_ball_and_the_lesson_goes_on(program: Path, tmp_path: Path) -> None:
    """kill -9 in the middle: the launcher stops by itself and says so; resumed, the lesson ends
    with the planned counts and no ball twice."""
    with stand_in("--pty") as (_, lines, address):
        process = run(address, tmp_path, str(program))
        lines.wait_for(event="left", feed_id=3, timeout_s=40)
        process.send_signal(signal.SIGKILL)
        process.communicate()
        last = lines.seen[-1]
        stopped = lines.wait_for(event="state", reason="silence")
        off = lines.wait_for(event="state", reason="drives-off")
        assert stopped["at_s"] - last["at_s"] <= (Times.SILENCE + 2 * Times.HEARTBEAT) / 1000
        assert off["at_s"] - last["at_s"] <= (Times.WATCHDOG + 2 * Times.HEARTBEAT) / 1000
        before = [line["feed_id"] for line in lines.seen if line["event"] == "left"]
        assert {feed_id for feed_id, _, _ in balls(tmp_path)} >= set(before)
        again = run(address, tmp_path, "--resume")
        found = summary(again)
    assert again.returncode == 0, found
    assert found["ending"] == "finished"
    left = [(feed_id, number) for feed_id, number, outcome in balls(tmp_path) if outcome == "left"]
    assert [number for _, number in left] == [1, 2, 3, 4, 5, 6, 7]
    assert left_at_launcher(lines) == [feed_id for feed_id, _ in left]


def with_outcome(folder: Path, feed_id: int) -> None:
    """Return when the journal says that this ball left."""
    until = time.monotonic() + 5.0
    while (feed_id, "left") not in [(found, outcome) for found, _, outcome in balls(folder)]:
        assert time.monotonic() < until, balls(folder)
        time.sleep(0.02)


def test_a_pty_that_closes_ends_the_run_with_3_and_a_whole_journal(
    program: Path, tmp_path: Path
) -> None:
    with stand_in("--pty") as (launcher, lines, address):
        process = run(address, tmp_path, str(program))
        lines.wait_for(event="left", feed_id=3, timeout_s=40)
        with_outcome(tmp_path, 3)  # else its event could die with the launcher: then, unknown
        launcher.kill()
        began = time.monotonic()
        found = summary(process)
        assert time.monotonic() - began < 10.0
    assert process.returncode == 3
    assert found["ending"] == "broken-off"
    assert {"link-lost", "stop-not-confirmed"} <= {one["slug"] for one in found["diagnostics"]}
    known = {feed_id: outcome for feed_id, _, outcome in balls(tmp_path)}
    assert set(left_at_launcher(lines)) <= set(known)
    assert [known[feed_id] for feed_id in (1, 2, 3)] == ["left"] * 3


def test_a_jam_that_nobody_fixes_ends_the_run_with_3_and_says_so(
    program: Path, tmp_path: Path
) -> None:
    with stand_in("--pty", "--fault", "jam=2") as (_, _, address):
        process = run(address, tmp_path, str(program))
        found = summary(process)
    assert process.returncode == 3
    assert (found["ending"], found["left"]) == ("broken-off", 1)
    assert "jam" in found["cause"]


def test_an_address_that_leads_nowhere_is_a_diagnostic(program: Path, tmp_path: Path) -> None:
    process = run("serial:/dev/does-not-exist", tmp_path, str(program))
    found = summary(process)
    assert process.returncode == 3
    assert found["diagnostics"][0]["help"]


def test_a_refused_program_opens_nothing(tmp_path: Path) -> None:
    path = tmp_path / "wrong.feed"
    path.write_text(PROGRAM.format(count=6).replace("show speed of drive", ""), encoding="utf-8")
    process = run("serial:/dev/does-not-exist", tmp_path, str(path))
    found = summary(process)
    assert process.returncode == 1
    assert "speed-not-shown" in {one["slug"] for one in found["diagnostics"]}
    assert not (tmp_path / "journal.sqlite").exists()
