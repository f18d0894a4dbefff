"""One flight as a question with bounds: what the curious ask, and what may not be asked.

Positions follow the throw: ``carry_m`` is along the azimuth thrown, ``drift_m`` to its right, both
from the launcher's mouth to the first bounce.
"""

from __future__ import annotations

import msgspec
import numpy as np

from feedscript.court.ranges import WIND_MPS
from feedscript.diagnostics import Diagnostic, Page
from feedscript.flight.motion.flights import Conditions, Launches, fly
from feedscript.flight.published_range import BEYOND_MODEL, HELP, beyond

NOT_A_FLIGHT = Page(
    slug="not-a-flight",
    title="This is not a flight that can be worked out",
    why=(
        "A single flight is asked for with a speed, an elevation and a height of the mouth, each "
        "with its unit. A value that cannot be read, or that no launcher on a court has, is "
        "refused rather than guessed at."
    ),
)


class Bound(msgspec.Struct, frozen=True):
    """What a number may be."""

    name: str
    least: float
    most: float
    unit: str

    def complaint(self, value: float) -> str | None:
        if self.least <= value <= self.most:
            return None
        return (
            f"{self.name} of {value:g} {self.unit} is not between "
            f"{self.least:g} and {self.most:g} {self.unit}"
        )


SPEED = Bound("a speed", 0.5, 100.0, "m/s")
ELEVATION = Bound("an elevation", -90.0, 90.0, "degrees")
AZIMUTH = Bound("an azimuth", -180.0, 180.0, "degrees")
HEIGHT = Bound("a height of the mouth", 0.05, 20.0, "m")
SPIN = Bound("a spin", -10_000.0, 10_000.0, "rpm")
WIND = Bound("a wind", -WIND_MPS[1], WIND_MPS[1], "m/s")


class Answer(msgspec.Struct, frozen=True):
    """What the ball does. Heights are of its centre."""

    carry_m: float
    drift_m: float
    flight_s: float
    apex_m: float
    speed_at_bounce_mps: float
    angle_at_bounce_deg: float
    landing_m: tuple[float, float]
    warnings: tuple[Diagnostic, ...]


def ask(launches: Launches, conditions: Conditions) -> Answer | None:
    """Fly one ball; None if it does not come down within a minute."""
    flights = fly(launches, conditions)
    if not flights.landed[0]:
        return None
    x = float(flights.landing_x_m[0] - launches.x_m[0])
    y = float(flights.landing_y_m[0] - launches.y_m[0])
    turn = np.radians(launches.azimuth_deg[0])
    vx, vy, vz = flights.bounce_velocity_mps[:, 0]
    return Answer(
        carry_m=float(x * np.sin(turn) + y * np.cos(turn)),
        drift_m=float(x * np.cos(turn) - y * np.sin(turn)),
        flight_s=float(flights.flight_s[0]),
        apex_m=float(flights.apex_m[0]),
        speed_at_bounce_mps=float(flights.speed_at_bounce_mps[0]),
        angle_at_bounce_deg=float(np.degrees(np.arctan2(-vz, np.hypot(vx, vy)))),
        landing_m=(x, y),
        warnings=beyond_model(launches, conditions),
    )


def beyond_model(launches: Launches, conditions: Conditions) -> tuple[Diagnostic, ...]:
    """A warning for each launch outside the published range of the model."""
    spins = np.linalg.norm(launches.spin(), axis=0) * 30 / np.pi
    told = [
        f"{one.words(one.value, one.value)} for {conditions.model.name}"
        for speed, spin in zip(launches.speed_mps, spins, strict=True)
        for one in beyond(conditions.model, float(speed), float(spin))
    ]
    return tuple(BEYOND_MODEL.report(words, help=HELP) for words in told)
