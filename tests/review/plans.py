"""Plans made by hand for pictures: feeds really aimed and flown, on the example launcher."""

from __future__ import annotations

import numpy as np

from feedscript.court.lines import COURTS
from feedscript.flight.aim.aiming import Targets, aim
from feedscript.flight.motion.tracks import track
from feedscript.launcher.kinematics import setting_for
from feedscript.launcher.profile.model import profile_hash
from feedscript.launcher.scatter import ellipse_of, ground_covariance, mouth_sigmas
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw
from feedscript.plan.model import (
    AimedFeed,
    Bounds,
    Collect,
    Ellipse,
    Plan,
    Repeat,
    Rest,
    Send,
    ShowSpeed,
)
from feedscript.plan.scene import Balls, Court, Group, PlacedLauncher
from feedscript.review.drawing.drawn_flights import DrawnFlight, styled
from tests.launcher.examples import garage

MOUTH = (0.0, -12.9, 0.95)
#: Landing x, landing y, speed, top spin, name: places that coaches feed to.
WISHES = [
    (3.1, 9.9, 24.0, 1200, "deep to the backhand"),
    (-3.1, 9.9, 24.0, 1200, "deep to the forehand"),
    (0.0, 8.6, 18.5, -900, "slice to the middle"),
    (2.6, 4.2, 17.0, 0, "short to the ad side"),
    (-2.8, 5.6, 18.5, 600, "short to the deuce side"),
    (0.2, 9.4, 22.0, 1200, "high and heavy"),
    (3.2, 10.3, 28.0, 1500, "fast and wide"),
    (-3.3, 8.4, 22.0, 900, "wide recovery"),
    (3.0, 9.6, 22.5, 1000, "close by the first, to crowd the letters"),
    (0.0, 3.2, 15.5, -300, "drop feed"),
]


def plan_of(count: int, kind: str = "singles") -> tuple[Plan, tuple[DrawnFlight, ...]]:
    """A plan of the first ``count`` wishes, and its feeds with their paths."""
    wishes = WISHES[:count]
    x, y, speed, top, _ = (np.array(column) for column in zip(*wishes, strict=True))
    targets = Targets.of(
        x.astype(float), y.astype(float), speed.astype(float), top_rpm=top.astype(float),
        mouth_y_m=MOUTH[1], mouth_z_m=MOUTH[2],
    )  # fmt: skip
    solution = aim(targets)
    assert solution.reachable.all()
    feeds = tuple(_feed(index, wish, solution, kind) for index, wish in enumerate(wishes))
    flown_paths = track(solution.launches).place_m
    plan = Plan(
        version=1, title="Invented: a plan for pictures", program_hash="0" * 64, seed=7,
        flight_model="wind-tunnel",
        court=Court(kind=kind, surface="clay", altitude_m=0, air_c=20),
        balls=Balls(kind="type 2"), group=Group(players=()),
        launchers=(PlacedLauncher(
            name="launcher", profile_name=garage().name, profile_hash=profile_hash(garage()),
            mouth_m=MOUTH, heading_deg=0.0, load=60, line=1),),
        feeds=feeds,
        steps=(
            ShowSpeed(feed=0, line=1),
            Repeat(times=4, line=2, body=tuple(
                Send(feeds=(index,), after_s=(4.0, 4.0), line=3) for index in range(count))),
            Rest(seconds=20, line=4), Collect(line=5),
            Send(feeds=(0,), after_s=(4.0, 4.0), line=6),
        ),
        bounds=Bounds(balls=(1, 100), time_s=(1, 100), fastest_mps=22),
    )  # fmt: skip
    return plan, styled(feeds, list(flown_paths))


def _feed(index: int, wish: tuple[float, float, float, float, str], solution, kind) -> AimedFeed:
    x, y, speed, top, name = wish
    elevation, azimuth = float(solution.elevation_deg[index]), float(solution.azimuth_deg[index])
    throw = Throw(speed_mps=speed, elevation_deg=elevation, azimuth_deg=azimuth, top_rpm=top)
    setting = setting_for(garage(), throw)
    assert isinstance(setting, Setting)
    flights, sense = solution.flights, solution.sensitivity
    columns = (sense.speed_mps, sense.elevation_deg, sense.azimuth_deg, sense.top_rpm,
               sense.side_rpm)  # fmt: skip
    jacobian = np.stack([column[:, index] for column in columns], axis=1)
    ellipse = ellipse_of(ground_covariance(jacobian, mouth_sigmas(garage(), throw)))
    net = COURTS[kind].net.height_m(float(flights.net_x_m[index]))
    return AimedFeed(
        name=name, launcher=0, landing_m=(x, y), speed_mps=speed, top_rpm=top, side_rpm=0.0,
        elevation_deg=elevation, azimuth_deg=azimuth, setting=setting,
        net_clearance_m=float(flights.net_height_m[index]) - 0.033 - net,
        flight_s=float(flights.flight_s[index]), apex_m=float(flights.apex_m[index]),
        speed_at_bounce_mps=float(flights.speed_at_bounce_mps[index]),
        scatter=Ellipse(major_m=ellipse.major_m, minor_m=ellipse.minor_m,
                        turn_deg=ellipse.turn_deg),
        line=index + 10, within_m=0.7 if index == 0 else None,
        receiver_m=(0.0, 12.6),
    )  # fmt: skip
