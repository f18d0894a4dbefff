"""Aim every shot of a program, one batch for each launcher."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from feedscript.diagnostics import Diagnostic, Span
from feedscript.flight.aim.aiming import Aims
from feedscript.launcher.kinematics import natural_spin, setting_for
from feedscript.launcher.scatter import (
    MOUTH_QUANTITIES,
    ellipse_of,
    ground_covariance,
    mouth_sigmas,
)
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw
from feedscript.memo import Memo, content
from feedscript.plan.aiming.out_of_reach import why_not
from feedscript.plan.aiming.shots import Shot
from feedscript.plan.aiming.solved import Solved, Stand
from feedscript.plan.aiming.solving import solve
from feedscript.plan.aiming.sweeping import faced, swung, wrong_aim
from feedscript.plan.canonical import settled
from feedscript.plan.model import AimedFeed, Ellipse


class Aimed(msgspec.Struct, frozen=True):
    """A shot aimed, its figures as they are written.

    One that has a diagnostic is aimed as near as can be, for pictures only.
    """

    feed: AimedFeed | None  # None where not even a nearest throw comes down
    diagnostics: tuple[Diagnostic, ...]


def aim_shots(shots: Sequence[Shot], stand: Stand, memo: Memo) -> list[Aimed]:
    """Aim all shots of one launcher."""
    bare = [unplaced(shot) for shot in shots]
    where = content(stand)
    keys = [(where, content(shot)) for shot in bare]
    found = memo.each("aim", keys, lambda rows: _aim([bare[row] for row in rows], stand, memo))
    return [_placed(each, shot) for each, shot in zip(found, shots, strict=True)]


def unplaced(shot: Shot) -> Shot:
    """The shot wherever it is written: of its places only which of its lines there are."""
    wish = shot.wish
    spans = {part: _bare_span(part) for part in wish.spans}
    wish = msgspec.structs.replace(wish, span=_bare_span(""), spans=spans)
    return msgspec.structs.replace(shot, wish=wish, line=0)


def _bare_span(part: str) -> Span:
    return Span(part, 0, 0, 0, 0)


def _placed(aimed: Aimed, shot: Shot) -> Aimed:
    """What was aimed for the bare shot, at the places where this one is written."""
    feed, wish = aimed.feed, shot.wish
    if feed is not None:
        feed = msgspec.structs.replace(feed, line=shot.line)
    spans = {"": wish.span, **wish.spans} if aimed.diagnostics else {}
    told = [
        msgspec.structs.replace(one, span=None if one.span is None else spans[one.span.source])
        for one in aimed.diagnostics
    ]
    return Aimed(feed, tuple(told))


def _aim(shots: Sequence[Shot], stand: Stand, memo: Memo) -> list[Aimed]:
    if stand.profile.sweep is None:
        return [aimed(found, stand) for found in solve(shots, stand, memo.go_on)]
    return [aimed(found, stand) for found in _over_sweep(shots, stand, memo)]


def _over_sweep(shots: Sequence[Shot], stand: Stand, memo: Memo) -> list[Solved]:
    """Each feed's throw found once, and turned to every direction of the sweep."""
    once = {content(_ahead(shot)): _ahead(shot) for shot in shots}
    found = solve([faced(shot, stand) for shot in once.values()], stand, memo.go_on)
    thrown = dict(zip(once, found, strict=True))
    solved = [
        msgspec.structs.replace(one, shot=msgspec.structs.replace(one.shot, name=shot.name))
        for shot in shots
        for one in (thrown[content(_ahead(shot))],)
    ]
    return swung(shots, solved, stand)


def _ahead(shot: Shot) -> Shot:
    """The shot as all directions of a sweep have it."""
    return msgspec.structs.replace(shot, name="", swing_deg=0.0) if shot.wish.swept else shot


def aimed(solved: Solved, stand: Stand) -> Aimed:
    shot, aims, index = solved.shot, solved.aims, solved.row
    wrong = wrong_aim(shot, stand)
    diagnostics = [] if wrong is None else [wrong]
    if solved.missed is not None and wrong is None:
        diagnostics.append(why_not(solved, stand))
    if aims is None:
        return Aimed(None, tuple(diagnostics))
    flights, throw = aims.flights, solved.throw
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
        net_clearance_m=solved.net_clearance_m(stand),
        flight_s=float(flights.flight_s[index]),
        apex_m=float(flights.apex_m[index]),
        speed_at_bounce_mps=float(flights.speed_at_bounce_mps[index]),
        scatter=scatter_of(aims, index, stand, throw),
        line=shot.line,
        within_m=wish.within_m,
        receiver_m=wish.receiver_m or stand.receiver_m,
    )
    return Aimed(settled(feed), tuple(diagnostics))


def _setting(shot: Shot, stand: Stand, throw: Throw, diagnostics: list[Diagnostic]) -> Setting:
    """The setting for the throw; where there is none, the nearest spin's, and the reason why."""
    facing = stand.placed.heading_deg
    setting = setting_for(stand.profile, throw, facing)
    if isinstance(setting, Setting):
        return setting
    wish = shot.wish
    diagnostics.append(msgspec.structs.replace(setting, span=wish.spans.get("spin", wish.span)))
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


def scatter_of(aims: Aims, index: int, stand: Stand, throw: Throw) -> Ellipse:
    """Where the balls of one of these aims come down, one sigma."""
    columns = [getattr(aims.sensitivity, name)[:, index] for name in MOUTH_QUANTITIES]
    covariance = ground_covariance(np.stack(columns, axis=-1), mouth_sigmas(stand.profile, throw))
    ellipse = ellipse_of(covariance)
    return Ellipse(major_m=ellipse.major_m, minor_m=ellipse.minor_m, turn_deg=ellipse.turn_deg)
