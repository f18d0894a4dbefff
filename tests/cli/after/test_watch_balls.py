"""``feedscript watch --lesson``: a lesson's balls found in a film of it, held to how they flew."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from feedscript.cli.after.watch_balls import as_asked
from feedscript.court.lines import COURTS
from feedscript.journal.clips import clips_folder, clips_of
from feedscript.journal.films import landings_seen
from feedscript.journal.store import read_journal
from feedscript.launcher.tuning.landings_file import read_landings
from feedscript.watch.look import Laid
from feedscript.watch.shots.ground import Ground
from feedscript.watch.sync.align import Clock
from feedscript.watch.unfinished import balls_in_file, beside
from tests.cli.after.test_watch import watch
from tests.watch.lesson_filmed import LEFT_S, UTC_S, film, flown, planned, write_journal


def test_what_shots_are_held_against_is_known_by_its_ball_in_whatever_order() -> None:
    """By it an unfinished look is gone on with: one of other players' shots is not."""
    laid, right = (
        Laid(Clock(0.0, 0.0, 0.01, 0.0, 0.0, 2, 2), np.empty(0)),
        Ground(COURTS["singles"]),
    )
    left = Ground(COURTS["singles"], left_handed=True)
    asked = as_asked(laid, {1: right, 12: left})
    assert as_asked(laid, {12: left, 1: right}) == asked
    assert len({asked, as_asked(laid, {1: left, 12: right}), as_asked(laid, None)}) == 3


@pytest.mark.long
@pytest.mark.timeout(600)
def test_a_lesson_is_found_in_its_film_and_measured(tmp_path: Path) -> None:
    plan, profile = planned()
    journal, video = tmp_path / "journal.sqlite", tmp_path / "lesson.mp4"
    write_journal(journal, plan, profile, LEFT_S)
    flights = flown(plan, LEFT_S)
    film(video, flights, LEFT_S[-1] + 3.0)
    table = tmp_path / "landings.csv"
    words = (video, "--camera-at", "receiver", "--lesson", 1, "--journal", journal)
    result = watch(
        *words, "--offset", "1.3 s", "-o", table, "--into-journal", "--clips", "--format", "json"
    )
    assert result.exit_code == 0, result.output
    found = json.loads(result.output)["found"]
    true_m = {n: next(iter(one.bounces())).place_m[:2] for n, one in enumerate(flights, 1)}
    landed = [one for one in found["balls"] if one["ball"] == "measured"]
    off = [np.hypot(*np.subtract(one["landing_m"], true_m[one["number"]])) for one in landed]
    assert len(landed) >= 4
    assert np.median(off) < 0.06
    assert max(off) < 0.25
    assert abs(found["clock"]["of_s"] - (found["clock"]["utc_s"] - UTC_S)) < 0.03
    kept = read_journal(journal)
    seen, clips = landings_seen(kept, 1), clips_of(kept, 1)
    kept.close()
    there = {path.name for path in clips_folder(journal, 1).iterdir()}
    assert there == {f"ball-{n}.{kind}" for n in true_m for kind in ("jpg", "mp4")}
    assert {one.file for one in clips} == there
    assert {n: one.landing_m for n, one in seen.items() if one.landing_m is not None} == {
        one["number"]: tuple(one["landing_m"]) for one in landed
    }
    reading = read_landings(table, profile)
    assert reading.shots is not None, reading.diagnostics
    mouth_m = plan.launchers[0].mouth_m
    along_m = [one["landing_m"][1] - mouth_m[1] for one in landed]
    assert np.allclose(reading.shots.seen[:, 0], along_m, atol=0.01)  # it faces along the court


@pytest.mark.long
@pytest.mark.timeout(600)
def test_balls_of_a_silent_film_are_found_by_sight_where_somebody_says_about_when(
    tmp_path: Path,
) -> None:
    journal, video = tmp_path / "journal.sqlite", tmp_path / "silent.mp4"
    plan, profile = planned()
    left_s = LEFT_S[:3]
    write_journal(journal, plan, profile, left_s)
    flights = flown(plan, left_s)
    film(video, flights, left_s[-1] + 2.0, with_sound=False, size=(960, 540))
    words = (video, "--camera-at", "receiver", "--lesson", 1, "--journal", journal)
    result = watch(*words, "--offset", f"{left_s[0] + 0.4} s", "--format", "json")
    assert result.exit_code == 0, result.output
    found = json.loads(result.output)["found"]
    assert found["clock"]["by"] == "sight"
    assert abs(found["clock"]["of_s"] - (found["clock"]["utc_s"] - UTC_S)) < 0.05
    for one, flight in zip(found["balls"], flights, strict=True):
        off_m = np.subtract(one["landing_m"], flight.bounces()[0].place_m[:2])
        assert np.hypot(*off_m) < 0.15


@pytest.mark.long
@pytest.mark.timeout(900)
def test_a_process_that_was_stopped_by_ctrl_c_goes_on_and_ends_with_the_same_file(
    tmp_path: Path,
) -> None:
    journal, video = tmp_path / "journal.sqlite", tmp_path / "lesson.mp4"
    plan, profile = planned()
    left_s = LEFT_S[:4]
    write_journal(journal, plan, profile, left_s)
    film(video, flown(plan, left_s), left_s[-1] + 2.0, size=(960, 540))
    words = [video, "--camera-at", "receiver", "--lesson", 1, "--journal", journal]
    words = [*map(str, words), "--offset", "1.2 s", "-o"]
    out, unbroken = tmp_path / "found.json", tmp_path / "unbroken.json"
    command = [sys.executable, "-m", "feedscript.cli", "watch"]
    with subprocess.Popen([*command, *words, out], stderr=subprocess.PIPE, text=True) as running:
        while not (beside(out).exists() and balls_in_file(beside(out))):
            assert running.poll() is None, running.communicate()[1]
            time.sleep(0.02)
        running.send_signal(signal.SIGINT)
        _, said = running.communicate()
    kept = balls_in_file(beside(out))
    assert (running.returncode, out.exists(), 0 < kept < len(left_s)) == (1, False, True)
    assert "same command again" in said
    assert "Traceback" not in said
    for path in (out, unbroken):
        done = subprocess.run([*command, *words, path], capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
    assert out.read_bytes() == unbroken.read_bytes()
    assert not beside(out).exists()
