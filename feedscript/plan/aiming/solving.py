"""How every shot of one launcher is thrown, each kind of wish in one batch."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from feedscript.flight.aim.aiming import Aims, aim
from feedscript.flight.aim.targets import Targets
from feedscript.flight.models import Array
from feedscript.launcher.kinematics import natural_spin
from feedscript.launcher.profile.model import Profile
from feedscript.plan.aiming.shots import Shot
from feedscript.plan.aiming.solved import Miss, NoBounce, Outside, Solved, Stand
from feedscript.plan.aiming.stepping import on_steps, with_any_step

if TYPE_CHECKING:
    from feedscript.flight.aim.wishes import WishedAims

#: Rounds in which a spin that follows from the speed, and a speed that is sought, find each other.
_SPIN_ROUNDS = 6


_Solver = Callable[[Sequence[Shot], Stand], list[Solved]]


def solve(
    shots: Sequence[Shot], stand: Stand, go_on: Callable[[], None] | None = None
) -> list[Solved]:
    """The throw of every shot, in their order; ``go_on`` as of ``aim``, where a speed is said."""
    solved: dict[int, Solved] = {}
    for part in _SOLVERS:
        own = [index for index, shot in enumerate(shots) if kind(shot) == part]
        if own:
            these = [shots[index] for index in own]
            if part == "speed":
                found = by_speed(these, stand, go_on=go_on)
            elif stand.profile.drive.steps:
                found = _by_any_step(these, part, stand, go_on)
            else:
                found = _SOLVERS[part](these, stand)
            solved.update(zip(own, found, strict=True))
    return [solved[index] for index in range(len(shots))]


def kind(shot: Shot) -> str:
    """What a shot is given by, beside its place: the name of that line of a feed."""
    wish = shot.wish
    if wish.speed_mps is not None:
        return "speed"
    if wish.apex_m is not None:
        return "apex"
    return "flight" if wish.flight_s is not None else "contact"


def targets_of(shots: Sequence[Shot], stand: Stand) -> Targets:
    """What each of these shots is to do, from this mouth."""
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


def by_speed(
    shots: Sequence[Shot],
    stand: Stand,
    *,
    seek_speed: bool = True,
    go_on: Callable[[], None] | None = None,
) -> list[Solved]:
    """The throws of shots that say their speed; ``seek_speed`` and ``go_on`` as of ``aim``."""
    shots = [_with_spin(shot, stand.profile, shot.wish.speed_mps) for shot in shots]
    throw = partial(_thrown, stand=stand, seek_speed=seek_speed, go_on=go_on)
    return on_steps(shots, stand, throw) if stand.profile.drive.steps else throw(shots)


def _thrown(
    shots: Sequence[Shot], stand: Stand, seek_speed: bool, go_on: Callable[[], None] | None
) -> list[Solved]:
    targets, span = targets_of(shots, stand), stand.elevations_deg
    aims = aim(targets, stand.conditions, elevations_deg=span, seek_speed=seek_speed, go_on=go_on)
    return [_reached(shot, aims, row) for row, shot in enumerate(shots)]


def _reached(shot: Shot, aims: Aims, row: int) -> Solved:
    if aims.reachable[row]:
        return Solved(shot, aims, row)
    miss = Miss(
        float(aims.launches.speed_mps[row]),
        float(aims.miss_m[row]),
        float(aims.speed_needed_mps[row]),
    )
    return Solved(shot, aims, row, miss)


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


def _by_any_step(
    shots: Sequence[Shot], part: str, stand: Stand, go_on: Callable[[], None] | None
) -> list[Solved]:
    """The throws of shots that leave their speed open, with whichever step comes nearest."""
    if part == "contact" and isinstance(stand.surface, str):
        return _by_contact(shots, stand)
    throw = partial(by_speed, stand=stand, seek_speed=False, go_on=go_on)
    return with_any_step(shots, [_wished(shot) for shot in shots], part, stand, throw)


def _wished(shot: Shot) -> float:
    """What a shot that leaves its speed open is given by."""
    wish = shot.wish
    value = wish.apex_m if wish.apex_m is not None else wish.flight_s
    if value is None:
        assert wish.contact is not None
        value = wish.contact.height_m
    return value


def _by_apex(shots: Sequence[Shot], stand: Stand) -> list[Solved]:
    from feedscript.flight.aim.wishes import aim_for_apex

    wished = np.array([shot.wish.apex_m for shot in shots], dtype=float)
    found, shots = _sought(
        shots,
        stand,
        lambda targets: aim_for_apex(
            targets, wished, stand.conditions, elevations_deg=stand.elevations_deg
        ),
    )
    return _had(shots, found, wished)


def _by_time(shots: Sequence[Shot], stand: Stand) -> list[Solved]:
    from feedscript.flight.aim.wishes import aim_for_time

    wished = np.array([shot.wish.flight_s for shot in shots], dtype=float)
    found, shots = _sought(
        shots,
        stand,
        lambda targets: aim_for_time(
            targets, wished, stand.conditions, elevations_deg=stand.elevations_deg
        ),
    )
    return _had(shots, found, wished)


def _by_contact(shots: Sequence[Shot], stand: Stand) -> list[Solved]:
    from feedscript.flight.aim.wishes import aim_for_contact

    surface = stand.surface
    if isinstance(surface, str):
        return [Solved(shot, None, 0, NoBounce(surface)) for shot in shots]
    contacts = [shot.wish.contact for shot in shots if shot.wish.contact is not None]
    wished = np.array([contact.height_m for contact in contacts])
    behind = np.array([contact.behind_bounce_m for contact in contacts])
    found, shots = _sought(
        shots,
        stand,
        lambda targets: aim_for_contact(
            targets, wished, behind, stand.conditions, surface, elevations_deg=stand.elevations_deg
        ),
    )
    return _had(shots, found, wished)


def _sought(
    shots: Sequence[Shot], stand: Stand, seek: Callable[[Targets], WishedAims]
) -> tuple[WishedAims, Sequence[Shot]]:
    """Seek the speeds; a spin that follows from the speed is sought along with it."""
    found = seek(targets_of(shots, stand))
    if not any(_spin_follows(shot, stand.profile) for shot in shots):
        return found, shots
    bare = shots
    for _ in range(_SPIN_ROUNDS):
        speeds = np.where(np.isfinite(found.speed_mps), found.speed_mps, 20.0)
        shots = [
            _with_spin(shot, stand.profile, float(speed))
            for shot, speed in zip(bare, speeds, strict=True)
        ]
        found = seek(targets_of(shots, stand))
    return found, shots


def _had(shots: Sequence[Shot], found: WishedAims, wished: Array) -> list[Solved]:
    solved = []
    for row, shot in enumerate(shots):
        if found.reachable[row]:
            solved.append(Solved(shot, found.aims, row))
            continue
        least, most = float(found.least[row]), float(found.most[row])
        solved.append(Solved(shot, None, row, Outside(float(wished[row]), least, most)))
    return solved


_SOLVERS: dict[str, _Solver] = {
    "speed": by_speed,
    "apex": _by_apex,
    "flight": _by_time,
    "contact": _by_contact,
}
