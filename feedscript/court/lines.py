"""The courts: singles, doubles, and the stage courts for children.

Full court: ITF Rules of Tennis, Rule 1 (all measurements to the outside of the lines). Stage
courts: the same rules' appendix on 10-and-under tennis gives ranges (red 36 to 42 ft by 14 to
20 ft, net 0.800 to 0.838 m; orange 58 to 60 ft by 20 to 27 ft, net 0.800 to 0.914 m); the single
figures here are the usual ones inside those ranges (red 36 by 18 ft, net 0.838 m; orange 60 by
21 ft, net 0.914 m). The rules give no service line for red and orange: ours keeps the full
court's proportion, 21 of 39 ft, which is an assumption. Green is played on the full court.
Run-off: the rules' guide for recreational and club play, 18 ft behind and 10 ft beside the court.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import msgspec

from feedscript.court.net import FOOT_M, Net


class Court(msgspec.Struct, frozen=True):
    """The lines of one court in metres from the middle of the net; both ends are alike."""

    name: str
    half_length_m: float
    half_width_m: float  # of the court in play
    singles_half_width_m: float
    doubles_half_width_m: float | None  # None: the court has no alleys
    service_line_m: float  # from the net
    centre_mark_m: float  # its length, from the baseline inward
    net: Net
    run_off_back_m: float
    run_off_side_m: float


def _feet(feet: float) -> float:
    return feet * FOOT_M


def _full_court(name: str, half_width_ft: float, *, alleys: bool) -> Court:
    return Court(
        name=name,
        half_length_m=_feet(39),
        half_width_m=_feet(half_width_ft),
        singles_half_width_m=_feet(13.5),
        doubles_half_width_m=_feet(18) if alleys else None,
        service_line_m=_feet(21),
        centre_mark_m=_feet(4 / 12),
        net=Net(_feet(3), _feet(3.5), _feet(half_width_ft + 3)),
        run_off_back_m=_feet(18),
        run_off_side_m=_feet(10),
    )


def _stage_court(name: str, length_ft: float, width_ft: float, net_centre_m: float) -> Court:
    # Portable nets hang level; the rules state the centre height alone.
    half_width_m = _feet(width_ft / 2)
    return Court(
        name=name,
        half_length_m=_feet(length_ft / 2),
        half_width_m=half_width_m,
        singles_half_width_m=half_width_m,
        doubles_half_width_m=None,
        service_line_m=_feet(length_ft / 2 * 21 / 39),
        centre_mark_m=_feet(4 / 12),
        net=Net(net_centre_m, net_centre_m, half_width_m + _feet(3)),
        run_off_back_m=_feet(18),
        run_off_side_m=_feet(10),
    )


def _courts() -> Mapping[str, Court]:
    courts = (
        _full_court("singles", 13.5, alleys=True),
        _full_court("doubles", 18, alleys=True),
        _full_court("green", 13.5, alleys=True),
        _stage_court("orange", 60, 21, _feet(3)),
        _stage_court("red", 36, 18, _feet(2.75)),
    )
    return MappingProxyType({court.name: court for court in courts})


#: Every court by the word a program says.
COURTS: Mapping[str, Court] = _courts()
