"""What the launcher refuses by itself, whatever the host believes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from feedscript_drivers.wire.protocol import Code, Number, Times
from msgspec import Struct

from feedscript_simulator.memory import FeedMemory
from feedscript_simulator.stored import Stored

if TYPE_CHECKING:
    from feedscript_simulator.feeder import QueuedFeed
    from feedscript_simulator.plant import Fields


class Refusal(Struct, frozen=True):
    """A code and the details that the protocol gives with it."""

    code: Code
    detail: int | None = None
    second: int | None = None

    def details(self) -> tuple[str, ...]:
        return tuple(str(part) for part in (self.detail, self.second) if part is not None)


_ANGLES = (
    (Number.PAN_LEAST_CDEG, Number.PAN_MOST_CDEG),
    (Number.TILT_LEAST_CDEG, Number.TILT_MOST_CDEG),
    (Number.ROLL_LEAST_CDEG, Number.ROLL_MOST_CDEG),
)
_DRIVES = (Number.DRIVE_1_MOST, Number.DRIVE_2_MOST, Number.DRIVE_3_MOST)


def check_setting(stored: Stored, ceiling: tuple[int, int, int], fields: Fields) -> Refusal | None:
    """Limits first, then the ceiling that it was armed under."""
    drives, angles = fields[:3], fields[3:]
    for drive, number in zip(drives, _DRIVES, strict=True):
        if not 0 <= drive <= stored.get(number):
            return Refusal(Code.OUT_OF_LIMITS, int(number))
    for angle, (least, most) in zip(angles, _ANGLES, strict=True):
        if angle < stored.get(least):
            return Refusal(Code.OUT_OF_LIMITS, int(least))
        if angle > stored.get(most):
            return Refusal(Code.OUT_OF_LIMITS, int(most))
    for which, (drive, most_now) in enumerate(zip(drives, ceiling, strict=True), start=1):
        if drive > most_now:
            return Refusal(Code.ABOVE_CEILING, which)
    return None


def check_feed(
    stored: Stored,
    memory: FeedMemory,
    ceiling: tuple[int, int, int],
    feed: QueuedFeed,
    now_ms: float,
    before_ms: float | None,
    full: bool,
) -> Refusal | None:
    """Everything about a feed. ``before_ms``: when the feed before it is or was to leave."""
    if memory.is_used(feed.feed_id):
        return Refusal(Code.ID_USED, memory.highest)
    if full:
        return Refusal(Code.QUEUE_FULL)
    trouble = check_setting(stored, ceiling, feed.fields)
    if trouble is not None:
        return trouble
    if feed.leave_ms < now_ms + stored.get(Number.GATE_LEAD_MS):
        return Refusal(Code.LATE, int(now_ms) % 2**32)
    if feed.leave_ms > now_ms + Times.HORIZON:
        return Refusal(Code.TOO_FAR, Times.HORIZON)
    least_ms = stored.get(Number.LEAST_INTERVAL_MS)
    if before_ms is not None and feed.leave_ms < before_ms + least_ms:
        return Refusal(Code.TOO_SOON, least_ms)
    return None
