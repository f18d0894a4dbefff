"""Measured balls: what the launcher was set to, and where each landed."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedscript.flight.launches import Launches
from feedscript.flight.models import Lanes
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.flights import land
from feedscript.launcher.kinematics import throw_of
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.scatter import MOUTH_QUANTITIES, mouth_sigmas
from feedscript.launcher.setting import Setting
from feedscript.launcher.throw import Throw

Array = NDArray[np.float64]

#: What may be measured of one ball, in this order: along and right of where the launcher faces
#: (from below the mouth), speed at the mouth, time from mouth to bounce.
MEASURED = ("along_m", "right_m", "speed_mps", "flight_s")
_NUDGES = (0.05, 0.1, 0.1, 20.0, 20.0)


class Tape(msgspec.Struct, frozen=True):
    """How well the measuring was done: one standard deviation of each of MEASURED.

    A tape and a mark on the ground: 4 cm; a speed gun: 1 %, taken at 20 m/s; a video at 60
    pictures a second: 0.012 s. Assumptions of ours.
    """

    along_m: float = 0.04
    right_m: float = 0.04
    speed_mps: float = 0.2
    flight_s: float = 0.012

    def sigmas(self) -> Array:
        return np.array([self.along_m, self.right_m, self.speed_mps, self.flight_s])


#: What a person with a tape, and where they have them a speed gun and a video, can do.
BY_HAND = Tape()


class Shots(msgspec.Struct, frozen=True, eq=False):
    """Balls of one launcher. ``seen`` is (n, 4), columns MEASURED, NaN where not measured.

    ``own`` is (n, 2, 2): how surely each ball's along_m and right_m were measured, a covariance in
    square metres; NaN for a ball that was measured as well as the tape measures, None for all so.
    """

    settings: tuple[Setting, ...]
    seen: Array
    lines: tuple[int, ...]  # where each stands in its file
    own: Array | None = None

    def some(self, chosen: Sequence[int] | Lanes) -> Shots:
        rows = np.asarray(chosen, dtype=int)
        return Shots(
            tuple(self.settings[i] for i in chosen),
            self.seen[rows],
            tuple(self.lines[i] for i in chosen),
            None if self.own is None else self.own[rows],
        )

    def measured(
        self, columns: Sequence[int] = (0, 1, 2, 3), signs: Sequence[int] = (1, 1, 1, 1)
    ) -> Shots:
        """The same with the columns measured taken in another order, and other signs."""
        seen, own = self.seen[:, list(columns)] * np.array(signs), self.own
        if own is not None:
            own = own[:, list(columns[:2])][:, :, list(columns[:2])] * np.outer(
                signs[:2], signs[:2]
            )
        return msgspec.structs.replace(self, seen=seen, own=own)

    def without_direction(self) -> Shots:
        """The same of a launcher that swings by itself: only how far each ball went tells."""
        seen = self.seen.copy()
        seen[:, 0] = np.hypot(seen[:, 0], seen[:, 1])
        seen[:, 1] = np.nan
        return msgspec.structs.replace(self, seen=seen, own=_along(self.seen, self.own))

    def driven(self, order: Sequence[int]) -> Shots:
        """The same with the drives in another order."""
        settings = tuple(
            msgspec.structs.replace(one, drives=tuple(one.drives[k] for k in order))
            for one in self.settings
        )
        return msgspec.structs.replace(self, settings=settings)

    def measuring(self, tape: Tape) -> Array:
        """How surely each ball was measured, (n, 4, 4): its own region, else the tape's."""
        covariance = np.tile(np.diag(tape.sigmas() ** 2), (len(self), 1, 1))
        if self.own is not None:
            told = np.isfinite(self.own).all(axis=(1, 2))
            covariance[told, :2, :2] = self.own[told]
        return covariance

    def __len__(self) -> int:
        return len(self.settings)

    @property
    def known(self) -> NDArray[np.bool_]:
        """Which measurements were made, (n, 4)."""
        known: NDArray[np.bool_] = np.isfinite(self.seen)
        return known


def _along(seen: Array, own: Array | None) -> Array | None:
    """How surely each ball's distance was measured, from how surely its place was."""
    if own is None:
        return None
    way = seen[:, :2] / np.hypot(seen[:, 0], seen[:, 1])[:, None]
    turned: Array = own.copy()
    turned[:, 0, 0] = np.einsum("ni,nij,nj->n", way, own, way)
    turned[:, 0, 1] = turned[:, 1, 0] = 0.0
    return turned


def conditions_of(profile: Profile, base: Conditions) -> Conditions:
    """The conditions with the profile's own factors on drag and lift taken in."""
    tuned, wear = profile.calibration, base.ball.wear
    factors = (wear.drag_factor * tuned.drag_factor, wear.lift_factor * tuned.lift_factor)
    return msgspec.structs.replace(base, ball=base.ball.with_factors(*factors))


def throws(profile: Profile, settings: Sequence[Setting]) -> list[Throw]:
    """How each ball leaves, azimuth as from the way the launcher faces."""
    return [throw_of(profile, setting) for setting in settings]


def predicted(profile: Profile, settings: Sequence[Setting], base: Conditions) -> Array:
    """What would be measured, (n, 4) in the order of MEASURED; NaN for a ball that never lands.

    Balls of one setting are predicted once: people repeat settings.
    """
    different = list(dict.fromkeys(settings))
    place = {setting: index for index, setting in enumerate(different)}
    columns = _columns(throws(profile, different))
    found = _measured(profile, columns, conditions_of(profile, base))
    result: Array = found[[place[setting] for setting in settings]]
    return result


def mouth_jacobian(profile: Profile, settings: Sequence[Setting], base: Conditions) -> Array:
    """How the measured quantities move with those at the mouth, (n, 4, 5)."""
    conditions = conditions_of(profile, base)
    centre = _columns(throws(profile, settings))
    moved = np.concatenate([centre + nudge for nudge in np.diag(_NUDGES)])
    middle = _measured(profile, centre, conditions)
    ends = _measured(profile, moved, conditions).reshape(len(_NUDGES), *middle.shape)
    slopes = (ends - middle) / np.array(_NUDGES)[:, None, None]
    jacobian: Array = np.moveaxis(slopes, 0, -1)
    return jacobian


def covariances(profile: Profile, shots: Shots, base: Conditions, tape: Tape) -> Array:
    """Scatter expected of the measured quantities, (n, 4, 4): the launcher's and the measuring."""
    return scatters(profile, shots.settings, base) + shots.measuring(tape)


def scatters(profile: Profile, settings: Sequence[Setting], base: Conditions) -> Array:
    """The launcher's own scatter of the measured quantities, (n, 4, 4)."""
    sigmas = np.array([mouth_sigmas(profile, throw) for throw in throws(profile, settings)])
    scaled = mouth_jacobian(profile, settings, base) * sigmas[:, None, :]
    scatter: Array = scaled @ np.swapaxes(scaled, 1, 2)
    return scatter


def _columns(thrown: Sequence[Throw]) -> Array:
    return np.array([[getattr(throw, name) for name in MOUTH_QUANTITIES] for throw in thrown])


def _measured(profile: Profile, mouth: Array, conditions: Conditions) -> Array:
    speed, elevation, azimuth, top, side = mouth.T
    launches = Launches.of(
        speed, elevation, azimuth, top_rpm=top, side_rpm=side, z_m=profile.mouth_height_m
    )
    flights = land(launches.thrown_by_wheels(), conditions)
    return np.stack([flights.landing_y_m, flights.landing_x_m, speed, flights.flight_s], axis=1)
