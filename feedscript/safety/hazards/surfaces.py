"""The surfaces that a bounce is judged on."""

from __future__ import annotations

from feedscript.flight.bounce import SURFACES, Surface
from feedscript.plan.scene import Court


def surfaces(court: Court) -> tuple[Surface, ...]:
    """The declared surface; every surface there is where none was declared.

    KeyError or ValueError for a surface that nobody knows or that cannot be.
    """
    if court.pace_rating is not None and court.restitution is not None:
        return (Surface.rated(court.pace_rating, court.restitution),)
    if court.surface is not None:
        return (SURFACES[court.surface],)
    return tuple(SURFACES.values())
