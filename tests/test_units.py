"""Written quantities become the internal units by exact factors, or say why not."""

import pytest

from feedscript.units import Dimension, UnitError, parse_quantity


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        # NIST SP 811 (2008), appendix B: exact conversion factors.
        ("1 mph", Dimension.SPEED, 0.44704),
        ("120 mph", Dimension.SPEED, 53.6448),
        ("3.6 km/h", Dimension.SPEED, 1.0),
        ("1 ft", Dimension.LENGTH, 0.3048),
        ("1 in", Dimension.LENGTH, 0.0254),
        ("32 F", Dimension.TEMPERATURE, 0.0),
        ("212 F", Dimension.TEMPERATURE, 100.0),
        ("2 min", Dimension.TIME, 120.0),
        ("-5 deg", Dimension.ANGLE, -5.0),
        ("95 %", Dimension.RATIO, 0.95),
        ("7", Dimension.COUNT, 7.0),
    ],
)
def test_a_written_quantity_is_worth_its_exact_value(
    text: str, dimension: Dimension, value: float
) -> None:
    assert parse_quantity(text, dimension) == pytest.approx(value, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("text", ["28", "28 km", "fast", "28 furlongs", "", "1 2 m/s"])
def test_what_is_not_a_speed_says_what_would_be(text: str) -> None:
    with pytest.raises(UnitError, match="m/s"):
        parse_quantity(text, Dimension.SPEED)
