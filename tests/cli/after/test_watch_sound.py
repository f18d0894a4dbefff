"""``feedscript watch --by-sound``: flight times from a recording without pictures."""

from __future__ import annotations

import json
import wave
from pathlib import Path

import msgspec
import numpy as np
import pytest

from tests.cli.after.test_watch import watch
from tests.watch.lesson_filmed import LEFT_S, flown, planned, write_journal
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
    scene = msgspec.structs.replace(
        practice(2, balls=1).scene, flights=flights, duration_s=LEFT_S[-1] + 3.0, claps_s=()
    )
    with wave.open(str(folder / "lesson.wav"), "wb") as out:
        out.setparams((1, 2, RATE_HZ, 0, "NONE", ""))
        out.writeframes((sound(scene) * 32767).astype("<i2").tobytes())
    return folder


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
