"""A launcher's factors fitted again to balls drawn from those that were measured."""

from __future__ import annotations

from functools import cached_property

import msgspec
import numpy as np

from feedscript.check.in_pieces.pieces import RefitsAnswer, RefitsPiece
from feedscript.flight.air import Air
from feedscript.flight.ball import Ball
from feedscript.flight.models import MODELS
from feedscript.flight.motion.conditions import Conditions
from feedscript.flight.motion.equations_of_motion import Decay
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.tuning.factors import factors_of
from feedscript.launcher.tuning.fit import Problem, redrawn
from feedscript.launcher.tuning.shots import Array, Shots, Tape
from feedscript.tongues.text import plain


class MeasuredData(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag="measured"):
    """The case as it travels: tables as the bytes of little-endian doubles, models by name."""

    profile: Profile
    tuned: Profile
    free: tuple[str, ...]
    values: tuple[float, ...]
    inside: tuple[int, ...]
    settings: tuple[Setting, ...]
    seen: bytes
    own: bytes | None
    ball: Ball
    air: Air
    model: str
    decay: Decay
    tape: Tape

    def case(self) -> Measured:
        balls = len(self.settings)
        own = None if self.own is None else _table(self.own, (balls, 2, 2))
        shots = Shots(self.settings, _table(self.seen, (balls, 4)), tuple(range(balls)), own)
        if self.model not in MODELS:
            raise msgspec.ValidationError(f"there is no model {self.model!r}")
        base = Conditions(self.ball, self.air, MODELS[self.model], self.decay)
        return Measured(
            self.profile, shots, base, self.tape, self.tuned, self.free, self.values, self.inside
        )


class Measured(msgspec.Struct, frozen=True, dict=True, eq=False):
    """Measured balls, and the fit to them: its factors (by key), their values, and the balls that
    it holds to. What is worked out on demand is kept."""

    profile: Profile
    shots: Shots
    base: Conditions
    tape: Tape
    tuned: Profile
    free: tuple[str, ...]
    values: tuple[float, ...]
    inside: tuple[int, ...]

    @cached_property
    def data(self) -> bytes:
        """The case as JSON; read back, it is equal to the last bit."""
        own = self.shots.own
        sent = MeasuredData(
            profile=self.profile,
            tuned=self.tuned,
            free=self.free,
            values=self.values,
            inside=self.inside,
            settings=self.shots.settings,
            seen=_bytes(self.shots.seen),
            own=None if own is None else _bytes(own),
            ball=self.base.ball,
            air=self.base.air,
            model=self.base.model.name,
            decay=self.base.decay,
            tape=self.tape,
        )
        return msgspec.json.encode(sent, enc_hook=plain, order="sorted")

    @cached_property
    def problem(self) -> Problem:
        """What the fit solved."""
        free = [one for one in factors_of(self.profile, by_speed=True) if one.key in self.free]
        problem = Problem(self.profile, self.shots, self.base, self.tape, free)
        return problem.weighted_by(self.tuned)


def refitted(case: Measured, piece: RefitsPiece) -> RefitsAnswer:
    """Each refit under its own seed."""
    values, inside = np.array(case.values), np.array(case.inside)
    found = []
    for number in range(piece.first, piece.first + piece.refits):
        random = np.random.default_rng([piece.seed, number])
        found.append(tuple(map(float, redrawn(case.problem, values, inside, random))))
    return RefitsAnswer(tuple(found))


def _bytes(values: Array) -> bytes:
    return values.astype("<f8").tobytes()


def _table(data: bytes, shape: tuple[int, ...]) -> Array:
    if len(data) != 8 * int(np.prod(shape)):
        raise msgspec.ValidationError(f"{len(data)} bytes are no table of {shape}")
    return np.frombuffer(data, "<f8").reshape(shape).astype(np.float64)
