"""What the page needs to let a landing's flight follow the hand: the feed's flights to a grid of
places, between which it reads (``static/ghost.js``)."""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.editor.document import Document
from feedscript.plan.aiming.field import Field, FlightThere, field


class Ghost(msgspec.Struct, frozen=True):
    """One flight: x, y and z of its points one after another, in metres.

    ``spread`` is the covariance of its landings: xx, xy, yy in m^2.
    """

    path: tuple[float, ...]
    after: tuple[float, ...]
    spread: tuple[float, float, float]


class Ghosts(msgspec.Struct, frozen=True):
    """The flights of one feed to every place; those of one x after another."""

    xs: tuple[float, ...]
    ys: tuple[float, ...]
    flights: tuple[Ghost | None, ...]


def ghosts(document: Document, feed: int) -> Ghosts | None:
    """Of the feed with this index; None where nothing of it is known as the words stand."""
    verdict = document.verdict
    plan = verdict.plan or verdict.draft
    if plan is None or verdict.places is None or not 0 <= feed < len(plan.feeds):
        return None
    wish = verdict.places.wishes[feed]
    found: Field = field(wish, plan.feeds[feed], plan, verdict.profiles, document.memo)
    flights = tuple(None if one is None else _ghost(one) for one in found.flights)
    return Ghosts(found.xs_m, found.ys_m, flights)


def _ghost(flight: FlightThere) -> Ghost:
    after = flight.after_m
    turn = np.radians(flight.scatter.turn_deg)
    along, across = flight.scatter.major_m**2, flight.scatter.minor_m**2
    cos, sin = float(np.cos(turn)), float(np.sin(turn))
    spread = (
        along * cos * cos + across * sin * sin,
        (along - across) * cos * sin,
        along * sin * sin + across * cos * cos,
    )
    return Ghost(_flat(flight.path_m), () if after is None else _flat(after), spread)


def _flat(points: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> tuple[float, ...]:
    """To the millimetre; none of a ball that does not come down."""
    if not np.isfinite(points).all():
        return ()
    return tuple(np.round(points, 3).ravel().tolist())
