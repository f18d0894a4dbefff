"""Every fault that the wire knows is told in words, with where to look for its cause."""

from __future__ import annotations

import pytest
from feedscript_drivers.wire.protocol import FaultKind, spelled

from feedscript.launcher.fault_log import FaultLog, LoggedFault
from feedscript.launcher.faults import KINDS, fault_words, where_to_look


@pytest.mark.parametrize("kind", [*map(spelled, FaultKind), "reset", "brown-out", "watchdog"])
def test_every_fault_has_words_and_a_place_to_look(kind: str) -> None:
    assert kind in KINDS
    assert fault_words(kind, "2").startswith(f"{kind} (")
    assert where_to_look(kind, "2")


def test_the_number_of_a_fault_stands_in_its_words_with_its_unit() -> None:
    assert fault_words("low-voltage", "10840") == "low-voltage (the supply fell to 10.8 V)"
    assert "91 °C" in fault_words("over-temperature", "91")
    assert "drive 2" in fault_words("drive-silent", "2")


def test_a_blocked_sensor_is_told_from_a_dead_one() -> None:
    assert len({fault_words("sensor", detail) for detail in ("0", "1", "2")}) == 3
    assert len({where_to_look("sensor", detail) for detail in ("0", "1", "2")}) == 3


@pytest.mark.parametrize("detail", ["E2", "12.5 V"])
def test_another_device_s_own_words_are_passed_on(detail: str) -> None:
    assert fault_words("low-voltage", detail) == f"low-voltage {detail}"
    assert where_to_look("low-voltage", detail) == ""


def test_a_fault_of_a_later_version_is_told_by_its_name() -> None:
    assert fault_words("fault 30", "0") == "fault 30"
    assert where_to_look("fault 30", "0") == ""


def test_a_log_is_told_the_newest_first() -> None:
    rows = (
        LoggedFault(boot=9, second=0, kind="brown-out"),
        LoggedFault(boot=8, second=412, kind="low-voltage", detail="10900"),
    )
    first, second, third = FaultLog(launcher="bench", rows=rows).lines()
    assert first == "bench remembers, the newest first:"
    assert second.startswith("  power-up 9, 0 s: brown-out (")
    assert third.startswith("  power-up 8, 412 s: low-voltage (the supply fell to 10.9 V); charge")


def test_no_log_and_no_fault_are_told_apart() -> None:
    assert FaultLog(launcher="a", rows=None).lines() == ["a keeps no log of its faults"]
    assert FaultLog(launcher="a", rows=()).lines() == ["a remembers no fault"]
