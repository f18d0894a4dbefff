"""One ball of the usual type that was weighed and measured."""

from __future__ import annotations

import msgspec

from feedscript.flight.ball import DEFAULT_BALL, Ball, Band


def measured_ball(mass_kg: float, diameter_m: float) -> Ball:
    grams, cm = mass_kg * 1000, diameter_m * 100
    return msgspec.structs.replace(
        DEFAULT_BALL, mass_g=Band(grams, grams), diameter_cm=Band(cm, cm)
    )
