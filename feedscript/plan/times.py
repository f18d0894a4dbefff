"""Time in a plan: whole milliseconds, written as seconds."""

from __future__ import annotations

#: From the bounce to the earliest moment at which a person can have seen and tapped how the shot
#: ended: about 0.3 s to the player's contact and 0.2 s of the tapper's reaction. Design value.
SEEN_AFTER_BOUNCE_S = 0.5
#: After the last ball's outcome could be seen a question waits so long for a tap. Design value.
TAP_S = 2.0


def milliseconds(seconds: float) -> int:
    """A plan's time as the whole number of milliseconds that it is."""
    return round(seconds * 1000.0)
