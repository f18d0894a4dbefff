"""What a whole batch of balls shares: the ball itself, the air, the model."""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.flight.air import ISA_SEA_LEVEL, Air
from feedscript.flight.ball import DEFAULT_BALL, Ball
from feedscript.flight.models import DEFAULT_MODEL, Array, Model
from feedscript.flight.motion.equations_of_motion import NO_DECAY, Decay, EquationsOfMotion


class Conditions(msgspec.Struct, frozen=True):
    """What a ball flies through, and as what.

    The default is a new type 2 ball in the standard atmosphere at sea level, no wind, drag and
    lift as in the wind tunnel, spin that does not decay.
    """

    ball: Ball = DEFAULT_BALL
    air: Air = ISA_SEA_LEVEL
    model: Model = DEFAULT_MODEL
    decay: Decay = NO_DECAY

    def equations(self, spin_radps: Array) -> EquationsOfMotion:
        """The equations of balls with these spins, (3, n) in rad/s."""
        return EquationsOfMotion.of(spin_radps, self.ball, self.air, self.model, self.decay)

    @property
    def wind(self) -> Array:
        """Velocity of the air over the ground, (3)."""
        return np.array([*self.air.wind_mps, 0.0])

    @property
    def still(self) -> bool:
        return not any(self.air.wind_mps)


DEFAULT_CONDITIONS = Conditions()
