"""What became of the feeds of a session, as far back as a small launcher remembers."""

from __future__ import annotations

from collections import OrderedDict

from feedscript_drivers.wire.protocol import KEEPS_FEEDS, FeedLetter, Reason
from msgspec import Struct, field


class Outcome(Struct, frozen=True):
    """One feed's end, or that it still waits."""

    letter: FeedLetter
    ms: float = 0.0
    reason: Reason = Reason.NONE


class FeedMemory(Struct):
    """Lives in fast memory: a power cut forgets it, another session's token empties it."""

    session: int | None = None
    highest: int = 0
    left: int = 0
    _forgotten: int = 0  # the memory does not reach back to this id
    _outcomes: OrderedDict[int, Outcome] = field(default_factory=OrderedDict)

    def open(self, session: int) -> bool:
        """Begin or continue a session; whether the memory was kept."""
        if session == self.session:
            return True
        self.session, self.highest, self.left, self._forgotten = session, 0, 0, 0
        self._outcomes.clear()
        return False

    def is_used(self, feed_id: int) -> bool:
        """Whether an id may not be fed any more."""
        return feed_id <= self.highest

    def accept(self, feed_id: int) -> None:
        self.highest = feed_id
        self._keep(feed_id, Outcome(FeedLetter.QUEUED))

    def end(self, feed_id: int, outcome: Outcome) -> None:
        if outcome.letter is FeedLetter.LEFT:
            self.left = feed_id
        self._keep(feed_id, outcome)

    def ask(self, feed_id: int) -> Outcome:
        """What became of a feed. Asking about one that was never accepted settles it."""
        known = self._outcomes.get(feed_id)
        if known is not None:
            return known
        self.highest = max(self.highest, feed_id)
        if feed_id > self._forgotten:
            return Outcome(FeedLetter.NOT_SENT, reason=Reason.NEVER_ACCEPTED)
        return Outcome(FeedLetter.UNKNOWN)

    def _keep(self, feed_id: int, outcome: Outcome) -> None:
        self._outcomes[feed_id] = outcome
        while len(self._outcomes) > KEEPS_FEEDS:
            self._forgotten, _ = self._outcomes.popitem(last=False)
