"""What a simulated launcher itself saw of a lesson: every ball, every state, every fault's moment.

It is written at the far end and never crosses the link, so that what was promised can be held
against it whatever the host believes. Moments are seconds of ``anyio.current_time()``.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Protocol, runtime_checkable

import msgspec

from feedscript.launcher.port import LauncherState


class Kind(StrEnum):
    """What was seen."""

    LEFT = "left"
    STATE = "state"
    POWER = "power"  # the drives' power came or went
    STRUCK = "struck"  # the fault took effect


class Seen(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that happened there.

    ``by_person``: into this state by a person's act at the launcher. ``feed_id`` 0: a ball that
    no feed asked for. ``fault``: the name of the one that struck.
    """

    at_s: float
    kind: Kind
    feed_id: int = 0
    session: int = 0
    drives: tuple[float, ...] = ()  # as fast as they really were
    state: LauncherState = LauncherState.SAFE
    reason: str = ""
    by_person: bool = False
    powered: bool = False
    fault: str = ""


@runtime_checkable
class SeesItself(Protocol):
    """What a simulated launcher offers beside the port."""

    def seen(self) -> tuple[Seen, ...]:
        """All of it so far, in the order in which it happened."""
        ...
