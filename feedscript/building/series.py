"""The sizes in which parts are sold: the next one up."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence

#: ISO 3:1973, series R10, and IEC 60063:2015, series E6; both from memory.
R10 = (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0)
E6 = (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)
#: Ratings of blade and high-current fuse links, A: ISO 8820-3:2015 (from memory).
FUSES_A = (1, 2, 3, 5, 7.5, 10, 15, 20, 25, 30, 35, 40, 50, 60, 70, 80, 100)
#: Copper conductors, mm² to A in air at 40 °C, PVC, one circuit in conduit: IEC 60204-1:2016, Table
#: 6, column B1 (from memory: your electrician's table stands above it).
WIRES_A = (
    (0.75, 8.6), (1.0, 10.3), (1.5, 13.5), (2.5, 18.3), (4.0, 24.0), (6.0, 31.0), (10.0, 44.0),
    (16.0, 59.0), (25.0, 77.0), (35.0, 96.0), (50.0, 117.0),
)  # fmt: skip
CAPACITOR_V = (10, 16, 25, 35, 50, 63, 80, 100)
#: Square openings, mm, and how far behind them a hand of somebody of 14 or more gets, mm: ISO
#: 13857:2019, Table 4. Children's hands get further (its Table 5).
REACH_MM = (
    (4.0, 2.0), (6.0, 5.0), (8.0, 15.0), (10.0, 25.0), (12.0, 80.0), (20.0, 120.0), (30.0, 120.0),
    (40.0, 200.0), (120.0, 850.0),
)  # fmt: skip


def next_in_decades(value: float, series: Sequence[float]) -> float:
    """The least of the series, in whatever decade, that is not less than a positive value."""
    decade = 10.0 ** math.floor(math.log10(value))
    for step in (*series, 10.0):
        if step * decade >= value * (1 - 1e-9):
            return float(f"{step * decade:.6g}")
    raise AssertionError(value)


def next_of(value: float, sizes: Sequence[float]) -> float | None:
    """The least of the sizes that is not less than the value; None past the last."""
    place = bisect_left(sizes, value)
    return sizes[place] if place < len(sizes) else None


def wire_for(fuse_a: float) -> tuple[float, float] | None:
    """The thinnest conductor (mm², A) that bears what its fuse lets pass; None past the table."""
    return next((row for row in WIRES_A if row[1] >= fuse_a), None)


def awg_mm2(gauge: int) -> float:
    """Area of an American wire gauge; its diameter is 0.005 in * 92^((36 - n) / 39), ASTM B258."""
    diameter_mm = float(0.127 * 92 ** ((36 - gauge) / 39))
    return math.pi / 4 * diameter_mm**2


def awg_for(area_mm2: float) -> int | None:
    """The thinnest even gauge, as they are sold, that has this area; None past gauge 0."""
    return next((gauge for gauge in range(24, -1, -2) if awg_mm2(gauge) >= area_mm2), None)


def reach_mm(opening_mm: float) -> float | None:
    """How far behind a square opening a wheel must be; None where the table ends."""
    return next((reach for widest, reach in REACH_MM if opening_mm <= widest), None)
