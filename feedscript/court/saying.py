"""Points of a court said in its words: the other way round from ``places``.

A place is said by two parts: how far from the net, measured at a line across the court, and how far
from the middle, measured at a line along it. Each is measured from the line it was measured from
before, if there was one, else from the nearest.
"""

from __future__ import annotations

import math

import msgspec

from feedscript.court.landmarks import End
from feedscript.court.lines import Court

#: Nearer to a line than this, a place that is snapped lies on it. Design value: a ball's mark.
SNAP_M = 0.15
#: A place that is snapped is said to this. Design value: no coach paces out less.
STEP_M = 0.1
FINE_M = 0.01


class Way(msgspec.Struct, frozen=True, kw_only=True):
    """How places are said: by which lines, in which unit, and how finely.

    ``hands``: sidelines are called the player's (forehand, backhand), as a right-hander's.
    """

    across: str | None = None  # "net", "service line", "baseline"
    along: str | None = None  # "centre line", "ad sideline", "deuce singles sideline" …
    hands: bool = False
    unit: str = "m"
    metres: float = 1.0  # one of that unit
    snapped: bool = True


def depth_in_words(court: Court, depth_m: float, way: Way) -> str:
    """How far from the net, such as ``2 m inside baseline``; for a depth of nothing or more."""
    lines = {"net": 0.0, "service line": court.service_line_m, "baseline": court.half_length_m}
    line = way.across or min(lines, key=lambda name: abs(lines[name] - depth_m))
    off_m = depth_m - lines[line]
    if line == "net" and off_m < FINE_M / 2:
        return "on net"
    if line == "net":
        return f"{_distance(max(off_m, FINE_M), way)} from net"
    if _is_on(off_m, way):
        return f"on {line}"
    nearer = "inside" if line == "baseline" else "in front of"
    return f"{_distance(abs(off_m), way)} {nearer if off_m < 0 else 'behind'} {line}"


def width_in_words(court: Court, ad_m: float, way: Way) -> str:
    """How far from the middle, towards ad positive, such as ``1 m inside ad sideline``."""
    lines = _along(court, way)
    line = way.along if way.along in lines else None
    if line is None or (line != "centre line" and lines[line] * ad_m < 0):
        line = min(lines, key=lambda name: abs(lines[name] - ad_m))
    off_m = ad_m - lines[line]
    if _is_on(off_m, way):
        return f"on {_called(line, way)}"
    if line == "centre line":
        return f"{_distance(abs(off_m), way)} to {'ad' if off_m > 0 else 'deuce'} of centre line"
    inward = off_m * lines[line] < 0
    side = "inside" if inward else "outside"
    return f"{_distance(abs(off_m), way)} {side} {_called(line, way)}"


def point_in_words(court: Court, end: End, point_m: tuple[float, float], way: Way) -> str:
    """The whole place."""
    x_m, y_m = point_m
    depth = depth_in_words(court, y_m * end.y_sign, way)
    return f"{depth}, {width_in_words(court, x_m * end.ad_x_sign, way)}"


def _along(court: Court, way: Way) -> dict[str, float]:
    """Lines along the court that a width may be measured from. The middle is nobody's side."""
    lines = {"ad sideline": court.half_width_m, "deuce sideline": -court.half_width_m}
    if not way.hands:
        lines["centre line"] = 0.0
    if way.along is not None and ("singles" in way.along or "doubles" in way.along):
        kind = "singles" if "singles" in way.along else "doubles"
        half_m = court.singles_half_width_m if kind == "singles" else court.doubles_half_width_m
        if half_m is not None:
            lines |= {f"ad {kind} sideline": half_m, f"deuce {kind} sideline": -half_m}
            del lines["ad sideline"], lines["deuce sideline"]
    return lines


def _called(line: str, way: Way) -> str:
    if not way.hands:
        return line
    return line.replace("ad ", "backhand ", 1).replace("deuce ", "forehand ", 1)


def _is_on(off_m: float, way: Way) -> bool:
    return abs(off_m) <= (SNAP_M if way.snapped else FINE_M / 2)


def _distance(off_m: float, way: Way) -> str:
    if way.snapped:
        metres = max(round(off_m / STEP_M), 1) * STEP_M
        return f"{round(metres / way.metres, 2):g} {way.unit}"
    # Straight in the unit, to that of its powers of ten which is a centimetre or less.
    step = 10.0 ** math.floor(math.log10(FINE_M / way.metres) + 1e-9)
    return f"{round(max(round(off_m / way.metres / step), 1) * step, 6):g} {way.unit}"
