"""The names of things on a court: lines, points and areas, and where they lie.

Sides are named as tennis names them: standing at an end and facing the net, deuce is the right
half and ad the left. So the receiver's ad side is +x, and the launcher's own ad side is -x.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from functools import lru_cache

import msgspec

from feedscript.court.lines import Court


class End(StrEnum):
    """The half of the court that a place is on."""

    RECEIVER = "receiver"
    LAUNCHER = "launcher"

    @property
    def y_sign(self) -> int:
        """+1 where y grows away from the net."""
        return 1 if self is End.RECEIVER else -1

    @property
    def ad_x_sign(self) -> int:
        """+1 where the ad side is +x."""
        return 1 if self is End.RECEIVER else -1


class Landmark(msgspec.Struct, frozen=True):
    """A line or point, as distances from the net (depth) and from the middle towards ad (width).

    A line across the court has no width, a line along it no depth; a point has both.
    """

    words: str
    depth_m: float | None
    ad_m: float | None


class Region(msgspec.Struct, frozen=True):
    """An upright rectangle on the ground, in court axes."""

    x_min_m: float
    x_max_m: float
    y_min_m: float
    y_max_m: float

    @property
    def centre_m(self) -> tuple[float, float]:
        return ((self.x_min_m + self.x_max_m) / 2, (self.y_min_m + self.y_max_m) / 2)

    @property
    def corners_m(self) -> tuple[tuple[float, float], ...]:
        """The four corners, anticlockwise from the least x and y."""
        return (
            (self.x_min_m, self.y_min_m),
            (self.x_max_m, self.y_min_m),
            (self.x_max_m, self.y_max_m),
            (self.x_min_m, self.y_max_m),
        )

    def holds(self, x_m: float, y_m: float) -> bool:
        """Whether the point lies inside or on the edge."""
        return self.x_min_m <= x_m <= self.x_max_m and self.y_min_m <= y_m <= self.y_max_m


_SPELLINGS = {
    "center": "centre",
    "side line": "sideline",
    "base line": "baseline",
    "tramline": "alley",
    "advantage": "ad",
    "centre service line": "centre line",
    "service box": "box",
    "service court": "box",
    "ad court": "ad half",
    "deuce court": "deuce half",
    "no man's land": "backcourt",
}


@lru_cache(256)  # a program says few places, again and again
def plain_words(words: str) -> str:
    """One spelling for each name: lower case, single spaces, the usual variants folded."""
    text = " ".join(words.lower().replace("-", " ").replace("\u2019", "'").split())
    for variant, chosen in _SPELLINGS.items():
        text = text.replace(variant, chosen)
    return text.removeprefix("the ").replace("run off", "run-off")


def _on_both_sides(name: str, depth_m: float | None, ad_m: float) -> tuple[Landmark, ...]:
    return (
        Landmark(f"ad {name}", depth_m, ad_m),
        Landmark(f"deuce {name}", depth_m, -ad_m),
    )


def landmarks(court: Court) -> Mapping[str, Landmark]:
    """Every line and point of this court by its name."""
    back, half = court.half_length_m, court.half_width_m
    found = [
        Landmark("net", 0.0, None),
        Landmark("service line", court.service_line_m, None),
        Landmark("baseline", back, None),
        Landmark("centre line", None, 0.0),
        Landmark("centre mark", back, 0.0),
        Landmark("t", court.service_line_m, 0.0),
        *_on_both_sides("sideline", None, half),
        *_on_both_sides("singles sideline", None, court.singles_half_width_m),
        *_on_both_sides("corner", back, half),
        *_on_both_sides("net post", 0.0, court.net.support_x_m),
    ]
    if court.doubles_half_width_m is not None:
        found += _on_both_sides("doubles sideline", None, court.doubles_half_width_m)
    return {landmark.words: landmark for landmark in found}


#: An area as (least depth, most depth, least towards ad, most towards ad), all in metres.
_Span4 = tuple[float, float, float, float]


def _areas(court: Court) -> dict[str, _Span4]:
    back, half, line = court.half_length_m, court.half_width_m, court.service_line_m
    singles = court.singles_half_width_m
    far, wide = back + court.run_off_back_m, half + court.run_off_side_m
    areas: dict[str, _Span4] = {
        "court": (0.0, back, -half, half),
        "singles court": (0.0, back, -singles, singles),
        "forecourt": (0.0, line, -half, half),
        "backcourt": (line, back, -half, half),
        "ad half": (0.0, back, 0.0, half),
        "deuce half": (0.0, back, -half, 0.0),
        "ad box": (0.0, line, 0.0, singles),
        "deuce box": (0.0, line, -singles, 0.0),
        "ad backcourt": (line, back, 0.0, half),
        "deuce backcourt": (line, back, -half, 0.0),
        "run-off": (back, far, -wide, wide),
        "ad run-off": (0.0, back, half, wide),
        "deuce run-off": (0.0, back, -wide, -half),
    }
    doubles = court.doubles_half_width_m
    if doubles is not None:
        areas["doubles court"] = (0.0, back, -doubles, doubles)
        areas["ad alley"] = (0.0, back, singles, doubles)
        areas["deuce alley"] = (0.0, back, -doubles, -singles)
    return areas


def zones(court: Court, end: End) -> Mapping[str, Region]:
    """Every area of one end of this court by its name."""
    return {name: _placed(span, end) for name, span in _areas(court).items()}


def _placed(span: _Span4, end: End) -> Region:
    near, far, least_ad, most_ad = span
    ys = sorted((near * end.y_sign, far * end.y_sign))
    xs = sorted((least_ad * end.ad_x_sign, most_ad * end.ad_x_sign))
    return Region(xs[0], xs[1], ys[0], ys[1])
