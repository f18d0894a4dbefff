"""From a feed's flights, as it is and strayed, to its corridor.

Every flight is read at the same shares of its own time from release to first bounce, and from there
to the second, so that every place a ball passes is in the corridor at some cut, whichever way the
ball moves there: a lob may drift back after its bounce. What each quantity alone moves the ball
there, what all together do in the worst ways, and what another surface would do, stands beside the
way of the unstrayed ball.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np

from feedscript.flight.bounce import Surface
from feedscript.flight.motion.tracks import Tracks
from feedscript.memo import content
from feedscript.safety.hazards.envelope import Array, Envelope
from feedscript.safety.hazards.recomputed_flights import FlightBatch
from feedscript.safety.hazards.strays import SINGLE
from feedscript.safety.hazards.throws import ROWS, Throws

#: Points of each flight: between two of them a ball falls away from the straight line by
#: g t^2 / 8, 2 mm for a flight of 1.5 s, 7 mm for one of 2.9 s.
POINTS = 40


def corridors(batches: Sequence[FlightBatch], surfaces: tuple[Surface, ...]) -> dict[int, Envelope]:
    """The corridor of every feed, by its index in the plan."""
    found: dict[int, Envelope] = {}
    for throws in (batch.throws for batch in batches):
        keys = [(content(surfaces), key) for key in throws.keys]
        swept = throws.memo.each("corridor", keys, partial(_swept, throws, surfaces))
        found.update(zip(throws.feeds, swept, strict=True))
    return found


def _swept(throws: Throws, surfaces: tuple[Surface, ...], rows: Sequence[int]) -> list[Envelope]:
    """The corridor of the feeds of some rows."""
    throws = throws.of(rows)
    found = np.concatenate(list(_over_both_bounces(throws, surfaces)), axis=1)
    throws.memo.go_on()
    return [_envelope(feed) for feed in found]


def _envelope(feed: Array) -> Envelope:
    """Of one feed's ways (ways, cuts, 3)."""
    moved = np.swapaxes(feed - feed[0], 0, 1)
    return Envelope(
        centre_m=feed[0],
        single_m=moved[:, 1:SINGLE],
        joint_m=moved[:, SINGLE:ROWS],
        other_m=moved[:, ROWS:],
    )


def _over_both_bounces(throws: Throws, surfaces: tuple[Surface, ...]) -> Iterator[Array]:
    """Whole ways (feeds, ways, cuts, 3): all on the first surface, the unstrayed on others."""
    feeds, (first, *others) = len(throws.feeds), surfaces
    tracks, on = throws.through(first, POINTS)
    before = _places(tracks, feeds)
    yield np.concatenate([before, _places(on, feeds)], axis=2)
    for surface in others:
        after = _places(throws.after(surface, POINTS), feeds)
        yield np.concatenate([before[:, :1], after], axis=2)


def _places(tracks: Tracks, feeds: int) -> Array:
    """Places by feed and way: (feeds, ways, points, 3)."""
    return tracks.place_m.reshape(feeds, -1, POINTS, 3)
