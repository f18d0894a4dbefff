"""The numbers and words of the wire, version 2 (``shared/protocol.md``).

``shared/protocol.json`` holds the same tables for both sides of the wire; a test compares them.
"""

from __future__ import annotations

from enum import IntEnum, IntFlag, StrEnum
from typing import Final

from feedscript.launcher.port import LauncherState

VERSION: Final = 2
MOST_BODY: Final = 88
MOST_LINE: Final = 113

#: A number further ahead of the last accepted one than this is none that the host has reached.
SEQUENCE_AHEAD: Final = 32
COUNTER_AHEAD: Final = 256
KEEPS_FEEDS: Final = 16
KEEPS_EVENTS: Final = 8
KEEPS_FAULTS: Final = 32
#: In the log of faults a start is told as this and its cause.
LOG_START: Final = 16
UNSET: Final = -(2**31)


class StopCharacter(IntEnum):
    """Bytes that are taken out of the stream before the line reader."""

    STOP = 0x05
    HOLD = 0x10
    EMERGENCY = 0x1F


#: The launcher's states by their number on the wire.
STATES: Final[tuple[LauncherState, ...]] = (
    LauncherState.SAFE,
    LauncherState.AWAITING_ARM,
    LauncherState.ARMED,
    LauncherState.HELD,
    LauncherState.STOPPING,
    LauncherState.STOPPED,
    LauncherState.FAULT,
)

#: What stands after each command word, one letter an argument (see ``ARGUMENT_RANGES``); ``?``
#: says that the argument before it may be missing.
COMMANDS: Final[dict[str, str]] = {
    "HELLO": "uu",
    "WHO": "",
    "OPEN": "UU",
    "ARM": "ccc",
    "CODE": "U",
    "DISARM": "",
    "PREP": "dddaaa",
    "FEED": "fUdddaaa",
    "HOLD": "",
    "GO": "",
    "STOP": "k",
    "STAT": "",
    "POSE": "",
    "HIST": "f",
    "EVT": "u",
    "GET": "u",
    "SET": "ui",
    "HASH": "h?",
    "NAME": "n",
    "PAIR": "h",
    "UNPAIR": "",
    "CNTS": "",
    "LOG": "u",
}

#: Least and most of each kind of number.
ARGUMENT_RANGES: Final[dict[str, tuple[int, int]]] = {
    "u": (0, 65535),
    "U": (0, 2**32 - 1),
    "f": (1, 2**32 - 1),
    "k": (0, 1),
    "i": (-(2**31), 2**31 - 1),
    "c": (0, 32000),
    "d": (-32000, 32000),
    "a": (-18000, 18000),
}

WITHOUT_SESSION: Final = frozenset(
    ("HELLO", "WHO", "STAT", "GET", "HASH", "CNTS", "LOG", "OPEN", "STOP")
)
WITHOUT_KEY: Final = frozenset(("HELLO", "WHO", "STAT", "GET", "HASH", "CNTS", "LOG", "STOP"))
#: Answered whatever their number; they leave the sequence alone.
ASIDE: Final = frozenset(("HELLO", "WHO", "LOG"))


class Code(IntEnum):
    """Why a command was refused."""

    MALFORMED = 1
    UNKNOWN_WORD = 2
    NO_SESSION = 3
    WRONG_STATE = 4
    HELD = 5
    QUEUE_FULL = 6
    ID_USED = 7
    OUT_OF_LIMITS = 8
    ABOVE_CEILING = 9
    LATE = 10
    TOO_SOON = 11
    TOO_FAR = 12
    KEY_NEEDED = 13
    CABLE_ONLY = 14
    LATCHED = 15
    FAULT_PRESENT = 16
    NOT_KEPT = 17
    VERSION = 18
    NOT_CAPABLE = 19
    WRONG_CODE = 20
    NOT_CONFIGURED = 21


