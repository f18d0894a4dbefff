"""What a step of the check is, what it found, and the person who does and sees the rest."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from enum import StrEnum
from typing import Protocol, TypeAlias

from msgspec import Struct

from feedscript_drivers.setting_up.board_check.host import BoardHost


class Do(StrEnum):
    """What the person is asked to do."""

    RESTART = "switch the board's supply off, wait three seconds, switch it on"
    RESET = "press the board's reset button"
    SWITCH_ON = "turn the arming switch on"
    SWITCH_OFF = "turn the arming switch off"
    PRESS = "press the emergency stop"
    RELEASE = "release the emergency stop"
    WATCH_WHEEL_1 = "watch all wheels' outputs; wheel 1 is asked for in a moment"
    WATCH_WHEEL_2 = "watch all wheels' outputs; wheel 2 is asked for in a moment"
    WATCH_WHEEL_3 = "watch all wheels' outputs; wheel 3 is asked for in a moment"
    WATCH_PAN = "watch the head; it is panned in a moment"
    WATCH_TILT = "watch the head; it is tilted in a moment"
    WATCH_GATE = "watch the gate"
    NO_BALL = "see that no ball lies on the gate"
    BALL = "hold the ball-on-the-gate switch closed, without a ball"
    STICK = "pass a stick through the ball sensor"
    CHANGE_PAN_HOME = "cover pan's home sensor, or uncover it where it is covered"
    CHANGE_TILT_HOME = "cover tilt's home sensor, or uncover it where it is covered"
    LEAVE_PAN_HOME = "let go of pan's home sensor"
    LEAVE_TILT_HOME = "let go of tilt's home sensor"
    TURN_1 = "turn wheel 1 by hand, briskly, until the next question"
    TURN_2 = "turn wheel 2 by hand, briskly, until the next question"
    TURN_3 = "turn wheel 3 by hand, briskly, until the next question"


class See(StrEnum):
    """What the person is asked; each is answered yes or no."""

    ALL_OFF = (
        "Is everything off: contactor, gate and all wheels' outputs below 0.3 V, "
        "no servo pulse, lamp dark?"
    )
    POWERED = "Is the contactor's output on, and the lamp lit?"
    ONLY_WHEEL_1 = "Did wheel 1's output show a signal, and no other wheel's?"
    ONLY_WHEEL_2 = "Did wheel 2's output show a signal, and no other wheel's?"
    ONLY_WHEEL_3 = "Did wheel 3's output show a signal, and no other wheel's?"
    ONLY_PAN = "Did the head pan, and not tilt?"
    ONLY_TILT = "Did the head tilt, and not pan?"
    GATE_ONCE = "Did the gate open once, for a moment, and shut again?"
    STOPPED_TURNING = "Do all wheels stand still again?"


class Person(Protocol):
    """Whoever stands at the board, its wheels without power."""

    async def do(self, what: Do) -> None:
        """Have something done; returns when it is done."""

    async def sees(self, what: See) -> bool:
        """Have something looked at."""

    async def measures(self, question: str) -> bool:
        """Have a figure held against an instrument."""


class Bench(Struct, frozen=True):
    """The board's line and the person at it."""

    host: BoardHost
    person: Person


#: Returns the figure; raises Wrong with what was found instead.
Trial: TypeAlias = Callable[[Bench], Awaitable[str]]


class Step(Struct, frozen=True):
    """One step: its name, what it does, and where to look when it goes wrong."""

    name: str
    trial: Trial
    help: str


class Found(Struct, frozen=True):
    """One step's outcome."""

    name: str
    figure: str
    fine: bool
    help: str = ""
