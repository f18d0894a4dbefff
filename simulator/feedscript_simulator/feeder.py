"""The queue and the gate: one feed at a time, each ending in exactly one outcome."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

from feedscript_drivers.wire.protocol import FaultKind, FeedLetter, Number, Reason, Times
from msgspec import Struct, field

from feedscript_simulator.memory import FeedMemory, Outcome
from feedscript_simulator.plant import Fields, Plant
from feedscript_simulator.stored import Stored

QUEUE_PLACES = 4


class QueuedFeed(Struct, frozen=True):
    """A feed that was accepted."""

    feed_id: int
    leave_ms: float
    fields: Fields


class Departure(Struct, frozen=True):
    """A ball that left, as the court saw it: the truth that tests compare reports with."""

    feed_id: int
    device_ms: float
    drives: tuple[int, int, int]
    pose_cdeg: tuple[int, int, int]


class Befallen(Struct, frozen=True):
    """What befalls one ball on its way out. ``speed``: of the drives, against what they say."""

    jams: bool = False
    unseen: bool = False
    twice: bool = False
    late_ms: float = 0.0
    speed: float = 1.0


SOUND_BALL = Befallen()


class _Opening(Struct):
    """A feed whose gate is open. ``passes_ms`` is None where no ball comes."""

    feed: QueuedFeed
    opened_ms: float
    passes_ms: float | None
    befallen: Befallen
    cut_ms: float | None = None
    cut_reason: Reason = Reason.NONE


class Feeder(Struct):
    """Sans-IO. ``report`` takes event words, ``fault`` a fault, ``depart`` the ball itself."""

    plant: Plant
    stored: Stored
    memory: FeedMemory
    report: Callable[..., None]
    fault: Callable[[FaultKind, int], None]
    depart: Callable[[Departure], None]
    hopper: int
    jams_at: frozenset[int] = frozenset()  # which balls, counted from 1, jam
    befalls: Callable[[], Befallen] = lambda: SOUND_BALL  # asked of every ball
    queue: deque[QueuedFeed] = field(default_factory=deque)
    opening: _Opening | None = None
    opened_for_ms: float | None = None  # when the newest ball whose gate opened was to leave
    openings: int = 0

    @property
    def lead_ms(self) -> int:
        return self.stored.get(Number.GATE_LEAD_MS)

    def accept(self, feed: QueuedFeed, now_ms: float) -> None:
        """Queue a feed that was found acceptable."""
        self.memory.accept(feed.feed_id)
        self.queue.append(feed)
        self._turn_to_head(now_ms)

    def last_leave_ms(self) -> float | None:
        """When the feed before a new one is or was to leave; what was flushed does not count."""
        return self.queue[-1].leave_ms if self.queue else self.opened_for_ms

    def flush(self, reason: Reason, now_ms: float) -> None:
        """Shut the gate and empty the queue: what had not begun will not be sent."""
        if self.opening is not None and self.opening.cut_ms is None:
            self.opening.cut_ms, self.opening.cut_reason = now_ms, reason
            self._shut(self.opening)
        for feed in self.queue:
            self._miss(feed, reason)
        self.queue.clear()

    def clear(self) -> bool:
        """Whether no ball can leave any more that passed the gate."""
        return self.opening is None

    def next_wake_ms(self) -> float | None:
        """The next moment at which something happens by itself."""
        if self.opening is not None:
            return self._end_of(self.opening)
        if self.queue:
            due = self.queue[0].leave_ms - self.lead_ms
            return max(due, min(self.plant.ready_ms(), due + Times.READY_GRACE))
        return None

    def wake(self, now_ms: float) -> None:
        """Do what is due."""
        if self.opening is not None:
            if now_ms >= self._end_of(self.opening):
                self._finish(self.opening, now_ms)
            return
        due = self.queue[0].leave_ms - self.lead_ms
        if self.plant.ready_ms() <= now_ms:
            self._open(self.queue.popleft(), now_ms)
        elif now_ms >= due + Times.READY_GRACE:
            self._miss(self.queue.popleft(), Reason.NOT_READY)
            self._turn_to_head(now_ms)

    def _turn_to_head(self, now_ms: float) -> None:
        if self.opening is None and self.queue:
            self.plant.aim(self.queue[0].fields, now_ms)

    def _open(self, feed: QueuedFeed, now_ms: float) -> None:
        self.openings += 1
        self.opened_for_ms = feed.leave_ms
        befallen = self.befalls()
        comes = self.hopper > 0 and self.openings not in self.jams_at and not befallen.jams
        passes_ms = now_ms + self.lead_ms + befallen.late_ms
        self.opening = _Opening(feed, now_ms, passes_ms if comes else None, befallen)

    def _shut(self, opening: _Opening) -> None:
        """A ball that has not yet passed the gate stays in."""
        assert opening.cut_ms is not None
        clearing = self.stored.get(Number.GATE_CLEAR_MS)
        if opening.passes_ms is not None and opening.cut_ms < opening.passes_ms - clearing:
            opening.passes_ms = None

    def _end_of(self, opening: _Opening) -> float:
        if opening.passes_ms is not None:
            return opening.passes_ms
        if opening.cut_ms is not None:
            return opening.cut_ms + self.stored.get(Number.GATE_CLEAR_MS)
        return opening.opened_ms + Times.JAM

    def _finish(self, opening: _Opening, now_ms: float) -> None:
        self.opening = None
        feed_id, befallen = opening.feed.feed_id, opening.befallen
        if opening.passes_ms is not None and befallen.unseen:
            self._comes_out(feed_id, now_ms, befallen.speed)
            opening.passes_ms, self.opening = None, opening  # the gate still waits for it
            return
        if opening.passes_ms is not None:
            self._left(feed_id, now_ms, befallen)
        else:
            cut = opening.cut_ms is not None
            reason = opening.cut_reason if cut else Reason.FAULT
            self.memory.end(feed_id, Outcome(FeedLetter.UNKNOWN, reason=reason))
            self.report("LOST", feed_id, int(reason))
            if not cut:
                self.fault(FaultKind.JAM if self.hopper > 0 else FaultKind.EMPTY, 0)
        self._turn_to_head(now_ms)

    def _left(self, feed_id: int, now_ms: float, befallen: Befallen) -> None:
        self.memory.end(feed_id, Outcome(FeedLetter.LEFT, ms=now_ms))
        self._comes_out(feed_id, now_ms, befallen.speed)
        self.report("LEFT", feed_id)
        if befallen.twice:
            self._comes_out(0, now_ms, befallen.speed)
            self.fault(FaultKind.STRAY_BALL, 0)

    def _comes_out(self, feed_id: int, now_ms: float, speed: float) -> None:
        """The ball itself, seen or not; feed 0 is nobody's."""
        self.hopper -= 1
        first, second, third = (round(drive * speed) for drive in self.plant.measured(now_ms))
        self.depart(Departure(feed_id, now_ms, (first, second, third), self.plant.pose(now_ms)))
        self.plant.ball_passed(now_ms)

    def _miss(self, feed: QueuedFeed, reason: Reason) -> None:
        self.memory.end(feed.feed_id, Outcome(FeedLetter.NOT_SENT, reason=reason))
        self.report("MISS", feed.feed_id, int(reason))
