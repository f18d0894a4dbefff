"""What a film suggests of players' shots, beside what the coach tapped: never instead of it."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from feedscript.journal.films import ShotSeen
from feedscript.journal.stored import LANDING_MOST_M
from feedscript.plan.model import Result
from feedscript.watch.region import region_95
from feedscript.watch.shots.seen import NoShot, Shot


class Suggested(msgspec.Struct, frozen=True, kw_only=True, tag_field="shot", tag="seen"):
    """A shot that was seen. ``result`` is null where what was seen fits two results too well.

    ``odds``: how likely each result is. ``landing_m`` in court axes, null for a ball that did not
    pass the net; ``region_m`` and ``region_turn_deg`` as of a fed ball. ``differs``: the coach
    tapped something else.
    """

    number: int
    result: Result | None
    odds: dict[Result, float]
    landing_m: tuple[float, float] | None
    covariance_m2: tuple[tuple[float, float], tuple[float, float]] | None
    region_m: tuple[float, float] | None
    region_turn_deg: float | None
    speed_mps: float
    speed_sd_mps: float
    pictures: int
    tapped: Result | None
    differs: bool

    @property
    def likeliest(self) -> Result:
        return max(self.odds, key=lambda one: self.odds[one])


class Unseen(msgspec.Struct, frozen=True, kw_only=True, tag_field="shot", tag="not-seen"):
    """A shot of which nothing is said, and why."""

    number: int
    reason: str
    why: str
    tapped: Result | None


def suggested(
    shots: Mapping[int, Shot | NoShot], taps: Mapping[int, Result]
) -> tuple[Suggested | Unseen, ...]:
    """Every shot in the order of the balls; ``taps`` are the coach's, by the ball's number."""
    return tuple(_one(shots[number], taps.get(number)) for number in sorted(shots))


def _one(shot: Shot | NoShot, tapped: Result | None) -> Suggested | Unseen:
    if isinstance(shot, NoShot):
        reason = shot.why.name.lower().replace("_", "-")
        return Unseen(number=shot.number, reason=reason, why=shot.why.value, tapped=tapped)
    region = None if shot.covariance_m2 is None else region_95(shot.covariance_m2)
    result = shot.suggested
    return Suggested(
        number=shot.number,
        result=result,
        odds=dict(shot.odds),
        landing_m=shot.landing_m,
        covariance_m2=shot.covariance_m2,
        region_m=None if region is None else region[0],
        region_turn_deg=None if region is None else region[1],
        speed_mps=shot.speed_mps.value,
        speed_sd_mps=shot.speed_mps.sd,
        pictures=shot.pictures,
        tapped=tapped,
        differs=result is not None and tapped is not None and result is not tapped,
    )


def rows_of(shots: tuple[Suggested | Unseen, ...]) -> list[ShotSeen]:
    """As the journal keeps them, without the taps, which it has."""
    return [_row(one) for one in shots]


def _row(one: Suggested | Unseen) -> ShotSeen:
    if isinstance(one, Unseen):
        return ShotSeen(feed_id=one.number, why=one.reason)
    row = ShotSeen(feed_id=one.number, result=one.likeliest, sure=one.odds[one.likeliest])
    place, spread = one.landing_m, one.covariance_m2
    if place is None or spread is None or max(map(abs, place)) > LANDING_MOST_M:
        return row
    (xx, xy), (_, yy) = spread
    x_m, y_m = place
    return msgspec.structs.replace(row, x_m=x_m, y_m=y_m, xx_m2=xx, xy_m2=xy, yy_m2=yy)
