"""Whether a flight stays within what its aerodynamic model was measured or fitted over."""

from __future__ import annotations

from feedscript.diagnostics import Page, Severity
from feedscript.flight.models import Model

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
    mended="""feedscript 1
feed dipping { land 3 m inside baseline, on centre line  speed 90 km/h  spin top 1000 rpm }
lesson { show speed of dipping  send dipping after 5 s }
""",
)

HELP = "tune the profile with balls of this kind; until then trust the landing less"


def beyond(model: Model, speed_mps: float, spin_rpm: float) -> str | None:
    """Which of speed and spin leaves the published range, and how far that range goes.

    ``spin_rpm`` is the whole spin, about whatever axis. None where the model was published for it.
    """
    told = [
        f"{value:.{digits}f} {unit} is outside {band.least:g} to {band.most:g} {unit}"
        for value, digits, unit, band in (
            (speed_mps, 1, "m/s", model.speed_mps),
            (spin_rpm, 0, "rpm", model.spin_rpm),
        )
        if not band.least <= value <= band.most
    ]
    return f"{' and '.join(told)}, what {model.name} was published for" if told else None
