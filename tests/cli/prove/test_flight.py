"""``feedscript flight``: the what-if, its numbers and its refusals."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.cli.prove.flight import command


def flight(*words: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(command, words)
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result.exit_code, result.stdout, result.stderr


def answer(*words: str) -> dict[str, float]:
    code, out, _ = flight(*words, "--format", "json")
    assert code == 0
    found: dict[str, float] = json.loads(out)
    return found


USUAL = ("--speed", "28 m/s", "--elevation", "6 deg")


def test_what_is_printed() -> None:
    found = answer(*USUAL, "--height", "1 m", "--spin", "top 1500 rpm")
    assert {"carry_m", "drift_m", "flight_s", "apex_m", "speed_at_bounce_mps"} <= set(found)
    assert found["drift_m"] == pytest.approx(0, abs=1e-9)
    assert 14 < found["carry_m"] < 17


def test_the_same_flight_turned_carries_and_drifts_the_same() -> None:
    straight = answer(*USUAL, "--spin", "side ad 1500 rpm")
    turned = answer(*USUAL, "--spin", "side ad 1500 rpm", "--azimuth", "25 deg")
    for name in ("carry_m", "drift_m", "flight_s", "apex_m"):
        assert turned[name] == pytest.approx(straight[name], abs=1e-6)


def test_words_push_the_ball_the_way_they_say() -> None:
    plain = answer(*USUAL)["carry_m"]
    assert answer(*USUAL, "--spin", "top 1500 rpm")["carry_m"] < plain
    assert answer(*USUAL, "--spin", "back 1500 rpm")["carry_m"] > plain
    assert answer(*USUAL, "--spin", "side ad 1500 rpm")["drift_m"] > 0.3
    assert answer(*USUAL, "--spin", "side deuce 1500 rpm")["drift_m"] < -0.3
    assert answer(*USUAL, "--wind", "head 4 m/s")["carry_m"] < plain
    assert answer(*USUAL, "--wind", "towards ad 4 m/s")["drift_m"] > 0.1
    assert answer(*USUAL, "--altitude", "2240 m")["carry_m"] > plain
    assert answer(*USUAL, "--spin", "gyro 1500 rpm")["carry_m"] < plain  # more drag, no lift


def test_beyond_the_published_range_is_said() -> None:
    code, _, err = flight("--speed", "44 m/s", "--elevation", "2 deg", "--spin", "top 1000 rpm")
    assert code == 0
    assert "beyond-model" in err


@pytest.mark.parametrize(
    "words",
    [
        ("--speed", "28", "--elevation", "6 deg"),
        ("--speed", "28 kg", "--elevation", "6 deg"),
        ("--speed", "-3 m/s", "--elevation", "6 deg"),
        ("--speed", "1e999 m/s", "--elevation", "6 deg"),
        (*USUAL, "--spin", "1500 rpm"),
        (*USUAL, "--spin", "top 100 rpm, back 100 rpm"),
        (*USUAL, "--height", "0 m"),
        (*USUAL, "--model", "guess"),
        (*USUAL, "--ball", "plum"),
        (*USUAL, "--humidity", "160 %"),
        (*USUAL, "--wind", "strong"),
        (*USUAL, "--wear", "2"),
        ("--speed", "28 m/s"),
    ],
)
def test_odd_input_is_refused_with_a_reason(words: tuple[str, ...]) -> None:
    code, out, err = flight(*words)
    assert code == 2
    assert not out
    assert "Traceback" not in err
    assert len(err) > 20


@settings(max_examples=60)
@given(st.lists(st.text(max_size=12), min_size=4, max_size=4))
def test_random_words_never_end_in_a_traceback(words: list[str]) -> None:
    speed, elevation, spin, wind = words
    code, _, _ = flight("--speed", speed, "--elevation", elevation, "--spin", spin, "--wind", wind)
    assert code in (0, 2)
