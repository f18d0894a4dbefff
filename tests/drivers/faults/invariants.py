"""Every way in which the truth about a ball breaks one of the five invariants.

1. a feed is never sent twice, and what is said of it is true;
2. no ball after a stop was acknowledged, or later than the watchdog time after the link died;
3. no ball leaves unless armed by a person after the last stop, collect or fault;
4. every ball that left is in the journal;
5. what is on the launcher's wheels is never faster than what was asked for.
"""

from __future__ import annotations

from collections.abc import Sequence

from feedscript_drivers.wire.protocol import Number, Times

from feedscript.launcher.port import Outcome
from tests.drivers.faults.witness import Gone, Witness


def broken_by(w: Witness, gone: Gone, wished: Sequence[int], most: Sequence[float]) -> list[str]:
    """Invariants 2, 3 and 5 for one ball, whose drives were asked to be ``wished``."""
    return [
        *_after_a_promise(w, gone),
        *_after_the_link(w, gone),
        *_unarmed(w, gone),
        *_wrong_speed(w, gone, wished, most),
    ]


def dishonest(feed_id: int, outcome: Outcome | None, *, left: bool) -> list[str]:
    """Invariants 1 and 4 for what the journal says of one feed."""
    if left and outcome is Outcome.NOT_SENT:
        return [f"1: feed {feed_id} left and was reported not sent"]
    if left and outcome is None:
        return [f"4: ball {feed_id} left and the journal does not know"]
    if not left and outcome is Outcome.LEFT:
        return [f"1: feed {feed_id} was reported left and did not leave"]
    return []


def _after_a_promise(w: Witness, gone: Gone) -> list[str]:
    return [
        f"2: ball {gone.ball.feed_id} left {gone.at_s - promise.from_s:.3f} s after the stop"
        for promise in w.promises
        if promise.from_s < gone.at_s <= promise.to_s
    ]


def _after_the_link(w: Witness, gone: Gone) -> list[str]:
    return [
        f"2: ball {gone.ball.feed_id} left {gone.at_s - death:.3f} s after the link"
        for death in w.deaths
        if gone.at_s > death + Times.WATCHDOG / 1000
        and not any(death < act <= gone.at_s for act in w.person_acts)
    ]


def _unarmed(w: Witness, gone: Gone) -> list[str]:
    feed_id, at_s = gone.ball.feed_id, gone.at_s
    armed = [act for act in w.person_acts if act <= at_s]
    if not armed:
        return [f"3: ball {feed_id} left and nobody had armed"]
    since = max(armed)
    late = [r for r, follows in w.resets if since <= r and r + follows < at_s]
    return [f"3: ball {feed_id} left {at_s - late[0]:.3f} s after a reset"] if late else []


def _wrong_speed(w: Witness, gone: Gone, wished: Sequence[int], most: Sequence[float]) -> list[str]:
    """Never faster than wished; slower only where the drives were told to stop meanwhile."""
    tolerance = w.end.make.stored.get(Number.SETTLE_RPM)
    lead_s = w.end.make.stored.get(Number.GATE_LEAD_MS) / 1000
    stopped = any(gone.at_s - lead_s <= reset <= gone.at_s for reset, _ in w.resets)
    found = []
    for drive, ceiling, wish in zip(gone.ball.drives, most, wished, strict=False):
        slow = drive < wish - tolerance and not stopped
        if drive > min(ceiling, wish) + tolerance or slow:
            found.append(f"5: ball {gone.ball.feed_id} left at {drive}, wished {wish}")
    return found
