"""Balls: the types of the ITF rules, their mid-specification figures and their ranges.

Mass, diameter and rebound of types 1 to 3 and of the high-altitude ball: ITF Rules of Tennis,
Appendix I, table "Specifications for the ball" (read in a copy). Stage balls and foam: the same
rules, Appendix I (d); their rebound bands also stand in ITF, "About slower balls" (2012), while
their masses and diameters are from memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

import msgspec

from feedscript.court.ranges import WEAR
from feedscript.flight.air import STANDARD_GRAVITY

#: Height the rules drop a ball from to measure its rebound (100 in).
DROP_CM = 254.0


class Band(NamedTuple):
    """A specification's least and most."""

    least: float
    most: float

    @property
    def middle(self) -> float:
        return (self.least + self.most) / 2


class Drop(NamedTuple):
    """What the rebound test finds, air included."""

    impact_mps: float
    restitution: float


#: The air of the rebound test (20 C, sea level), kg/m^3, and the drag coefficient in it.
_DROP_AIR, _DROP_DRAG = 1.2, 0.507


class Wear(msgspec.Struct, frozen=True):
    """What use does to the air's grip on a ball: factors on drag and on lift."""

    name: str
    drag_factor: float
    lift_factor: float
    source: str


class Ball(msgspec.Struct, frozen=True):
    """One type of ball at mid-specification, with the ranges the rules allow.

    ``inertia_factor`` is I / (m R^2): 0.55, Brody 1984 and Cross 2002 (from memory); a uniform
    shell of 33 mm outer and 26.5 mm inner radius gives 0.553; a foam ball is solid: 0.40.
    ``wear`` acts on the model's drag and lift coefficients.
    """

    name: str
    mass_g: Band
    diameter_cm: Band
    rebound_cm: Band
    source: str
    wear: Wear
    inertia_factor: float = 0.55

    @property
    def mass_kg(self) -> float:
        return self.mass_g.middle / 1000

    @property
    def diameter_m(self) -> float:
        return self.diameter_cm.middle / 100

    @property
    def radius_m(self) -> float:
        return self.diameter_m / 2

    @property
    def area_m2(self) -> float:
        """The area the air meets, pi R^2."""
        return math.pi * self.radius_m**2

    @property
    def restitution(self) -> Band:
        """Normal restitution that the rebound test implies, sqrt(h / 254 cm), drag neglected."""
        low, high = self.rebound_cm
        return Band(math.sqrt(low / DROP_CM), math.sqrt(high / DROP_CM))

    @property
    def dropped(self) -> Drop:
        """The rebound test at mid-specification as it happens in air.

        With drag as the square of the speed, a fall from h ends at w sqrt(1 - exp(-2 g h / w^2))
        and a rise to h begins at w sqrt(exp(2 g h / w^2) - 1), w being the speed at which the ball
        would fall steadily (any text of mechanics). The drag coefficient is 0.507 (Cross & Lindsey
        2014, Sports Eng. 17:89), the air that of the rule's laboratory at sea level.
        """
        steady2 = 2 * self.mass_kg * STANDARD_GRAVITY / (_DROP_AIR * _DROP_DRAG * self.area_m2)
        fall = 2 * STANDARD_GRAVITY * DROP_CM / 100 / steady2
        rise = 2 * STANDARD_GRAVITY * self.rebound_cm.middle / 100 / steady2
        impact = math.sqrt(-steady2 * math.expm1(-fall))
        return Drop(impact, math.sqrt(steady2 * math.expm1(rise)) / impact)

    def worn(self, wear: str | float) -> Ball:
        """The same ball after use: a name of :data:`WEARS`, or a share from 0 new to 1 bald.

        KeyError for a name nobody knows, ValueError for a share outside 0 to 1.
        """
        return msgspec.structs.replace(
            self, wear=WEARS[wear] if isinstance(wear, str) else wear_of(wear)
        )

    def with_factors(self, drag: float, lift: float) -> Ball:
        """The same ball with measured factors on drag and lift in place of a named wear."""
        return msgspec.structs.replace(
            self, wear=Wear("measured", drag, lift, "fitted to measured landings")
        )


