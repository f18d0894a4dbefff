"""Where a ball landed, from whatever was measured of it, and how surely.

Three ways: along and right of the launcher; two tapes from two known marks, whose circles cross;
or the court's own coordinates, with where the launcher stood and faced. All give metres along and
right of the point on the ground below the mouth, and a covariance of the two in square metres.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import msgspec
import numpy as np

from feedscript.launcher.tuning.spread import Array

PLAIN = ("along_m", "right_m")
TAPES = ("tape_a_m", "tape_b_m")
MARKS = ("a_along_m", "a_right_m", "b_along_m", "b_right_m")
COURT = ("court_x_m", "court_y_m")
STAND = ("launcher_x_m", "launcher_y_m", "facing_deg")
#: One standard deviation in every direction (of each tape, where there are two), or in each of the
#: two, along and right of the launcher, with their correlation.
SURENESS = ("sd_m", "sd_along_m", "sd_right_m", "correlation")
SIDE = "side"
#: Each way with every column that it needs; the way is told by the columns of the first part.
WAYS = (PLAIN, (*TAPES, *MARKS), (*COURT, *STAND))
#: Tapes that fail to meet by less were read a little short: the point between them is taken.
_GAP_M = 0.15
#: Circles that cross flatter than this fix no place.
_FLATTEST_DEG = 8.0


class Place(msgspec.Struct, frozen=True, eq=False):
    """Metres along and right, and their (2, 2) covariance, None where the tape's own holds."""

    along_m: float
    right_m: float
    own: Array | None = None


class NoPlace(msgspec.Struct, frozen=True):
    """Why there is no place, and what to do."""

    message: str
    fix: str


Row = Mapping[str, float]


def place_of(row: Row, tape_m: float) -> Place | NoPlace:
    """Where the ball of a row landed; NaN stands for an empty cell.

    ``tape_m`` is one standard deviation of a tape, where the row does not say its own.
    """
    sure = _sureness(row)
    if isinstance(sure, NoPlace):
        return sure
    if TAPES[0] in row:
        if math.isnan(row[TAPES[0]]) and math.isnan(_of(row, TAPES[1])):
            return Place(math.nan, math.nan)
        place = _crossing(row, tape_m if math.isnan(_of(row, "sd_m")) else row["sd_m"])
        both = isinstance(place, Place) and not math.isnan(_of(row, "sd_along_m"))
        return msgspec.structs.replace(place, own=sure) if both else place
    if COURT[0] in row:
        return _on_court(row, sure)
    return Place(_of(row, PLAIN[0]), _of(row, PLAIN[1]), sure)


def _of(row: Row, name: str) -> float:
    return row.get(name, math.nan)


def _sureness(row: Row) -> Array | NoPlace | None:
    """The ball's own covariance, where its row has one."""
    radius, along, right, correlation = (_of(row, name) for name in SURENESS)
    if not math.isnan(radius):
        if not (math.isnan(along) and math.isnan(right)):
            return NoPlace("it has sd_m and sd_along_m or sd_right_m", "leave one of them empty")
        return np.eye(2) * radius**2
    if math.isnan(along) and math.isnan(right):
        return None
    if math.isnan(along) or math.isnan(right):
        return NoPlace("only one of sd_along_m and sd_right_m is there", "give both, or sd_m")
    shared = 0.0 if math.isnan(correlation) else correlation * along * right
    return np.array([[along**2, shared], [shared, right**2]])


def _crossing(row: Row, tape_m: float) -> Place | NoPlace:
    """Where the circles about two marks cross (law of cosines), and how surely.

    A place (along, right) that changes by d changes each tape by the part of d that points away
    from its mark; the inverse of that takes the tapes' errors to the place.
    """
    needed = [_of(row, name) for name in (*TAPES, *MARKS)]
    if any(map(math.isnan, needed)):
        missing = [n for n in (*TAPES, *MARKS) if math.isnan(_of(row, n))]
        return NoPlace(f"{', '.join(missing)} is empty", "give both tapes and both marks")
    far_a, far_b = needed[:2]
    a, b = np.array(needed[2:4]), np.array(needed[4:])
    apart = float(np.hypot(*(b - a)))
    if apart < 0.5:
        return NoPlace(f"the two marks are {apart:.2f} m apart", "choose marks metres apart")
    beyond = max(apart - far_a - far_b, abs(far_a - far_b) - apart)
    if beyond > _GAP_M:
        return NoPlace(
            f"tapes of {far_a:g} m and {far_b:g} m from marks {apart:.2f} m apart never meet",
            "check both numbers and where the marks are",
        )
    ahead = (b - a) / apart
    to_right = np.array([-ahead[1], ahead[0]])  # (along, right): facing along, right is right
    foot = (far_a**2 - far_b**2 + apart**2) / (2 * apart)
    away = math.sqrt(max(far_a**2 - foot**2, 0.0))
    ends = {s: a + foot * ahead + s * away * to_right for s in (1.0, -1.0)}
    side = _side(row, ends)
    if isinstance(side, NoPlace):
        return side
    return _crossed(ends[side], a, b, tape_m)


def _side(row: Row, ends: Mapping[float, Array]) -> float | NoPlace:
    """On which side of the line from A to B: as written, or where only one is before the mouth."""
    written = _of(row, SIDE)
    if not math.isnan(written):
        return written
    ahead = [side for side, end in ends.items() if end[0] > 0]
    if len(ahead) == 1:
        return ahead[0]
    right, left = (f"{end[0]:.2f} along and {end[1]:.2f} right" for end in ends.values())
    return NoPlace(
        f"the tapes meet twice: at {right}, and at {left}",
        "add a column `side`: right or left, as seen when walking from mark A to mark B",
    )


def _crossed(end: Array, a: Array, b: Array, tape_m: float) -> Place | NoPlace:
    away = np.stack([(end - a) / np.hypot(*(end - a)), (end - b) / np.hypot(*(end - b))])
    across = abs(float(np.linalg.det(away)))
    if across < math.sin(math.radians(_FLATTEST_DEG)):
        return NoPlace(
            "the two tapes lie nearly in one line, which fixes no place",
            "measure from another mark, so that the tapes meet at a wide angle",
        )
    back = np.linalg.inv(away)
    return Place(float(end[0]), float(end[1]), tape_m**2 * back @ back.T)


def _on_court(row: Row, sure: Array | None) -> Place | NoPlace:
    """From the court's coordinates; the launcher faces ``facing_deg`` to the right of +y."""
    x, y, x0, y0, facing = (_of(row, name) for name in (*COURT, *STAND))
    if math.isnan(x) or math.isnan(y):
        return Place(math.nan, math.nan)
    if any(map(math.isnan, (x0, y0, facing))):
        return NoPlace(
            "where the launcher stood is not complete", f"give {', '.join(STAND)} in every row"
        )
    turn = math.radians(facing)
    cos, sin = math.cos(turn), math.sin(turn)
    east, north = x - x0, y - y0
    return Place(north * cos + east * sin, east * cos - north * sin, sure)
