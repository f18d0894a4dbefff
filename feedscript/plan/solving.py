"""How every shot of one launcher is thrown, each kind of wish in one batch."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from feedscript.court.net import Net
from feedscript.diagnostics import Diagnostic
from feedscript.flight.aiming import Aims, aim
from feedscript.flight.bounce import Surface
from feedscript.flight.conditions import Conditions
from feedscript.flight.models import Array
from feedscript.flight.targets import Targets
from feedscript.launcher.kinematics import natural_spin
from feedscript.launcher.profile import Profile
from feedscript.plan.flying import UNKNOWN_BOUNCE
from feedscript.plan.out_of_reach import Miss, Outside, out_of_reach, outside
from feedscript.plan.scene import PlacedLauncher
from feedscript.plan.shots import Shot

if TYPE_CHECKING:
    from feedscript.flight.wishes import WishedAims

#: Rounds in which a spin that follows from the speed, and a speed that is sought, find each other.
_SPIN_ROUNDS = 6


class Stand(msgspec.Struct, frozen=True):
    """A launcher on a court: all that the aim of its shots hangs on."""

    launcher: int
    placed: PlacedLauncher
    profile: Profile
    conditions: Conditions
    net: Net
    surface: Surface | str  # or why it is not known
    receiver_m: tuple[float, float] | None = None  # of a feed that does not say


class Solved(msgspec.Struct, frozen=True):
    """A shot's throw: lane ``lane`` of ``aims``; None where there is no throw at all."""

    shot: Shot
    aims: Aims | None
    lane: int
    diagnostics: tuple[Diagnostic, ...] = ()


_Solver = Callable[[Sequence[Shot], Stand], list[Solved]]


def solve(shots: Sequence[Shot], stand: Stand) -> list[Solved]:
    """The throw of every shot, in their order."""
    solved: dict[int, Solved] = {}
    for kind in _SOLVERS:
        own = [index for index, shot in enumerate(shots) if _kind(shot) == kind]
        if own:
            found = _SOLVERS[kind]([shots[index] for index in own], stand)
            solved.update(zip(own, found, strict=True))
    return [solved[index] for index in range(len(shots))]


def _kind(shot: Shot) -> str:
    wish = shot.wish
    if wish.speed_mps is not None:
        return "speed"
    if wish.apex_m is not None:
        return "apex"
    return "flight" if wish.flight_s is not None else "contact"


def _targets(shots: Sequence[Shot], stand: Stand) -> Targets:
    wishes = [shot.wish for shot in shots]
    x_m, y_m, z_m = stand.placed.mouth_m
    return Targets.of(
        [wish.land_m[0] for wish in wishes],
        [wish.land_m[1] for wish in wishes],
        [np.nan if wish.speed_mps is None else wish.speed_mps for wish in wishes],
        top_rpm=[wish.top_rpm for wish in wishes],
        side_rpm=[wish.side_rpm for wish in wishes],
        mouth_x_m=x_m,
        mouth_y_m=y_m,
        mouth_z_m=z_m,
        high=[wish.high_arc for wish in wishes],
    )


def _by_speed(shots: Sequence[Shot], stand: Stand) -> list[Solved]:
    shots = [_with_spin(shot, stand.profile, shot.wish.speed_mps) for shot in shots]
    aims = aim(_targets(shots, stand), stand.conditions)
    return [_reached(shot, stand, aims, lane) for lane, shot in enumerate(shots)]


def _reached(shot: Shot, stand: Stand, aims: Aims, lane: int) -> Solved:
    if aims.reachable[lane]:
        return Solved(shot, aims, lane)
    miss = Miss(
        shot,
        stand.placed.mouth_m,
        float(aims.launches.speed_mps[lane]),
        float(aims.miss_m[lane]),
        float(aims.speed_needed_mps[lane]),
    )
    return Solved(shot, aims, lane, (out_of_reach(miss, stand.profile),))


