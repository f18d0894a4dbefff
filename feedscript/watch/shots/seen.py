"""What is said of one shot: how it went on, by a film; or that it was not seen, and why."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum

import msgspec

from feedscript.journal.films import SURELY
from feedscript.plan.model import Result
from feedscript.watch.fit.measured import Value


class WhyNot(Enum):
    """Why nothing is said of a shot."""

    FEED_UNSEEN = "the fed ball itself was not measured"
    NO_PICTURES = "the video does not show the time after this feed"
    LET_GO = "nobody hit it: it was seen to fly on to its second bounce"
    NO_SHOT = "no ball was seen on its way back"
    TOO_FEW = "it was seen in too few pictures"
    NOT_LIKELY = "what was seen there flies unlike a ball that was hit"
    CONTACT_UNSEEN = "what was seen there was not seen near where a racket met the fed ball"
    TWO_WAYS = "two ways fit what was seen, and end otherwise"


class NoShot(msgspec.Struct, frozen=True, kw_only=True):
    """Nothing is said of this ball's shot."""

    number: int
    why: WhyNot


class Shot(msgspec.Struct, frozen=True, kw_only=True):
    """A ball's way back, in court axes and the video's time.

    ``odds``: of all ways that fit what was seen, which share ended how. ``landing_m`` is where the
    ball came down beyond the net, with its covariance; None where it did not.
    """

    number: int
    struck_s: float
    struck_m: tuple[float, float, float]
    speed_mps: Value  # as it left the racket
    odds: Mapping[Result, float]
    landing_m: tuple[float, float] | None
    covariance_m2: tuple[tuple[float, float], tuple[float, float]] | None
    pictures: int

    @property
    def likeliest(self) -> Result:
        return max(self.odds, key=lambda one: self.odds[one])

    @property
    def sure(self) -> float:
        """How likely that is."""
        return self.odds[self.likeliest]

    @property
    def suggested(self) -> Result | None:
        """What it was, where that is sure enough."""
        return self.likeliest if self.sure >= SURELY else None
