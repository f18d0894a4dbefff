"""``feedscript watch --by-sound``: flight times from a recording without pictures."""

from __future__ import annotations

import json
import wave
from pathlib import Path

import msgspec
import numpy as np
import pytest

from tests.cli.after.test_watch import watch
from tests.watch.lesson_filmed import LEFT_S, PROGRAM, flown, planned, write_journal
from tests.watch.scene.flying import Flight
from tests.watch.scene.hearing import RATE_HZ, sound
from tests.watch.scene.practices import practice


@pytest.fixture(scope="module")
def flights() -> tuple[Flight, ...]:
    return flown(planned()[0], LEFT_S)


@pytest.fixture(scope="module")
def folder(flights: tuple[Flight, ...], tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("heard")
    write_journal(folder / "journal.sqlite", *planned(), LEFT_S)
    write_sound(folder / "lesson.wav", flights)
    return folder


def write_sound(path: Path, flights: tuple[Flight, ...]) -> None:
    length_s = flights[-1].launch.at_s + 3.0
    scene = msgspec.structs.replace(
        practice(2, balls=1).scene, flights=flights, duration_s=length_s, claps_s=()
    )
    with wave.open(str(path), "wb") as out:
        out.setparams((1, 2, RATE_HZ, 0, "NONE", ""))
        out.writeframes((sound(scene) * 32767).astype("<i2").tobytes())


def words(folder: Path) -> tuple[object, ...]:
    lesson = ("--lesson", 1, "--journal", folder / "journal.sqlite")
    return (folder / "lesson.wav", *lesson, "--by-sound", "--offset", "1.3 s")


def test_flight_times_are_told_without_a_picture(folder: Path, flights: tuple[Flight, ...]) -> None:
    out = folder / "heard.json"
    asked = (*words(folder), "--camera-at", "receiver")
    result = watch(*asked, "-o", out, "--format", "json")
    assert result.exit_code == 0, result.output
    told = json.loads(out.read_text("utf-8"))
    assert json.loads(result.output)["heard"] == told
    heard = [one for one in told["balls"] if one["sound"] == "heard"]
    assert len(heard) >= 3
    for one in heard:
        flight = flights[one["number"] - 1]
        true_s = flight.bounces()[0].at_s - flight.launch.at_s
        assert abs(one["flight_s"]["value"] - true_s) < 4 * one["flight_s"]["sd"]
        assert one["flight_s"]["sd"] < 0.012
        speed = one["speed_mps"]
        assert abs(speed["value"] - flight.launch.speed_mps) < 4 * speed["sd"]
    assert "±" in watch(*asked).output


def test_a_programs_own_times_are_enough_where_no_journal_has_it(tmp_path: Path) -> None:
    """The speed is shown long before: how long somebody looked is in no program."""
    gaps_s = (5.0, 3.4, 4.6, 5.2, 3.8, 6.1)
    sends = "".join(
        f"send {('deep', 'wide')[n % 2]} after {gap_s:.1f} s  " for n, gap_s in enumerate(gaps_s)
    )
    program = tmp_path / "lesson.feed"
    program.write_text(f"{PROGRAM.split('lesson {')[0]}lesson {{ show speed of deep  {sends}}}\n")
    flights = flown(planned()[0], tuple(np.cumsum(gaps_s) - 4.0))
    write_sound(tmp_path / "lesson.wav", flights)
    sound_only = (tmp_path / "lesson.wav", "--by-sound", "--camera-at", "receiver")
    asked = (*sound_only, "--program", program, "--offset", "1.2 s", "--format", "json")
    result = watch(*asked)
    assert result.exit_code == 0, result.output
    told = json.loads(result.output)["heard"]
    assert told["lesson"] is None
    assert [one["number"] for one in told["balls"]] == [2, 3, 4, 5, 6, 7]
    heard = [one for one in told["balls"] if one["sound"] == "heard"]
    assert len(heard) >= 4
    for one in heard:
        flight = flights[one["number"] - 2]
        true_s = flight.bounces()[0].at_s - flight.launch.at_s
        assert abs(one["flight_s"]["value"] - true_s) < 4 * one["flight_s"]["sd"]
    missing = watch(*asked, "--at-ball", 8)
    assert missing.exit_code == 1
    assert "it has no ball 8" in missing.output


@pytest.mark.parametrize(
    ("more", "complaint"),
    [
        ((), "--camera-at"),
        (("--camera-at", "receiver", "--shots"), "--shots"),
        (("--camera-at", "receiver", "-o", "found.csv"), ".json"),
    ],
)
def test_what_needs_pictures_is_not_taken(
    folder: Path, more: tuple[str, ...], complaint: str
) -> None:
    result = watch(*words(folder), *more)
    assert result.exit_code == 2
    assert complaint in result.output


def test_a_recording_of_something_else_is_refused(folder: Path) -> None:
    other = folder / "other.wav"
    noise = np.random.default_rng(3).normal(0, 400, RATE_HZ * 12).astype("<i2")
    with wave.open(str(other), "wb") as out:
        out.setparams((1, 2, RATE_HZ, 0, "NONE", ""))
        out.writeframes(noise.tobytes())
    _, *rest = words(folder)
    result = watch(other, *rest, "--camera-at", "receiver")
    assert result.exit_code == 1
    assert "not-together" in result.output
