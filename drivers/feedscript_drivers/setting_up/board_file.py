"""The board file: what only the launcher's builder knows, as the numbers that it must hold.

A profile says what a launcher can do; this says how the board in it is wired: pulses of the
tachometers, and of each axis the ends of its servo or the home of its stepping motor. Keys carry
their units; ``drivers/firmware/board-example.toml`` is an invented example of the reference board.
"""

# No postponed annotations here: the file's keys are made from these types as they stand.

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Final

import msgspec
from msgspec import UNSET, Meta, Struct, UnsetType

from feedscript.diagnostics import Diagnostic, Page
from feedscript.tables import Mistake
from feedscript.toml_file import read_toml
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

Whole = Annotated[int, Meta(ge=1 - 2**31, le=2**31 - 1)]


class Board(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What `feedscript set-up --board FILE` stores of a controller. It has the keys of wheels or
    those of a tank of air, and each axis those of a servo or of a stepping motor; what there is
    must be complete. Where one of the last five is missing, the profile's figure stands in."""

    tachometer_pulses_per_turn: Whole | UnsetType = UNSET  # of a wheel
    wheel_rpm_at_full_duty: Whole | UnsetType = UNSET  # of a wheel, as it settles
    gate_open_ms: Whole | UnsetType = UNSET  # the longest, while no ball is seen
    tank_fill_ms: Whole | UnsetType = UNSET  # in place of these: from empty to its pressure
    pan_servo_us_at_0_deg: Whole | UnsetType = UNSET  # the pulse of straight ahead
    pan_servo_us_per_90_deg: Whole | UnsetType = (
        UNSET  # longer by it there; negative: it turns back
    )
    tilt_servo_us_at_0_deg: Whole | UnsetType = UNSET  # the pulse of level
    tilt_servo_us_per_90_deg: Whole | UnsetType = (
        UNSET  # longer by it there; negative: it turns back
    )
    servo_least_us: Whole | UnsetType = UNSET  # the shortest pulse, just inside the stops
    servo_most_us: Whole | UnsetType = UNSET  # the longest pulse, just inside the stops
    pan_steps_per_turn: Whole | UnsetType = UNSET  # of the axis, gears and parts of steps counted
    pan_home_edge_cdeg: Whole | UnsetType = UNSET  # where the home sensor changes, 0.01 degrees
    pan_travel_cdeg: Whole | UnsetType = UNSET  # from stop to stop, a little more, 0.01 degrees
    pan_start_cdeg_per_s: Whole | UnsetType = UNSET  # so fast it may start, stop and turn round
    pan_gain_cdeg_per_s2: Whole | UnsetType = UNSET  # above that it gains so much a second
    pan_home_slack_cdeg: Whole | UnsetType = UNSET  # play of the gears, and a little more
    tilt_steps_per_turn: Whole | UnsetType = UNSET  # of the axis, gears and parts of steps counted
    tilt_home_edge_cdeg: Whole | UnsetType = UNSET  # where the home sensor changes, 0.01 degrees
    tilt_travel_cdeg: Whole | UnsetType = UNSET  # from stop to stop, a little more, 0.01 degrees
    tilt_start_cdeg_per_s: Whole | UnsetType = UNSET  # so fast it may start, stop and turn round
    tilt_gain_cdeg_per_s2: Whole | UnsetType = UNSET  # above that it gains so much a second
    tilt_home_slack_cdeg: Whole | UnsetType = UNSET  # play of the gears, and a little more
    settle_rpm: Whole | UnsetType = UNSET  # as near as a wheel must be before a ball goes
    gate_clear_ms: Whole | UnsetType = UNSET  # from the gate's shutting to the last ball
    least_supply_mv: Whole | UnsetType = UNSET  # below it the launcher stops
    most_temperature_c: Whole | UnsetType = UNSET  # above it the launcher stops
    this_port_needs_the_key: Whole | UnsetType = UNSET  # 1: a radio hangs on this serial port


#: The reference board's own numbers that one with wheels needs before it arms.
WHEELS: Final[dict[str, int]] = {
    "tachometer_pulses_per_turn": 64,
    "wheel_rpm_at_full_duty": 65,
    "gate_open_ms": 66,
}
#: Of one that throws by air.
TANK: Final[dict[str, int]] = {"tank_fill_ms": 65}

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
    for keys in (WHEELS, TANK, *SERVO.values(), SERVOS, *STEPPER.values(), MAY)
    for key, number in keys.items()
}


class BoardReading(Struct, frozen=True):
    """What became of a board file: its numbers by the wire's number, and what is wrong."""

    numbers: dict[int, int]
    diagnostics: tuple[Diagnostic, ...]
    text: str


def read_board(path: Path) -> BoardReading:
    """Read a board file. Never raises for what a file may hold."""
    reading = read_toml(path, Board, BOARD_FILE)
    said = {} if reading.value is None else msgspec.to_builtins(reading.value)
    if said:
        reading = reading.refused([*_thrown_twice(said), *_led_twice(said), *_missing(said)])
    numbers = {_KNOWN[key]: value for key, value in said.items() if reading.value is not None}
    return BoardReading(numbers, reading.diagnostics, reading.text)


def _missing(said: dict[str, int]) -> Iterator[Mistake]:
    fix = "measure it on the board; without it the launcher does not arm"
    for key in _needed(said):
        if key not in said:
            yield Mistake((), f"{key} is missing", fix)


def _led_by_steps(axis: str, said: dict[str, int]) -> bool:
    return any(key in said for key in STEPPER[axis])


def _needed(said: dict[str, int]) -> list[str]:
    """Wheels throw and servos lead, unless a key of a tank or a stepping motor says otherwise."""
    steps = {axis: _led_by_steps(axis, said) for axis in STEPPER}
    axes = [key for axis in STEPPER for key in (STEPPER if steps[axis] else SERVO)[axis]]
    throws = TANK if any(key in said for key in TANK) else WHEELS
    return [*throws, *axes, *(() if all(steps.values()) else SERVOS)]


def _thrown_twice(said: dict[str, int]) -> Iterator[Mistake]:
    for key in WHEELS if any(key in said for key in TANK) else ():
        if key in said:
            yield Mistake(
                (key,),
                f"{key} is of a launcher with wheels, and there is a tank's key too",
                "keep those of what throws the ball",
                in_key=True,
            )


def _led_twice(said: dict[str, int]) -> Iterator[Mistake]:
    for axis in STEPPER:
        for key in SERVO[axis] if _led_by_steps(axis, said) else ():
            if key in said:
                yield Mistake(
                    (key,),
                    f"{key} is a servo's, and {axis} has the keys of a stepping motor too",
                    "keep those of what leads the axis",
                    in_key=True,
                )
