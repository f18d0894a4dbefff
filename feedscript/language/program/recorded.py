"""What may be recorded of a player's shot."""

from __future__ import annotations

from enum import StrEnum


class Recorded(StrEnum):
    """In the exercise's target, in court, or one of the trade's four errors.

    What is in the target is in court too.
    """

    TARGET = "in target"
    IN = "in"
    NET = "net"
    LONG = "long"
    LEFT = "left"
    RIGHT = "right"


#: What is in court.
GOOD = (Recorded.TARGET, Recorded.IN)
#: What is not.
ERRORS = (Recorded.NET, Recorded.LONG, Recorded.LEFT, Recorded.RIGHT)
