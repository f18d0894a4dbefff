"""Mistakes in measuring and writing down, noticed because undoing one makes the landings fit.

Columns, wheels and sides that were taken for one another: where the landings do not fit the best
profile, each mistake is undone in turn and the fit made anew; one that makes the landings fit far
better is named. A tape that began elsewhere moves every landing by the same stretch, which no
factor of the launcher does: it is found by the extra sum of squares that a common shift explains
(Draper and Smith, Applied Regression Analysis, 3rd edition, 1998, chapter 6).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from itertools import permutations

import msgspec
import numpy as np

from feedscript.flight.motion.conditions import Conditions
from feedscript.launcher.kinematics import drive_names
from feedscript.launcher.profile.drives import ThreeWheels, TwoWheels
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.tuning.fit import Fit, Problem, fit
from feedscript.launcher.tuning.lack_of_fit import Extra, extra_sum
from feedscript.launcher.tuning.shots import Shots, Tape

#: A ball further out than this squared distance counts no more: strays decide nothing.
_CAP = 30.0
#: An undone mistake must explain this much (a chance of 1 in a million) and half of all there is.
_GAIN, _SHARE = 28.0, 0.5
#: Balls at least this wide, measured by the distance's mean square, do not fit at all.
_WIDE = 3.0
#: How sure, and how long, a common shift must be to be named.
_SHIFT_LEVEL, _SHIFT_M = 1e-4, 0.3


class Mistake(msgspec.Struct, frozen=True):
    """What seems to have gone wrong, and how to mend it, in words."""

    name: str
    words: str
    mend: str


class _Undoing(msgspec.Struct, frozen=True):
    mistake: Mistake
    undo: Callable[[Shots], Shots]


def mistakes(
    profile: Profile, shots: Shots, base: Conditions, tape: Tape, found: Fit
) -> tuple[Mistake, ...]:
    """The mistakes that these landings show, at most one of what was taken for what.

    ``found`` is the fit over the landings as they were written down.
    """
    exchanged = _exchanged(profile, shots, base, tape, found) if _doubtful(found) else None
    if exchanged is not None:
        return (exchanged,)
    return _moved(profile, shots, base, tape, found)


def _doubtful(found: Fit) -> bool:
    """Whether the landings fit the best profile badly enough to look for a mistake."""
    lack = found.lack
    return (lack is not None and lack.found) or found.distance_mean > _WIDE


def _exchanged(
    profile: Profile, shots: Shots, base: Conditions, tape: Tape, found: Fit
) -> Mistake | None:
    before = _cost(profile, shots, base, tape, found)
    best: tuple[float, Mistake] | None = None
    for one in _undoings(profile, shots):
        undone = one.undo(shots)
        after = _cost(profile, undone, base, tape, fit(profile, undone, base, tape, found.held))
        if after < _SHARE * before and before - after > _GAIN and (not best or after < best[0]):
            best = after, one.mistake
    return best[1] if best else None


def _cost(profile: Profile, shots: Shots, base: Conditions, tape: Tape, found: Fit) -> float:
    """What the best profile leaves, each ball capped, in units of the profile's own scatter."""
    unscaled = msgspec.structs.replace(found.profile, dispersion=profile.dispersion)
    problem = Problem(profile, shots, base, tape, ()).weighted_by(unscaled)
    distance = np.sum(problem.white(found.residuals) ** 2, axis=1)
    return float(np.minimum(distance, _CAP).sum())


def _undoings(profile: Profile, shots: Shots) -> Iterator[_Undoing]:
    if np.isfinite(shots.seen[:, :2]).all(axis=1).any():
        yield _Undoing(_COLUMNS, partial(Shots.measured, columns=(1, 0, 2, 3)))
        yield _Undoing(_SIDES, partial(Shots.measured, signs=(1, -1, 1, 1)))
    if isinstance(profile.drive, TwoWheels | ThreeWheels):
        names = drive_names(profile.drive)
        straight = tuple(range(len(names)))
        for order in permutations(straight):
            if order != straight:
                yield _Undoing(_wheels(names, order), partial(Shots.driven, order=order))


_COLUMNS = Mistake(
    "swapped-columns",
    "along_m and right_m seem to have been taken for one another",
    "exchange the two columns in the file",
)
_SIDES = Mistake(
    "mirrored-sides",
    "left and right seem to have been taken for one another",
    "right_m counts to the right as seen from behind the launcher, and pan_deg turns to the right; "
    "write a minus before the numbers of the one that was the other way round",
)


def _wheels(names: tuple[str, ...], order: tuple[int, ...]) -> Mistake:
    written = "; ".join(
        f"drive_{k + 1} seems to be the {names[order.index(k)]}"
        for k in range(len(names))
        if order[k] != k
    )
    return Mistake(
        "swapped-wheels",
        f"the wheels seem to have been taken for one another: {written}",
        "see which wheel turns at which command (feedscript jog moves one alone), and exchange "
        "their cables, or the drive columns if only the file has them so",
    )


def _moved(
    profile: Profile, shots: Shots, base: Conditions, tape: Tape, found: Fit
) -> tuple[Mistake, ...]:
    """The origin, where every landing lies off by the same stretch."""
    problem, values, inside = found.problem(profile, shots, base, tape)
    slopes = problem.slopes(values)[inside].reshape(-1, len(values))
    residual = problem.residual(values)[inside].ravel()
    known = int(shots.known[inside].sum())
    told = []
    for column in (0, 1):
        unit = np.zeros((len(shots), 4))
        unit[:, column] = 1.0
        extra = problem.white(unit)[inside].ravel()
        shift = extra_sum(residual, slopes, extra, known)
        if shift.chance < _SHIFT_LEVEL and abs(shift.change) > _SHIFT_M:
            told.append((shift.chance, _origin(column, shift)))
    return tuple(mistake for _, mistake in sorted(told, key=lambda one: one[0]))


def _origin(column: int, found: Extra) -> Mistake:
    shift = found.change
    way = (("too far", "too short"), ("too far right", "too far left"))[column][shift < 0]
    name = ("along_m", "right_m")[column]
    return Mistake(
        "moved-origin",
        f"every landing seems to be written down {abs(shift):.1f} m {way} (±{found.half:.1f} m): "
        "the tape seems not to have begun below the mouth",
        f"measure from the point on the ground below the mouth; if it is the same stretch for all, "
        f"add {-shift:+.1f} to every {name}",
    )