NEW = Wear("new", 1.0, 1.0, "by definition")
#: Named states of wear. Light use and heavy wear move drag in opposite directions.
WEARS: Mapping[str, Wear] = MappingProxyType(
    {
        wear.name: wear
        for wear in (
            NEW,
            Wear(
                "used",
                0.603 / 0.579,
                1.0,
                "Choppin, Albrecht, Spurr & Capel-Davies 2018, Proceedings 2(6):265: mean drag "
                "0.579 of new, 0.603 of used balls in match serves; lift not measured there",
            ),
            Wear(
                "bald",
                0.80,
                0.85,
                "Goodwill, Chin & Haake 2004, J. Wind Eng. Ind. Aerodyn. 92:935: heavy wear lowers "
                "drag clearly and lift generally; the two numbers are from memory",
            ),
        )
    }
)

#: How far along from new to bald a lightly used ball is: our convention, no source.
_USED_SHARE = 0.2


def wear_of(share: float) -> Wear:
    """The wear between the named ones, by straight lines: new at 0, used at 0.2, bald at 1."""
    low, high = WEAR
    if not low <= share <= high:
        raise ValueError(f"a wear of {share:g} is not between {low:g} (new) and {high:g} (bald)")
    less, more, start, end = NEW, WEARS["used"], 0.0, _USED_SHARE
    if share > _USED_SHARE:
        less, more, start, end = WEARS["used"], WEARS["bald"], _USED_SHARE, 1.0
    part = (share - start) / (end - start)
    return Wear(
        f"worn {share:g}",
        less.drag_factor + part * (more.drag_factor - less.drag_factor),
        less.lift_factor + part * (more.lift_factor - less.lift_factor),
        f"between {less.name} and {more.name}",
    )


_RULES = "ITF Rules of Tennis, Appendix I"
_FAST = f"{_RULES}; the rebound of the present edition from memory, older copies print 135 to 147"
_STAGES = "ITF Rules of Tennis, Appendix I (d); mass and diameter from memory"
_FULL_MASS = Band(56.0, 59.4)
_FULL_SIZE = Band(6.54, 6.86)
_FULL_REBOUND = Band(135.0, 147.0)

#: The types by name.
BALLS: Mapping[str, Ball] = MappingProxyType(
    {
        ball.name: ball
        for ball in (
            Ball("type-1", _FULL_MASS, _FULL_SIZE, Band(138.0, 151.0), _FAST, NEW),
            Ball("type-2", _FULL_MASS, _FULL_SIZE, _FULL_REBOUND, _RULES, NEW),
            Ball("type-3", _FULL_MASS, Band(7.00, 7.30), _FULL_REBOUND, _RULES, NEW),
            Ball("high-altitude", _FULL_MASS, _FULL_SIZE, Band(122.0, 135.0), _RULES, NEW),
            Ball("green", Band(47.0, 51.5), Band(6.30, 6.86), Band(120.0, 135.0), _STAGES, NEW),
            Ball("orange", Band(36.0, 46.9), Band(6.00, 6.86), Band(105.0, 120.0), _STAGES, NEW),
            Ball("red", Band(36.0, 49.0), Band(7.00, 8.00), Band(90.0, 105.0), _STAGES, NEW),
            Ball(
                "red-foam",
                Band(25.0, 43.0),
                Band(8.00, 9.00),
                Band(85.0, 105.0),
                _STAGES,
                NEW,
                0.40,
            ),
        )
    }
)

#: Other names for the same types: the stages by number, the ordinary ball by its colour.
ALIASES: Mapping[str, str] = MappingProxyType(
    {
        "yellow": "type-2",
        "standard": "type-2",
        "stage-1": "green",
        "stage-2": "orange",
        "stage-3": "red",
        "stage-green": "green",
        "stage-orange": "orange",
        "stage-red": "red",
        "stage-yellow": "type-2",
        "foam": "red-foam",
    }
)

DEFAULT_BALL = BALLS["type-2"]


def ball_named(name: str) -> Ball:
    """The ball of that name or other name (``type-2``, ``green``, ``stage-1``, ``foam`` …).

    Spaces count as hyphens and capitals do not matter. KeyError for a name nobody knows.
    """
    key = "-".join(name.lower().split())
    return BALLS[ALIASES.get(key, key)]
