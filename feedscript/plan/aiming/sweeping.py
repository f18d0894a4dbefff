"""Feeds over the sweep of a launcher that swings by itself.

Such a feed says how deep it lands where the launcher faces. Its throw is found for there; the same
throw is then turned to every direction that stands for the sweep, and flown again from there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec
import numpy as np

from feedscript.diagnostics import Diagnostic, Page
from feedscript.flight.aim.aiming import aims_at
from feedscript.launcher.profile.model import Profile
from feedscript.plan.aiming.shots import Shot
from feedscript.plan.aiming.solved import Solved, Stand
from feedscript.plan.aiming.solving import targets_of

_PROGRAM = """feedscript 1
launcher {{ profile "{profile}"  stands 1 m behind centre mark }}
feed drive {{ {landing}  speed 72 km/h }}
lesson {{ show speed of drive  send drive after 6 s }}
"""

NO_SINGLE_PLACE = Page(
    slug="no-single-place",
    title="One place, from a launcher that swings by itself",
    why="""Where in its swing a launcher is when a ball leaves, nobody chooses: the ball comes down
anywhere over its whole sweep. A feed that names one place would promise what cannot be kept, to
those who play it and to those who stand beside it. `sweep` says how deep the balls land, and every
rule is then held against every direction of the sweep. Where the swing can be switched off and the
launcher pointed, that is another launcher, with a profile of its own.""",
    wrong=_PROGRAM.format(
        profile="swinging-head.toml", landing="land 4 m inside baseline, on centre line"
    ),
    corrected=_PROGRAM.format(profile="swinging-head.toml", landing="sweep 4 m inside baseline"),
)

NO_SWEEP = Page(
    slug="no-sweep",
    title="A sweep from a launcher that does not swing",
    why="""`sweep` is for a launcher whose profile has a `[sweep]`: one that swings from side to
side by itself. Any other one lands its balls where it is told to, and must be told.""",
    wrong=_PROGRAM.format(profile="garage.toml", landing="sweep 4 m inside baseline"),
    corrected=_PROGRAM.format(
        profile="garage.toml", landing="land 4 m inside baseline, on centre line"
    ),
)


def faced(shot: Shot, stand: Stand) -> Shot:
    """The shot, landing where the launcher faces if it goes over the sweep."""
    if not (shot.wish.swept and stand.profile.sweep):
        return shot
    x_m, y_m, _ = stand.placed.mouth_m
    deep_m = shot.wish.land_m[1]
    over_m = (deep_m - y_m) * math.tan(math.radians(_ahead_deg(stand)))
    wish = msgspec.structs.replace(shot.wish, land_m=(x_m + over_m, deep_m))
    return msgspec.structs.replace(shot, wish=wish)


def swung(shots: Sequence[Shot], solved: Sequence[Solved], stand: Stand) -> list[Solved]:
    """Each shot's throw, turned to its own direction of the sweep and flown again."""
    found = list(solved)
    rows = [
        row
        for row, (shot, one) in enumerate(zip(shots, solved, strict=True))
        if shot.wish.swept and stand.profile.sweep is not None and one.aims is not None
    ]
    if not rows:
        return found
    turned = [_with_speed(solved[row]) for row in rows]
    elevation = np.array([solved[row].throw.elevation_deg for row in rows])
    azimuth = _ahead_deg(stand) + np.array([shots[row].swing_deg for row in rows])
    aims = aims_at(targets_of(turned, stand), elevation, azimuth, stand.conditions, by_wheels=True)
    for number, row in enumerate(rows):
        found[row] = Solved(turned[number], aims, number, solved[row].missed)
    return found


def _with_speed(solved: Solved) -> Shot:
    """The shot with the speed that was found for it."""
    wish = msgspec.structs.replace(solved.shot.wish, speed_mps=solved.throw.speed_mps)
    return msgspec.structs.replace(solved.shot, wish=wish)


def _ahead_deg(stand: Stand) -> float:
    """The azimuth at which balls leave when the launcher points to where it faces."""
    return stand.placed.heading_deg + stand.profile.calibration.azimuth_offset_deg


def wrong_aim(shot: Shot, stand: Stand) -> Diagnostic | None:
    """Why a launcher that swings cannot land at one place, or another one not over a sweep."""
    wish, profile = shot.wish, stand.profile
    if wish.swept and profile.sweep is None:
        return NO_SWEEP.report(
            f"`{wish.name}` goes over a sweep, and this launcher does not swing by itself",
            help=f"write `land {wish.land_m[1]:.2f} m from net, on centre line`, or any other "
            "place; or name a launcher whose profile has a [sweep]",
            span=wish.spans.get("sweep", wish.span),
        )
    if profile.sweep is not None and not wish.swept:
        return NO_SINGLE_PLACE.report(
            f"`{wish.name}` lands at one place, and this launcher swings by itself: "
            f"{_band(profile)}, the ball comes down anywhere over {_width_m(shot, stand):.1f} m",
            help=f"write `sweep {wish.land_m[1]:.2f} m from net`",
            span=wish.spans.get("land", wish.span),
        )
    return None


def _band(profile: Profile) -> str:
    assert profile.sweep is not None
    band = profile.sweep.band_deg
    return f"from {_side(band.least)} to {_side(band.most)}"


def _side(turn_deg: float) -> str:
    return f"{abs(turn_deg):g} degrees {'right' if turn_deg > 0 else 'left'}"


def _width_m(shot: Shot, stand: Stand) -> float:
    """How wide the sweep is where the shot lands."""
    assert stand.profile.sweep is not None
    (x_m, y_m), (from_x_m, from_y_m, _) = shot.wish.land_m, stand.placed.mouth_m
    band = stand.profile.sweep.band_deg
    far_m = math.hypot(x_m - from_x_m, y_m - from_y_m)
    return 2 * far_m * math.sin(math.radians((band.most - band.least) / 2))
