"""Whether a flight stays within what its aerodynamic model was measured or fitted over."""

from __future__ import annotations

import msgspec

from feedscript.diagnostics import Page, Severity
from feedscript.flight.ball import Band
from feedscript.flight.models import Model
from feedscript.units import apart

BEYOND_MODEL = Page(
    slug="beyond-model",
    title="The flight leaves the range its aerodynamic model was published for",
    severity=Severity.WARNING,
    why=(
        "Drag and lift come from measurements over a range of speed and spin. Outside it the "
        "formula still gives a number, but nobody measured it: trust the landing less, and tune "
        "the profile with balls of this kind. The range is that of the model's source; a ball "
        "thrown slowly or with hardly any spin is often outside it."
    ),
    wrong="""feedscript 1
feed flat { land 3 m inside baseline, on centre line  speed 80 km/h }
lesson { show speed of flat  send flat after 5 s }
""",
    corrected="""feedscript 1
feed dipping { land 3 m inside baseline, on centre line  speed 90 km/h  spin top 1000 rpm }
lesson { show speed of dipping  send dipping after 5 s }
""",
)

HELP = "trust the landing less: watch some balls land, and tune the profile with them"


class Beyond(msgspec.Struct, frozen=True):
    """A quantity that leaves what a model was published for."""

    part: str
    value: float
    digits: int
    unit: str
    band: Band
    model: str

    def words(self, least: float, most: float) -> str:
        """What is outside, for values from ``least`` to ``most``, and how far the range goes."""
        told = dict.fromkeys(self._read(value) for value in (least, most))
        return (
            f"{' to '.join(told)} {self.unit} is outside the {self.band.least:g} to "
            f"{self.band.most:g} {self.unit} that were measured"
        )

    def _read(self, value: float) -> str:
        edge = self.band.least if value < self.band.least else self.band.most
        return apart(value, edge, self.digits)[0]


def beyond(model: Model, speed_mps: float, spin_rpm: float) -> list[Beyond]:
    """Which of speed and spin leave the published range.

    ``spin_rpm`` is the whole spin, about whatever axis. Empty where the model was published for it.
    """
    asked = (
        Beyond("speed", speed_mps, 1, "m/s", model.speed_mps, model.name),
        Beyond("spin", spin_rpm, 0, "rpm", model.spin_rpm, model.name),
    )
    return [one for one in asked if not one.band.least <= one.value <= one.band.most]
