"""``feedscript run`` and ``rehearse`` in a real terminal window, as a coach would use them."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from feedscript.journal.store import open_journal
from tests.simulator.stand_in_process import FEEDSCRIPT
from tests.terminal.terminal_window import Window, window

pytestmark = pytest.mark.real_time

PROGRAM = """feedscript 1
title "Keys (invented)"
court    { surface hard }
balls    { type 2   load 60 }
launcher { stands 1 m behind centre mark }
group    { players "Ash", "Birch", "Cedar"  stage yellow  level club }
feed deep { land 3 m inside baseline, 1.5 m inside ad sideline   speed 80 km/h   within 1 m }
lesson {
    show speed of deep
    for each player { say "Back to the middle."  repeat 12 { send deep after 3 s }  rest 3 s }
}
"""


ACTS = "SELECT data FROM entry WHERE kind = 'act' ORDER BY id"


@contextmanager
def lesson(folder: Path, columns: int = 80, rows: int = 24) -> Iterator[Window]:
    program = folder / "keys.feed"
    program.write_text(PROGRAM)
    words = ["run", program, "--on", "sim:", "--journal", folder / "journal.sqlite"]
    with window([*FEEDSCRIPT, *words], columns, rows) as made:
        made.see("Set up", "Step 1")
        yield made


def set_up_and_go(made: Window) -> None:
    """What a coach presses, each after reading what is asked."""
    while "Set up" in made.lines[0]:
        made.press("\r", after_s=0.45)
    made.see("Speed ball next")
    made.press("\r", after_s=0.5)
    made.see("Speed right?")
    made.press("\r", after_s=0.5)
    made.see("Ready")
    made.press("g", after_s=0.5)
    made.see("Running", "First ball in")


def hold_after_a_ball(made: Window) -> None:
    """Hold as soon as a ball has left: just before one nobody could say whether it did."""
    left = int(made.lines[1].split()[0])
    made.see(f"{left + 1} of 37 balls")
    made.press("h")
    made.see("Held. Go on, or stop.")


def results(folder: Path) -> list[tuple[str, int, str | None]]:
    journal = open_journal(folder / "journal.sqlite")
    rows = journal.rows(
        "SELECT result, taken_back, landing_y_m, player FROM result JOIN ball"
        " USING (session_id, feed_id) ORDER BY result.id"
    )
    journal.close()
    return [(row["result"], row["taken_back"], row["player"]) for row in rows]


@pytest.mark.timeout(120)
def test_a_lesson_is_run_by_keys(tmp_path: Path) -> None:
    with lesson(tmp_path) as made:
        set_up_and_go(made)
        made.see("“Back to the middle.”", "on Ash next Birch")
        made.see("3 of 37 balls")
        made.press("2", after_s=1.0)
        made.see("deep for Ash net")
        made.see("4 of 37 balls")
        made.press("\x1b[B", after_s=1.5)  # the arrow down is the net too
        made.see("Ask Ash, alone (2 in a row net)")
        made.press("u")
        made.see("1 recorded")
        made.press(":at 1.5 -9\r")
        hold_after_a_ball(made)
        made.press(":rest Cedar\r")
        made.see("sits out: Cedar")
        made.press(":join Dogwood left\r")
        made.see("Dogwood")
        made.press("-")
        made.see("pace 87 %")
        made.press("+")
        made.press("n")  # leaves this player's series
        made.press(" ", after_s=0.5)
        made.see("Running", "on Birch")
        made.press("s")
        made.see("Stopped. See why")
        made.press("?")
        made.see("any other key closes this", "q End lesson")
        made.press("z")
        made.press("q", after_s=0.5)
        assert made.ended() == 0
        assert made.is_given_back()
    found = results(tmp_path)
    assert ("net", 0, "Ash") in found
    assert sum(taken_back for _, taken_back, _ in found) == 1
    journal = open_journal(tmp_path / "journal.sqlite")
    marked = journal.rows("SELECT landing_x_m, landing_y_m FROM result WHERE taken_back = 0")
    journal.close()
    assert [tuple(row) for row in marked] == [(1.5, -9.0)]


@pytest.mark.parametrize(("key", "act"), [("\x13", "stop"), ("\x18", "emergency-stop")])
def test_a_stop_is_pressed_in_the_middle_of_a_line(tmp_path: Path, key: str, act: str) -> None:
    """There the letters of the other keys are letters of a name."""
    with lesson(tmp_path) as made:
        set_up_and_go(made)
        made.press(":rest Tess")
        made.see(":rest Tess", "Ctrl-S STOP Ctrl-X Power off Enter does it")
        assert "s STOP" not in made.text.replace("Ctrl-S STOP", "")
        made.press(key)
        made.see("Stopped. See why", "s STOP")
        assert ":rest" not in made.text
        made.press("q", after_s=0.5)
        assert made.ended() == 0
    journal = open_journal(tmp_path / "journal.sqlite")
    acts = [json.loads(data) for (data,) in journal.rows(ACTS)]
    journal.close()
    assert act in [one["act"] for one in acts]


def test_ctrl_c_stops_while_balls_fly(tmp_path: Path) -> None:
    with lesson(tmp_path, 40, 20) as made:
        set_up_and_go(made)
        made.press("\x03")
        assert made.ended() == 0
        assert made.is_given_back()
        assert "broken-off" in made.written.decode()
    journal = open_journal(tmp_path / "journal.sqlite")
    acts = journal.rows("SELECT data FROM entry WHERE kind = 'act' ORDER BY id")
    journal.close()
    assert '"stop"' in acts[-2]["data"]
    assert '"quit"' in acts[-1]["data"]


def test_a_polite_kill_stops_and_gives_the_terminal_back(tmp_path: Path) -> None:
    with lesson(tmp_path) as made:
        assert not made.is_given_back()  # the check itself can fail
        made.process.send_signal(signal.SIGTERM)
        assert made.ended() == 3  # nobody at the lesson chose that
        assert "broken-off (another program ended it)" in made.written.decode()
        assert made.is_given_back()


def test_a_closed_window_ends_the_lesson(tmp_path: Path) -> None:
    with lesson(tmp_path) as made:
        made.close()
        assert made.process.wait(15) == 3
    journal = open_journal(tmp_path / "journal.sqlite")
    (session,) = journal.rows("SELECT ending FROM session")
    journal.close()
    assert session["ending"] == "broken-off"


def test_an_error_inside_gives_the_terminal_back(tmp_path: Path) -> None:
    """Whatever breaks, and it should not: the shell that comes back must take keys again."""
    broken = (
        "from feedscript.session.engine import engine\n"
        "whole = engine.view_of\n"
        "engine.view_of = lambda lesson: 1 / 0 if lesson.confirmed else whole(lesson)\n"
        "from feedscript.cli import main\n"
        "main()\n"
    )
    words = ["run", "steady-improver", "--on", "sim:", "--journal", tmp_path / "journal.sqlite"]
    with window([sys.executable, "-c", broken, *words]) as made:
        made.see("Step 1")
        made.press("\r", after_s=0.4)
        assert made.ended() != 0
        assert made.is_given_back()


def test_resized_windows_and_keys_that_nobody_meant_do_no_harm(tmp_path: Path) -> None:
    """Ctrl-Z would leave the launcher without a host; function keys have digits in them; an Enter
    held down would say yes to questions that nobody has read."""
    with lesson(tmp_path) as made:
        made.press("\x1a\x1b[15~\x1b[1;5C")
        made.press("\r", after_s=0.5)
        for _ in range(10):
            made.press("\r", after_s=0.05)
        made.see("Step 2", "came before this could be read")
        for columns, rows in ((40, 20), (120, 40), (30, 10)):
            made.resize(columns, rows)
            made.read(1.2)
            assert len(made.lines[-1]) <= columns
            made.see("Set up", "Step 2 of", "STOP")
            assert "STOP" in "".join(made.lines[-3:])
        made.press("\x03")
        assert made.ended() == 0


@pytest.mark.long
def test_a_terminal_that_takes_nothing_delays_no_stop(tmp_path: Path) -> None:
    """Nobody reads the pty any more: its buffer fills, and Ctrl-C still stops at once."""
    with lesson(tmp_path) as made:
        set_up_and_go(made)
        with pytest.raises(subprocess.TimeoutExpired):
            made.process.wait(2.5)  # two kilobytes a picture, a buffer of four
        made.press("\x03")
        assert made.process.wait(5) == 0
    journal = open_journal(tmp_path / "journal.sqlite")
    found = journal.rows(
        "SELECT COUNT(*) AS lost FROM entry WHERE kind = 'event' AND data LIKE '%link-lost%'"
    )
    journal.close()
    assert found[0]["lost"] == 0


def test_without_a_terminal_there_are_plain_lines(tmp_path: Path) -> None:
    program = tmp_path / "short.feed"
    one = PROGRAM.replace(', "Birch", "Cedar"', "").replace("repeat 12", "repeat 1")
    program.write_text(one.replace("rest 3 s", ""))
    yes = ["--yes-i-am-behind-the-launcher"]
    own = tmp_path / "feedscript" / "questions.toml"
    own.parent.mkdir()
    own.write_text("nett = ['How high did that one go?']\n")
    done = subprocess.run(
        [*FEEDSCRIPT, "run", program, "--on", "sim:", *yes, "--journal", tmp_path / "j.sqlite"],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        env=os.environ | {"XDG_CONFIG_HOME": str(tmp_path)},
    )
    assert done.returncode == 0
    assert "\x1b" not in done.stdout
    lines = [line[9:] for line in done.stdout.splitlines()]
    for told in ("arming: Arm the launcher: act at the launcher itself.", "call: Ash is on"):
        assert told in lines
    assert "ball 2 left: deep for Ash" in lines
    wrong = (
        f"trouble: your own questions ({own}, line 1): the top of the file has no key 'nett' "
        "(did you mean `net`?"
    )
    assert any(line.startswith(wrong) for line in lines)


def test_without_a_terminal_and_without_a_yes_nothing_runs(tmp_path: Path) -> None:
    done = subprocess.run(
        [*FEEDSCRIPT, "run", "steady-improver", "--on", "sim:"],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 2
    assert "no keyboard to confirm" in done.stderr


def test_a_rehearsal_in_real_time_is_watched_and_ended_with_ctrl_c() -> None:
    with window([*FEEDSCRIPT, "rehearse", "steady-improver", "--pace", "real"]) as made:
        made.see("Running", "First ball in", "Ctrl-C")
        made.press("\x03")
        assert made.ended() == 1
        assert "Aborted" in made.written.decode()
        assert made.is_given_back()
