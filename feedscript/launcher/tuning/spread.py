"""How widely a launcher scatters, measured against what its profile says."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.launcher.profile.model import Profile

Array = NDArray[np.float64]

_CONFIDENCE = 0.95
_LEAST, _MOST = 0.1, 10.0


class Spread(msgspec.Struct, frozen=True):
    """A scale on the profile's dispersion and its confidence interval."""

    scale: float
    least: float
    most: float

    @classmethod
    def unknown(cls) -> Spread:
        return cls(1.0, 0.0, float("inf"))

    @property
    def known(self) -> bool:
        """Whether the interval is narrow enough to be worth writing down."""
        return self.most / max(self.least, 1e-9) < 3.0

    @property
    def differs(self) -> bool:
        """Whether it is known, and the profile's own dispersion lies outside the interval.

        A narrower scatter makes the safety rules allow more, so it is not believed on a hint.
        """
        return self.known and not self.least <= 1.0 <= self.most


def spread_of(residual: Array, scatter: Array, tape: Array, factors: int) -> Spread:
    """The scale k for which sum r^2 / (k^2 scatter + tape) is what chance would make it.

    ``scatter`` and ``tape`` are variances; ``factors`` were fitted from the same residuals. The sum
    at the true k follows chi-squared with n - factors degrees of freedom, so the interval's ends
    are where it takes that law's quantiles.
    """
    from scipy.stats import chi2

    seen = np.isfinite(residual)
    residual, scatter, tape = residual[seen], scatter[seen], tape[seen]
    spare = len(residual) - factors
    if spare < 2:
        return Spread.unknown()
    tail = (1 - _CONFIDENCE) / 2

    def scale_at(total: float) -> float:
        low, high = _LEAST, _MOST
        for _ in range(60):
            middle = (low * high) ** 0.5
            over = float(np.sum(residual**2 / (middle**2 * scatter + tape))) > total
            low, high = (middle, high) if over else (low, middle)
        return low

    return Spread(
        scale_at(float(spare)),
        scale_at(float(chi2.ppf(1 - tail, spare))),
        scale_at(float(chi2.ppf(tail, spare))),
    )


def scaled_dispersion(profile: Profile, along: Spread, across: Spread) -> Profile:
    """The profile with its dispersion scaled where the landings contradict it."""
    lengthwise = along.scale if along.differs else 1.0
    sideways = across.scale if across.differs else 1.0
    old = profile.dispersion
    scaled = msgspec.structs.replace(
        old,
        speed_share=min(old.speed_share * lengthwise, 0.3),
        spin_rpm=min(old.spin_rpm * lengthwise, 2000.0),
        elevation_deg=min(old.elevation_deg * lengthwise, 10.0),
        azimuth_deg=min(old.azimuth_deg * sideways, 10.0),
    )
    return msgspec.structs.replace(profile, dispersion=scaled)
