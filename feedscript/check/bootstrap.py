"""How surely a fit's factors are known, told by the balls alone: fits to balls drawn again.

The fit's own intervals take the balls' scatter to follow the normal law, and to be as wide as the
profile says from one setting to the other. These do not: as many balls as were measured are drawn
again and again from them, the fit is made anew, and the interval is where the middle 95 % of its
factors lie (percentile intervals: Efron and Tibshirani, An Introduction to the Bootstrap, 1993,
chapter 13). Neither sees a bias that all balls of a setting share.
"""

from __future__ import annotations

from typing import Any

import msgspec
import numpy as np

from feedscript.check.in_pieces.pieces import REFITS, RefitsAnswer, RefitsPiece
from feedscript.check.in_pieces.refits import Measured
from feedscript.check.in_pieces.watch import Watch, unwatched
from feedscript.check.in_pieces.work import Alone, Workers
from feedscript.flight.motion.conditions import Conditions
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.tuning.factors import Factor
from feedscript.launcher.tuning.fit import CONFIDENCE, Fit
from feedscript.launcher.tuning.shots import Shots, Tape


class Interval(msgspec.Struct, frozen=True):
    """Where the middle of the refits' values of one factor lies."""

    factor: Factor
    least: float
    most: float


class Bootstrap(msgspec.Struct, frozen=True):
    """What the refits told, and by which draws."""

    refits: int
    seed: int
    intervals: tuple[Interval, ...]


def bootstrap(
    measured: Measured,
    found: Fit,
    refits: int,
    seed: int,
    workers: Workers | None = None,
    watch: Watch[Any] = unwatched,
) -> Bootstrap:
    """So many refits of ``measured`` balls, which are those of ``found``.

    The same whoever the workers are and however many: this process alone without any.
    """
    pieces = [
        RefitsPiece(seed, first, min(REFITS, refits - first)) for first in range(0, refits, REFITS)
    ]
    answers = (workers or Alone()).answers((measured, piece) for piece in pieces)
    values: list[tuple[float, ...]] = []
    for answer in watch("refits", answers, len(pieces)):
        assert isinstance(answer, RefitsAnswer)
        values += answer.values
    tail = 100 * (1 - CONFIDENCE) / 2
    least, most = np.percentile(np.array(values), (tail, 100 - tail), axis=0)
    return Bootstrap(
        refits,
        seed,
        tuple(
            Interval(one.factor, float(low), float(high))
            for one, low, high in zip(found.factors, least, most, strict=True)
        ),
    )


def measured_by(
    profile: Profile, shots: Shots, base: Conditions, tape: Tape, found: Fit
) -> Measured:
    """What the refits of a fit are made from."""
    _, values, inside = found.problem(profile, shots, base, tape)
    return Measured(
        profile=profile,
        shots=shots,
        base=base,
        tape=tape,
        tuned=found.profile,
        free=tuple(one.factor.key for one in found.factors),
        values=tuple(map(float, values)),
        inside=tuple(map(int, inside)),
    )
