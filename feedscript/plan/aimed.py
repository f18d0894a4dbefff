"""Aim every shot of a program, one batch for each launcher."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from feedscript.court.net import Net
from feedscript.diagnostics import Diagnostic
from feedscript.flight.aiming import Aims, Targets, aim
from feedscript.flight.motion import Conditions
from feedscript.launcher.kinematics import natural_spin, setting_for
from feedscript.launcher.profile import Profile
from feedscript.launcher.scatter import (
    MOUTH_QUANTITIES,
    ellipse_of,
    ground_covariance,
    mouth_sigmas,
)
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw
from feedscript.plan.model import AimedFeed, Ellipse
from feedscript.plan.out_of_reach import Miss, out_of_reach
from feedscript.plan.scene import PlacedLauncher
from feedscript.plan.shots import Shot


@dataclass(frozen=True, slots=True)
class Aimed:
    """A shot aimed. One that has a diagnostic is aimed as near as can be, for pictures only."""

    feed: AimedFeed | None  # None where not even a nearest throw comes down
    diagnostics: tuple[Diagnostic, ...]


@dataclass(frozen=True, slots=True)
class Stand:
    """A launcher on a court: all that the aim of its shots hangs on."""

    launcher: int
    placed: PlacedLauncher
    profile: Profile
    conditions: Conditions
    net: Net


def aim_shots(shots: Sequence[Shot], stand: Stand, lines: Sequence[int]) -> list[Aimed]:
    """Aim all shots of one launcher; ``lines`` are where the program defines them."""
    if not shots:
        return []
    shots = [_with_spin(shot, stand.profile) for shot in shots]
    aims = aim(_targets(shots, stand), stand.conditions)
    return [_aimed(shot, stand, aims, index, lines[index]) for index, shot in enumerate(shots)]


def _with_spin(shot: Shot, profile: Profile) -> Shot:
    """A shot that states no spin takes the one that its launcher cannot help giving."""
    wish = shot.wish
    if "spin" in wish.spans or wish.top_rpm or wish.side_rpm or wish.speed_mps is None:
        return shot
    natural = natural_spin(profile.drive, wish.speed_mps)
    if natural is None:
        return shot
    return replace(shot, wish=replace(wish, top_rpm=natural[0], side_rpm=natural[1]))


def _targets(shots: Sequence[Shot], stand: Stand) -> Targets:
    wishes = [shot.wish for shot in shots]
    x_m, y_m, z_m = stand.placed.mouth_m
    return Targets.of(
        [wish.land_m[0] for wish in wishes],
        [wish.land_m[1] for wish in wishes],
        [wish.speed_mps or 0.0 for wish in wishes],
        top_rpm=[wish.top_rpm for wish in wishes],
        side_rpm=[wish.side_rpm for wish in wishes],
        mouth_x_m=x_m,
        mouth_y_m=y_m,
        mouth_z_m=z_m,
        high=[wish.high_arc for wish in wishes],
    )


def _aimed(shot: Shot, stand: Stand, aims: Aims, index: int, line: int) -> Aimed:
    launches, flights = aims.launches, aims.flights
    throw = Throw(
        speed_mps=float(launches.speed_mps[index]),
        elevation_deg=float(aims.elevation_deg[index]),
        azimuth_deg=float(aims.azimuth_deg[index]),
        top_rpm=shot.wish.top_rpm,
        side_rpm=shot.wish.side_rpm,
    )
    diagnostics = []
    if not aims.reachable[index]:
        miss = Miss(
            shot,
            stand.placed.mouth_m[:2],
            throw.speed_mps,
            float(aims.miss_m[index]),
            float(aims.speed_needed_mps[index]),
        )
        diagnostics.append(out_of_reach(miss, stand.profile))
    setting = _setting(shot, stand, throw, diagnostics)
    if not flights.landed[index]:
        return Aimed(None, tuple(diagnostics))
    wish = shot.wish
    feed = AimedFeed(
        name=shot.name,
        wish=wish.name,
        launcher=stand.launcher,
        landing_m=(float(flights.landing_x_m[index]), float(flights.landing_y_m[index])),
        speed_mps=throw.speed_mps,
        top_rpm=throw.top_rpm,
        side_rpm=throw.side_rpm,
        elevation_deg=throw.elevation_deg,
        azimuth_deg=throw.azimuth_deg,
        setting=setting,
        net_clearance_m=_net_clearance(aims, index, stand),
        flight_s=float(flights.flight_s[index]),
        apex_m=float(flights.apex_m[index]),
        speed_at_bounce_mps=float(flights.speed_at_bounce_mps[index]),
        scatter=_scatter(aims, index, stand, throw),
        line=line,
        within_m=wish.within_m,
        receiver_m=wish.receiver_m,
    )
    return Aimed(feed, tuple(diagnostics))


def _setting(shot: Shot, stand: Stand, throw: Throw, diagnostics: list[Diagnostic]) -> Setting:
    """The setting for the throw; where there is none, the nearest spin's, and the reason why."""
    facing = stand.placed.heading_deg
    setting = setting_for(stand.profile, throw, facing)
    if isinstance(setting, Setting):
        return setting
    wish = shot.wish
    diagnostics.append(replace(setting, span=wish.spans.get("spin", wish.span)))
    top, side = natural_spin(stand.profile.drive, throw.speed_mps) or (throw.top_rpm, 0.0)
    plain = Throw(
        speed_mps=throw.speed_mps,
        elevation_deg=throw.elevation_deg,
        azimuth_deg=throw.azimuth_deg,
        top_rpm=top,
        side_rpm=side,
    )
    setting = setting_for(stand.profile, plain, facing)
    assert isinstance(setting, Setting)
    return setting


def _net_clearance(aims: Aims, index: int, stand: Stand) -> float:
    """Underside of the ball over the net cord as it crosses; the cord's height under it if not."""
    flights = aims.flights
    height, x_m = float(flights.net_height_m[index]), float(flights.net_x_m[index])
    if np.isnan(height):
        return -stand.net.centre_m
    return height - stand.conditions.ball.radius_m - stand.net.height_m(x_m)


def _scatter(aims: Aims, index: int, stand: Stand, throw: Throw) -> Ellipse:
    columns = [getattr(aims.sensitivity, name)[:, index] for name in MOUTH_QUANTITIES]
    covariance = ground_covariance(np.stack(columns, axis=-1), mouth_sigmas(stand.profile, throw))
    ellipse = ellipse_of(covariance)
    return Ellipse(major_m=ellipse.major_m, minor_m=ellipse.minor_m, turn_deg=ellipse.turn_deg)
