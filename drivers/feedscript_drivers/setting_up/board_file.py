"""The board file: what only the launcher's builder knows, as the numbers that it must hold.

A profile says what a launcher can do; this says how the board in it is wired: pulses of the
tachometers, and of each axis the ends of its servo or the home of its stepping motor. Keys carry
their units; ``drivers/firmware/board-example.toml`` is an invented example of the reference board.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, Final

from msgspec import Struct

from feedscript.diagnostics import Diagnostic, Page
from feedscript.nearest import nearest
from feedscript.plain_file import read_plain
from feedscript_drivers.wire.protocol import Number

BOARD_FILE = Page(
    slug="board-file",
    title="A board file that cannot be used",
    why=(
        "The board file gives the numbers that only the launcher's builder knows: tachometer "
        "pulses, servo ends, how long the gate opens. Each key carries its unit and each value is "
        "a whole number. A key that nobody knows is refused, since a limit that was meant and "
        "misspelt would otherwise be missing."
    ),
)

#: The reference board's own numbers that every one needs before it arms.
OWN: Final[dict[str, int]] = {
    "tachometer_pulses_per_turn": 64,
    "wheel_rpm_at_full_duty": 65,
    "gate_open_ms": 66,
}

#: Of an axis that a servo leads.
SERVO: Final[dict[str, dict[str, int]]] = {
    "pan": {"pan_servo_us_at_0_deg": 67, "pan_servo_us_per_90_deg": 68},
    "tilt": {"tilt_servo_us_at_0_deg": 69, "tilt_servo_us_per_90_deg": 70},
}
#: Of all servos together.
SERVOS: Final[dict[str, int]] = {"servo_least_us": 71, "servo_most_us": 72}


def _stepper(axis: str, first: int) -> dict[str, int]:
    keys = (
        "steps_per_turn", "home_edge_cdeg", "travel_cdeg", "start_cdeg_per_s", "gain_cdeg_per_s2",
        "home_slack_cdeg",
    )  # fmt: skip
    return {f"{axis}_{key}": first + i for i, key in enumerate(keys)}


#: Of an axis that a stepping motor leads.
STEPPER: Final[dict[str, dict[str, int]]] = {
    "pan": _stepper("pan", 73),
    "tilt": _stepper("tilt", 79),
}

#: Numbers of the wire that a builder may state, where the profile would have them guessed.
MAY: Final[dict[str, int]] = {
    "settle_rpm": Number.SETTLE_RPM,
    "gate_clear_ms": Number.GATE_CLEAR_MS,
    "least_supply_mv": Number.LEAST_VOLTAGE_MV,
    "most_temperature_c": Number.MOST_TEMPERATURE_C,
    "this_port_needs_the_key": Number.KEY_NEEDED,
}


_KNOWN: Final = {
    key: number
    for keys in (OWN, *SERVO.values(), SERVOS, *STEPPER.values(), MAY)
    for key, number in keys.items()
}


class BoardReading(Struct, frozen=True):
    """What became of a board file: its numbers by the wire's number, and what is wrong."""

    numbers: dict[int, int]
    diagnostics: tuple[Diagnostic, ...]


def read_board(path: Path) -> BoardReading:
    """Read a board file. Never raises for what a file may hold."""
    try:
        data = tomllib.loads(read_plain(path).decode("utf-8-sig"))
    except OSError as error:
        return _refused(path, error.strerror or "it cannot be read", "check its name and folder")
    except (ValueError, RecursionError) as error:
        return _refused(path, f"it is not TOML: {error}", "write one KEY = NUMBER to a line")
    wrong = [*_wrong_keys(path, data), *_led_twice(path, data), *_missing_keys(path, data)]
    good = {_KNOWN[key]: value for key, value in data.items() if key in _KNOWN and not wrong}
    return BoardReading(good, tuple(wrong))


def _refused(path: Path, message: str, fix: str) -> BoardReading:
    return BoardReading({}, (BOARD_FILE.report(message, help=fix, device=str(path)),))


def _wrong_keys(path: Path, data: dict[str, Any]) -> list[Diagnostic]:
    wrong = []
    for key, value in data.items():
        if key not in _KNOWN:
            near = nearest(key, _KNOWN)
            fix = f"did you mean {near!r}?" if near else f"there are: {', '.join(_KNOWN)}"
            wrong.append(BOARD_FILE.report(f"unknown key {key!r}", help=fix, device=str(path)))
        elif isinstance(value, bool) or not isinstance(value, int) or abs(value) >= 2**31:
            shown = f"{value!r}"[:40]
            wrong.append(
                BOARD_FILE.report(
                    f"{key} is {shown}", help="write a whole number", device=str(path)
                )
            )
    return wrong


def _missing_keys(path: Path, data: dict[str, Any]) -> list[Diagnostic]:
    return [
        BOARD_FILE.report(
            f"{key} is missing",
            help="measure it on the board; without it the launcher does not arm",
            device=str(path),
        )
        for key in _needed(data)
        if key not in data
    ]


def _led_by_steps(axis: str, data: dict[str, Any]) -> bool:
    return any(key in data for key in STEPPER[axis])


def _needed(data: dict[str, Any]) -> list[str]:
    """Every axis is led by a servo, unless a key of a stepping motor says otherwise."""
    steps = {axis: _led_by_steps(axis, data) for axis in STEPPER}
    axes = [key for axis in STEPPER for key in (STEPPER if steps[axis] else SERVO)[axis]]
    return [*OWN, *axes, *(() if all(steps.values()) else SERVOS)]


def _led_twice(path: Path, data: dict[str, Any]) -> list[Diagnostic]:
    both = [
        (axis, key)
        for axis in STEPPER
        if _led_by_steps(axis, data)
        for key in SERVO[axis]
        if key in data
    ]
    return [
        BOARD_FILE.report(
            f"{key} is a servo's, and {axis} has the keys of a stepping motor too",
            help="keep those of what leads the axis",
            device=str(path),
        )
        for axis, key in both
    ]
