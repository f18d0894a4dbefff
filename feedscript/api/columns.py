"""Plans and records as columns: one array a quantity, one entry a feed or ball."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from feedscript.bench.record import Record
from feedscript.launcher.setting import Setting
from feedscript.plan.model import Plan

#: By name; all of one length. Text where it is text, else float64 with NaN where nothing is known.
Columns: TypeAlias = dict[str, NDArray[Any]]


def feeds(plan: Plan) -> Columns:
    """Every aimed feed of a plan: where it lands (court axes, m), how it leaves (m/s, rpm,
    degrees), what the launcher is set to, and how far it scatters (one sigma, m)."""
    rows = plan.feeds
    return {
        "feed": _text([feed.name for feed in rows]),
        "launcher": _text([plan.launchers[feed.launcher].name for feed in rows]),
        "landing_x_m": _floats([feed.landing_m[0] for feed in rows]),
        "landing_y_m": _floats([feed.landing_m[1] for feed in rows]),
        **{
            name: _floats([getattr(feed, name) for feed in rows])
            for name in (
                *("speed_mps", "top_rpm", "side_rpm", "elevation_deg", "azimuth_deg"),
                *("net_clearance_m", "flight_s", "apex_m", "speed_at_bounce_mps"),
            )
        },
        "scatter_major_m": _floats([feed.scatter.major_m for feed in rows]),
        "scatter_minor_m": _floats([feed.scatter.minor_m for feed in rows]),
        "scatter_turn_deg": _floats([feed.scatter.turn_deg for feed in rows]),
        **_settings([feed.setting for feed in rows]),
    }


def balls(record: Record) -> Columns:
    """Every ball of a record, in each launcher's order; ``left`` is 1 where it left."""
    rows = record.balls
    landings = [(np.nan, np.nan) if one.landing_m is None else one.landing_m for one in rows]
    return {
        "launcher": _floats([one.launcher for one in rows]),
        "feed": _text([one.feed for one in rows]),
        "player": _text([one.player or "" for one in rows]),
        "left": _floats([one.left for one in rows]),
        "gap_s": _floats([one.gap_s for one in rows]),
        "landing_x_m": _floats([x for x, _ in landings]),
        "landing_y_m": _floats([y for _, y in landings]),
        "speed_mps": _floats([one.speed_mps for one in rows]),
        "flight_s": _floats([one.flight_s for one in rows]),
        **_settings([one.setting for one in rows]),
    }


def _settings(rows: Sequence[Setting | None]) -> Columns:
    count = max((len(one.drives) for one in rows if one is not None), default=0)
    drives = {
        f"drive_{number + 1}": _floats(
            [
                None if one is None or number >= len(one.drives) else one.drives[number]
                for one in rows
            ]
        )
        for number in range(count)
    }
    angles = {
        name: _floats([None if one is None else getattr(one, name) for one in rows])
        for name in ("pan_deg", "tilt_deg", "roll_deg")
    }
    return drives | angles


def _drive(setting: Setting | None, number: int) -> float | None:
    return None if setting is None or number >= len(setting.drives) else setting.drives[number]


def _floats(values: Sequence[float | None]) -> NDArray[np.float64]:
    return np.array([np.nan if one is None else one for one in values], dtype=np.float64)


def _text(values: Sequence[str]) -> NDArray[np.str_]:
    return np.array(values, dtype=np.str_)