def _spin_follows(shot: Shot, profile: Profile) -> bool:
    """Whether a shot takes the spin that its launcher cannot help giving: it states none."""
    wish = shot.wish
    stated = "spin" in wish.spans or wish.top_rpm or wish.side_rpm
    return not stated and natural_spin(profile.drive, 20.0) is not None


def _with_spin(shot: Shot, profile: Profile, speed_mps: float | None) -> Shot:
    if speed_mps is None or not _spin_follows(shot, profile):
        return shot
    top, side = natural_spin(profile.drive, speed_mps) or (0.0, 0.0)
    return msgspec.structs.replace(
        shot, wish=msgspec.structs.replace(shot.wish, top_rpm=top, side_rpm=side)
    )


def _by_apex(shots: Sequence[Shot], stand: Stand) -> list[Solved]:
    from feedscript.flight.wishes import aim_for_apex

    wished = np.array([shot.wish.apex_m for shot in shots], dtype=float)
    found, shots = _sought(
        shots, stand, lambda targets: aim_for_apex(targets, wished, stand.conditions)
    )
    return _had(shots, found, wished, ("apex", "rise to", "m"))


def _by_time(shots: Sequence[Shot], stand: Stand) -> list[Solved]:
    from feedscript.flight.wishes import aim_for_time

    wished = np.array([shot.wish.flight_s for shot in shots], dtype=float)
    found, shots = _sought(
        shots, stand, lambda targets: aim_for_time(targets, wished, stand.conditions)
    )
    return _had(shots, found, wished, ("flight", "be in the air for", "s"))


def _by_contact(shots: Sequence[Shot], stand: Stand) -> list[Solved]:
    from feedscript.flight.wishes import aim_for_contact

    surface = stand.surface
    if isinstance(surface, str):
        return [_no_bounce(shot, surface) for shot in shots]
    contacts = [shot.wish.contact for shot in shots if shot.wish.contact is not None]
    wished = np.array([contact.height_m for contact in contacts])
    behind = np.array([contact.behind_bounce_m for contact in contacts])
    found, shots = _sought(
        shots,
        stand,
        lambda targets: aim_for_contact(targets, wished, behind, stand.conditions, surface),
    )
    return _had(shots, found, wished, ("contact", "be met at", "m"))


def _no_bounce(shot: Shot, why: str) -> Solved:
    wish = shot.wish
    found = UNKNOWN_BOUNCE.report(
        f"`{wish.name}` is given by its contact point, and {why}",
        help="write `surface hard` (or clay, grass, carpet) in `court`",
        span=wish.spans.get("contact", wish.span),
    )
    return Solved(shot, None, 0, (found,))


def _sought(
    shots: Sequence[Shot], stand: Stand, seek: Callable[[Targets], WishedAims]
) -> tuple[WishedAims, Sequence[Shot]]:
    """Seek the speeds; a spin that follows from the speed is sought along with it."""
    found = seek(_targets(shots, stand))
    if not any(_spin_follows(shot, stand.profile) for shot in shots):
        return found, shots
    bare = shots
    for _ in range(_SPIN_ROUNDS):
        speeds = np.where(np.isfinite(found.speed_mps), found.speed_mps, 20.0)
        shots = [
            _with_spin(shot, stand.profile, float(speed))
            for shot, speed in zip(bare, speeds, strict=True)
        ]
        found = seek(_targets(shots, stand))
    return found, shots


def _had(
    shots: Sequence[Shot], found: WishedAims, wished: Array, words: tuple[str, str, str]
) -> list[Solved]:
    part, verb, unit = words
    solved = []
    for lane, shot in enumerate(shots):
        if found.reachable[lane]:
            solved.append(Solved(shot, found.aims, lane))
            continue
        least, most = float(found.least[lane]), float(found.most[lane])
        miss = Outside(shot, part, verb, unit, float(wished[lane]), least, most)
        solved.append(Solved(shot, None, lane, (outside(miss),)))
    return solved


_SOLVERS: dict[str, _Solver] = {
    "speed": _by_speed,
    "apex": _by_apex,
    "flight": _by_time,
    "contact": _by_contact,
}
