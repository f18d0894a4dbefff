"""What comes of two dimensions, and which unit was likely meant."""

from __future__ import annotations

from feedscript.language.parse import tree as t
from feedscript.units import UNITS, Dimension, Unit

_CASELESS = {word.lower(): unit for word, unit in UNITS.items()}


def unit_of(word: str) -> Unit | None:
    """The unit of a spelling; capital and small letters do not matter where they decide nothing."""
    return UNITS.get(word) or _CASELESS.get(word.lower())


def written_unit(node: t.SyntaxNode) -> Unit | None:
    """The unit that a value is written in, as it is spelt there."""
    while isinstance(node, t.Signed | t.Grouped):
        node = node.value
    if not isinstance(node, t.Quantity) or node.unit is None:
        return None
    unit = unit_of(node.unit)
    return unit and Unit(str(node.unit), unit.dimension, unit.factor, unit.offset)


_D = Dimension
FIRST_UNIT: dict[Dimension, str] = {
    _D.LENGTH: "m",
    _D.SPEED: "km/h",
    _D.SPIN: "rpm",
    _D.TIME: "s",
    _D.ANGLE: "degrees",
    _D.TEMPERATURE: "C",
    _D.RATIO: "%",
    _D.PRESSURE: "hPa",
    _D.MASS: "g",
}
PRODUCTS: dict[tuple[Dimension, Dimension], Dimension] = {
    (_D.SPEED, _D.TIME): _D.LENGTH,
    (_D.TIME, _D.SPEED): _D.LENGTH,
    (_D.SPIN, _D.TIME): _D.COUNT,
    (_D.TIME, _D.SPIN): _D.COUNT,
}
RATIOS: dict[tuple[Dimension, Dimension], Dimension] = {
    (_D.LENGTH, _D.TIME): _D.SPEED,
    (_D.LENGTH, _D.SPEED): _D.TIME,
    (_D.COUNT, _D.TIME): _D.SPIN,
}
for _dimension in Dimension:
    if _dimension is not Dimension.TEMPERATURE:
        for _plain in (Dimension.RATIO, Dimension.COUNT):
            PRODUCTS[_dimension, _plain] = _dimension
            PRODUCTS[_plain, _dimension] = _dimension
            RATIOS[_dimension, _plain] = _dimension

_MEANT = {"km": "km/h", "m": "m/s", "mile": "mph", "min": "rpm", "s": "m/s", "h": "km/h"}


def dimension_help(node: t.SyntaxNode, wanted: Dimension) -> str:
    """The unit that was likely meant, or one that would do."""
    if isinstance(node, t.Quantity) and node.unit is not None:
        meant = _MEANT.get(node.unit.lower(), "")
        unit = UNITS.get(meant)
        if unit is not None and unit.dimension is wanted:
            return f"did you mean `{node.number.raw} {meant}`?"
    if wanted is Dimension.COUNT:
        return "write a plain number"
    return f"write a {wanted}, for instance in {FIRST_UNIT[wanted]}"
