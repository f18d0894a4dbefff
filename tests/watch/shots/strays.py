"""Balls on and beside a court that are not the lesson's, while a fed ball is let go."""

from __future__ import annotations

import msgspec
import numpy as np

from tests.watch.scene.court import FULL
from tests.watch.scene.flying import Flight, Launch, drawn_ball, fly

KINDS = ("rolling", "thrown back", "thrown over", "other court")


def stray(kind: str, about_s: float, random: np.random.Generator) -> Flight:
    """One that goes its way at about this time."""
    soon_s = about_s + float(random.uniform(-0.3, 0.8))
    side = float(random.choice([-1, 1]))
    if kind == "other court":
        launch = Launch(
            at_s=soon_s,
            place_m=(float(random.choice([-1, 1]) * random.uniform(11, 18)), side * 11.0, 0.9),
            speed_mps=float(random.uniform(14, 28)),
            elevation_deg=float(random.uniform(3, 12)),
            azimuth_deg=float(random.normal(0, 10)) + (180.0 if side > 0 else 0.0),
            top_rpm=900.0,
        )
        open_ground = msgspec.structs.replace(FULL, beside_m=40.0)
        return fly(launch, drawn_ball(random), ground=open_ground)
    if kind == "rolling":
        launch = Launch(
            at_s=soon_s,
            place_m=(side * 6.5, float(random.uniform(3, 13)), 0.3),
            speed_mps=float(random.uniform(2, 9)),
            elevation_deg=0.0,
            azimuth_deg=float(-side * 90 + random.normal(0, 35)),
        )
        return fly(launch, drawn_ball(random))
    back = kind == "thrown back"  # to the launcher's end, by a player
    y_m = (8.0, 14.0) if back else (-10.0, 2.0)
    launch = Launch(
        at_s=soon_s,
        place_m=(float(random.uniform(-5, 5)), float(random.uniform(*y_m)), 1.6),
        speed_mps=float(random.uniform(6, 14)),
        elevation_deg=float(random.uniform(5, 35)),
        azimuth_deg=float(random.normal(0, 20)) + (180.0 if back else 0.0),
    )
    return fly(launch, drawn_ball(random))
