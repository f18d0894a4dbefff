"""What is white on a court, as lines in space, and how surely each is where it should be.

ITF Rules of Tennis, Rule 1: distances are to the outside of the lines; the centre service line and
the centre mark are 2 in wide, the other lines 1 to 2 in, the baseline up to 4 in; the net's band is
2 to 2.5 in deep, its strap at most 2 in wide. What is measured in a picture is a line's middle, so
half of a width that is not known beforehand is worked out along with the camera.
"""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.court.lines import COURTS, Court
from feedscript.watch.camera.camera import Floats

_INCH_M = 0.0254

#: What is worked out beside the camera: name, the usual value in metres, its standard deviation.
#: A width's deviation is that of the range which the rules leave; the net's are design values: a
#: strap is set by hand, and a band sags or is pulled down by singles sticks.
LOOSE = (
    ("half of a line's width", 0.75 * _INCH_M, 0.15 * _INCH_M),
    ("half of a baseline's width", 1.5 * _INCH_M, 0.3 * _INCH_M),
    ("height of the band's middle at the strap", 0.0, 0.015),
    ("rise of the band for each metre aside", 0.0, 0.004),
)
#: How far a painted line may stray from its place as a whole: two lines may be a thousandth of
#: their distance too near or too far apart (ITF Technical Booklet 2015, p. 53, table 5: 11 mm for
#: doubles sidelines, 13 for service lines, 24 for baselines, 5 from the centre line to a singles
#: sideline). Taken for two standard deviations of what two lines' straying makes: our choice. On a
#: children's court, of which the table says nothing, each is taken to stray as far as the same line
#: of a full court: the hands and the tape are the same.
_ASTRAY_SHARE = 0.001 / 2**0.5
_LEAST_ASTRAY_M = 0.002
#: The middle of the band lies so far below the cord.
_BAND_M = 1.12 * _INCH_M


class Line(msgspec.Struct, frozen=True, eq=False):
    """A straight white thing: its ends, shape (2, 3), in metres, as the rules have it.

    ``by_loose``: how each end moves with each of ``LOOSE``, shape (2, 3, 4). ``aside``: the way in
    which it strays as a whole. ``ground``: whether it is painted on the ground. ``larger``: how
    many times as large a full court is.
    """

    name: str
    ends_m: Floats
    by_loose: Floats
    aside: Floats
    ground: bool = True
    half_m: float = 0.0  # half of its width where that is known
    larger: float = 1.0

    @property
    def astray_sd_m(self) -> float:
        """How far it may stray as a whole, one standard deviation."""
        from_middle_m = abs(float(self.ends_m.mean(0) @ self.aside)) if self.ground else 0.0
        return max(_ASTRAY_SHARE * from_middle_m * self.larger, _LEAST_ASTRAY_M)

    def half_width_m(self, loose: Floats) -> float:
        """Half of its width, as far as it is known."""
        return self.half_m or float(loose[1] if np.any(self.by_loose[..., 1]) else loose[0])


def white_lines(court: Court) -> tuple[Line, ...]:
    """Every line of the court, and the net's band and strap."""
    wide = court.doubles_half_width_m or court.singles_half_width_m
    inner = court.singles_half_width_m
    back, serve = court.half_length_m, court.service_line_m
    along = [_along(f"sideline {x:+.2f}", x, back) for x in (-wide, wide)]
    if inner != wide:
        along += [_along(f"singles sideline {x:+.2f}", x, back) for x in (-inner, inner)]
    across = [_across(f"baseline {y:+.2f}", y, wide, loose=1) for y in (-back, back)]
    across += [_across(f"service line {y:+.2f}", y, inner, loose=0) for y in (-serve, serve)]
    centre = _line(
        "centre line", (0.0, -serve, 0.0), (0.0, serve, 0.0), (1.0, 0.0, 0.0), half_m=_INCH_M
    )
    larger = COURTS["singles"].half_length_m / back
    lines = (*along, *across, centre, *_net(court))
    return tuple(msgspec.structs.replace(line, larger=larger) for line in lines)


def _along(name: str, x_m: float, back_m: float) -> Line:
    line = _line(name, (x_m, -back_m, 0.0), (x_m, back_m, 0.0), (1.0, 0.0, 0.0))
    line.by_loose[:, 0, 0] = -np.sign(x_m)
    return line


def _across(name: str, y_m: float, wide_m: float, loose: int) -> Line:
    line = _line(name, (-wide_m, y_m, 0.0), (wide_m, y_m, 0.0), (0.0, 1.0, 0.0))
    line.by_loose[:, 1, loose] = -np.sign(y_m)
    return line


def _net(court: Court) -> list[Line]:
    """Both halves of the band, and the strap."""
    net, lines = court.net, []
    reach_m = min(net.support_x_m, court.singles_half_width_m + 3 * 0.3048)
    for side in (-1, 1):
        top = net.centre_m - _BAND_M, net.height_m(reach_m) - _BAND_M
        line = _line(
            f"net band {'left' if side < 0 else 'right'}",
            (side * 0.05, 0.0, top[0]),
            (side * reach_m, 0.0, top[1]),
            (0.0, 0.0, 1.0),
            ground=False,
            half_m=_BAND_M,
        )
        line.by_loose[:, 2, 2] = 1.0
        line.by_loose[1, 2, 3] = reach_m
        lines.append(line)
    foot, head = (0.0, 0.0, 0.05), (0.0, 0.0, net.centre_m - 2 * _BAND_M)
    return [
        *lines,
        _line("net strap", foot, head, (1.0, 0.0, 0.0), ground=False, half_m=0.9 * _INCH_M),
    ]


def _line(
    name: str,
    start: tuple[float, float, float],
    end: tuple[float, float, float],
    aside: tuple[float, float, float],
    *,
    ground: bool = True,
    half_m: float = 0.0,
) -> Line:
    ends_m, by_loose = np.array([start, end]), np.zeros((2, 3, len(LOOSE)))
    return Line(name, ends_m, by_loose, np.array(aside), ground, half_m)


def placed(line: Line, loose: Floats, aside_m: float = 0.0) -> Floats:
    """The line's ends, shape (2, 3), with the loose values and its own straying worked in."""
    return np.asarray(line.ends_m + line.by_loose @ loose + aside_m * line.aside, np.float64)


def usual() -> Floats:
    """The usual values of ``LOOSE``."""
    return np.array([value for _, value, _ in LOOSE])