class Reason(IntEnum):
    """Why a state changed or a feed was not sent."""

    NONE = 0
    HOST_LINE = 1
    STOP_CHARACTER = 2
    SILENCE = 3
    SWITCH = 4
    EMERGENCY_INPUT = 5
    HOLD_LIMIT = 6
    NOBODY_ARMED = 7
    POWER_UP = 8
    OPENED = 9
    FAULT = 10
    LATE = 11
    NOT_READY = 12
    PERSON = 13
    DRIVES_OFF = 14
    NEVER_ACCEPTED = 15
    HOMING = 16


class FaultKind(IntEnum):
    """What the launcher found wrong with itself."""

    JAM = 1
    EMPTY = 2
    DRIVE_NOT_AT_SPEED = 3
    LOW_VOLTAGE = 4
    OVER_TEMPERATURE = 5
    STRAY_BALL = 6
    DRIVE_OVER_CEILING = 7
    SENSOR = 8
    LIMITS_SPOILED = 9
    DRIVE_SILENT = 10
    DRIVE_LOST_SPEED = 11
    AXIS_NOT_HOMED = 12
    AXIS_LOST_STEPS = 13


class Capability(IntFlag):
    """Parts that a launcher may have."""

    ARMING_SWITCH = 0x001
    ARMING_CODE = 0x002
    HOPPER_COUNT = 0x004
    BALL_SENSOR = 0x008
    VOLTAGE = 0x010
    TEMPERATURE = 0x020
    ROLL = 0x040
    THIRD_DRIVE = 0x080
    KEYED = 0x100
    EMERGENCY_INPUT = 0x200
    DRIVE_FEEDBACK = 0x400


class FeedLetter(StrEnum):
    """What became of a feed, as ``HIST`` spells it."""

    LEFT = "L"
    NOT_SENT = "N"
    QUEUED = "Q"
    UNKNOWN = "U"


class Number(IntEnum):
    """Stored and measured numbers, as ``GET`` and ``SET`` name them."""

    DRIVE_1_MOST = 1
    DRIVE_2_MOST = 2
    DRIVE_3_MOST = 3
    PAN_LEAST_CDEG = 4
    PAN_MOST_CDEG = 5
    TILT_LEAST_CDEG = 6
    TILT_MOST_CDEG = 7
    ROLL_LEAST_CDEG = 8
    ROLL_MOST_CDEG = 9
    LEAST_INTERVAL_MS = 10
    HOPPER_BALLS = 11
    SETTLE_RPM = 12
    GATE_LEAD_MS = 13
    GATE_CLEAR_MS = 14
    PAN_RATE_CDEG_S = 15
    TILT_RATE_CDEG_S = 16
    HOLD_LIMIT_MS = 17
    LEAST_VOLTAGE_MV = 18
    MOST_TEMPERATURE_C = 19
    KEY_NEEDED = 20
    OWN_NUMBER = 21
    VOLTAGE_MV = 100
    TEMPERATURE_C = 101
    HOMING_MS = 102
    FIRMWARE = 110  # its version: 10203 is 1.2.3


class Times:
    """Times of the wire in milliseconds; nothing on the wire changes them."""

    SILENCE: Final = 700
    WATCHDOG: Final = 1000
    RUN_DOWN: Final = 300
    EMERGENCY: Final = 10
    ANSWER: Final = 50
    HEARTBEAT: Final = 200
    HEARTBEAT_SAFE: Final = 1000
    HEARTBEAT_AGAIN: Final = 75
    COMMAND_AGAIN: Final = 150
    STOP_AGAIN: Final = 50
    LINK_LOST: Final = 700
    PERSON: Final = 60_000
    HOLD_MOST: Final = 120_000
    HORIZON: Final = 120_000
    READY_GRACE: Final = 50
    JAM: Final = 1500
    DRIVE_REACH: Final = 5000


def version_of(number: int) -> str:
    """A firmware's version as people write it; "" for one that is not told."""
    if number <= 0:
        return ""
    return f"{number // 10_000}.{number // 100 % 100}.{number % 100}"


def spelled(member: IntEnum) -> str:
    """The name of a code, reason or fault as people and the port spell it (``not-ready``)."""
    return member.name.lower().replace("_", "-")
