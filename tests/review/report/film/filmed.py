"""An invented lesson of one feed, fed to Ash and Birch in turn, and what a film told of it."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from feedscript.journal.films import Film, LandingSeen, ShotSeen, keep_film
from feedscript.journal.store import SessionStart, open_journal
from feedscript.plan.model import Result
from tests.review.calendar import FIRST_UTC_S, write_ball

ASKED_M = (0.5, 10.0)
#: Every ball of the launcher lands so far from where it was asked to, before its scatter.
BIAS_M = (-0.15, 0.4)
SCATTER_M = (0.1, 0.25)
#: What was tapped, and what the film suggests (and how likely); None: not.
SHOTS = (
    ("in", "in", 0.99),
    ("long", "in", 0.97),  # differs
    (None, "net", 1.0),  # nobody tapped
    ("left", "left", 0.6),  # too close
    ("right", None, None),  # not seen
    ("in", "in", 0.98),
)
BALLS = 12
PLAN = (
    b'{"court":{"kind":"singles"},"group":{"players":[{"name":"Ash"},{"name":"Birch"}]},'
    b'"feeds":[{"name":"deep_1","wish":"deep","landing_m":[0.5,10.0]}]}'
)


def landing(number: int, place_m: tuple[float, float], camera_m2: float = 1e-4) -> LandingSeen:
    """Known to 3 cm across and 5 cm along, a centimetre of it the camera's."""
    return LandingSeen(
        feed_id=number,
        x_m=place_m[0],
        y_m=place_m[1],
        xx_m2=9e-4,
        xy_m2=0.0,
        yy_m2=25e-4,
        camera_xx_m2=camera_m2,
        camera_xy_m2=0.0,
        camera_yy_m2=camera_m2,
        speed_mps=22.0,
        speed_sd_mps=0.2,
        flight_s=1.1,
        flight_sd_s=0.003,
    )


def _shot(number: int, result: str | None, sure: float | None) -> ShotSeen:
    if result is None:
        return ShotSeen(feed_id=number, why="no-shot")
    place = {} if result == "net" else {"x_m": 1.25, "y_m": -9.5}
    return ShotSeen(feed_id=number, result=Result(result), sure=sure, **place)


def write_filmed(path: Path) -> None:
    random = np.random.default_rng(4)
    journal = open_journal(path)
    number = journal.begin_session(
        SessionStart(
            token=9,
            begun_utc_s=FIRST_UTC_S,
            title="Filmed (invented)",
            source="filmed.feed",
            rehearsal=False,
            plan=PLAN,
            group_json='{"players":[{"name":"Ash"},{"name":"Birch"}]}',
        )
    )
    landings, shots = [], []
    for ball in range(1, BALLS + 1):
        tapped, film, sure = SHOTS[(ball - 1) % len(SHOTS)]
        player = "Ash" if (ball - 1) // 6 == 0 else "Birch"
        write_ball(journal, number, ball, FIRST_UTC_S + 6 * ball, player, "deep_1", tapped)
        off = np.add(BIAS_M, random.normal(0, SCATTER_M))
        landings.append(landing(ball, tuple(np.add(ASKED_M, off).tolist())))
        shots.append(_shot(ball, film, sure))
    landings[3] = LandingSeen(feed_id=4, why="two-ways")
    landings[8] = LandingSeen(feed_id=9, why="not-in-view")
    film = Film(utc_s=FIRST_UTC_S + 9e3, made_by="feedscript watch 0.1.0", sha256="a" * 64)
    keep_film(journal, number, film, landings, shots)
    journal.end_session(number, "finished", FIRST_UTC_S + 200)
    journal.close()
