"""What films of a lesson told, beside what the coach recorded: kept, never instead of it.

Each time a film is looked over is a row of its own with the film's fingerprint and what looked it
over. Nothing is replaced: of a ball that was measured again, the newest counts and both are kept.
A film that does not show a ball says nothing of it, and leaves what another one told.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, TypeVar

import msgspec

from feedscript.journal.store import Journal
from feedscript.journal.stored import Count, FeedId, Metres, Utc, YesOrNo, believed
from feedscript.plan.model import Result

#: Why a ball is not known whose time the film does not show; any other reason is the film's word.
NOT_IN_THE_FILM = "no-pictures"
#: A shot is suggested to be what is so likely; below, it is too close to tell. Design value.
SURELY = 0.8

#: A reason by its name, "" for none.
Slug = Annotated[str, msgspec.Meta(pattern=r"^[a-z-]{0,40}$")]
Variance = Annotated[float, msgspec.Meta(ge=0.0, le=1e4)]
Covariance = Annotated[float, msgspec.Meta(ge=-1e4, le=1e4)]
Seconds = Annotated[float, msgspec.Meta(ge=0.0, le=60.0)]
Speed = Annotated[float, msgspec.Meta(ge=0.0, le=200.0)]
Share = Annotated[float, msgspec.Meta(ge=0.0, le=1.0)]
#: (x, x), (x, y) and (y, y) of a place's covariance in square metres.
Spread = tuple[float, float, float]


class Film(msgspec.Struct, frozen=True, kw_only=True):
    """One looking-over of a film."""

    utc_s: Utc  # when
    made_by: Annotated[str, msgspec.Meta(max_length=200)]  # what program did it, and its version
    sha256: Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{64}$")]  # of the film's bytes


class LandingSeen(msgspec.Struct, frozen=True, kw_only=True):
    """Where a fed ball first came down, in court axes; or why that is not known.

    ``camera_..._m2`` is the part of the covariance that comes from where the camera stands: all
    balls of a film have it in common. ``refused``: a person said that it is not this ball.
    """

    feed_id: FeedId
    why: Slug = ""
    refused: YesOrNo = 0
    x_m: Metres | None = None
    y_m: Metres | None = None
    xx_m2: Variance | None = None
    xy_m2: Covariance | None = None
    yy_m2: Variance | None = None
    camera_xx_m2: Variance | None = None
    camera_xy_m2: Covariance | None = None
    camera_yy_m2: Variance | None = None
    speed_mps: Speed | None = None  # at the mouth
    speed_sd_mps: Speed | None = None
    flight_s: Seconds | None = None  # from the mouth to the bounce
    flight_sd_s: Seconds | None = None

    @property
    def landing_m(self) -> tuple[float, float] | None:
        return _pair(self.x_m, self.y_m)

    @property
    def spread_m2(self) -> Spread | None:
        return _three(self.xx_m2, self.xy_m2, self.yy_m2)

    @property
    def camera_spread_m2(self) -> Spread | None:
        return _three(self.camera_xx_m2, self.camera_xy_m2, self.camera_yy_m2)


class ShotSeen(msgspec.Struct, frozen=True, kw_only=True):
    """What may have become of a player's shot: a suggestion, never a record.

    ``result`` is the likeliest, and ``sure`` how likely; no place where it did not come down.
    """

    feed_id: FeedId
    why: Slug = ""
    result: Result | None = None
    sure: Share | None = None
    x_m: Metres | None = None
    y_m: Metres | None = None
    xx_m2: Variance | None = None
    xy_m2: Covariance | None = None
    yy_m2: Variance | None = None

    @property
    def landing_m(self) -> tuple[float, float] | None:
        return _pair(self.x_m, self.y_m)

    @property
    def spread_m2(self) -> Spread | None:
        return _three(self.xx_m2, self.xy_m2, self.yy_m2)

    @property
    def suggested(self) -> Result | None:
        """What it was, where that is sure enough."""
        return self.result if self.result is not None and (self.sure or 0.0) >= SURELY else None


def _pair(x: float | None, y: float | None) -> tuple[float, float] | None:
    return None if x is None or y is None else (x, y)


def _three(xx: float | None, xy: float | None, yy: float | None) -> Spread | None:
    return None if xx is None or xy is None or yy is None else (xx, xy, yy)


def keep_film(
    journal: Journal,
    number: int,
    film: Film,
    landings: Sequence[LandingSeen],
    shots: Sequence[ShotSeen] = (),
) -> int:
    """Write down what a film told of a lesson, whole or not at all; its number in the journal."""
    with journal.together():
        film_id = journal.write("film", {"session_id": number, **msgspec.structs.asdict(film)})
        head = {"film_id": film_id, "session_id": number}
        for table, rows in (("landing", landings), ("shot", shots)):
            for row in rows:
                journal.write(table, head | msgspec.structs.asdict(row))
    return film_id


class KeptFilm(Film, frozen=True, kw_only=True):
    """A looking-over by its number in the journal."""

    id: Count


def films_of(journal: Journal, number: int) -> list[KeptFilm]:
    """Every looking-over of a lesson's films, oldest first."""
    rows = journal.rows("SELECT * FROM film WHERE session_id = ? ORDER BY id", (number,))
    return believed(journal.path, number, rows, KeptFilm)


def landings_seen(journal: Journal, number: int) -> dict[int, LandingSeen]:
    """Of each ball what counts of what films told of it, by its number."""
    query = "SELECT * FROM landing WHERE session_id = ? ORDER BY film_id, feed_id"
    return _newest(believed(journal.path, number, journal.rows(query, (number,)), LandingSeen))


def shots_seen(journal: Journal, number: int) -> dict[int, ShotSeen]:
    """Of each shot what counts of what films told of it, by its ball's number."""
    query = "SELECT * FROM shot WHERE session_id = ? ORDER BY film_id, feed_id"
    return _newest(believed(journal.path, number, journal.rows(query, (number,)), ShotSeen))


Told = TypeVar("Told", LandingSeen, ShotSeen)


def _newest(rows: Sequence[Told]) -> dict[int, Told]:
    """The last that a film which shows the ball says of it."""
    found: dict[int, Told] = {}
    for row in rows:
        if row.why != NOT_IN_THE_FILM or row.feed_id not in found:
            found[row.feed_id] = row
    return found
