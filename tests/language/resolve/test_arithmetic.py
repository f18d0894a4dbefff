"""Values: no arithmetic of a program brings forth a number that is not finite.

The oracle counts in fractions of whole numbers, which are exact and have no largest.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.language import read

LARGEST = Fraction(1.7976931348623157e308)


@dataclass(frozen=True)
class Sum:
    """An expression as written, and its exact value in metres; None: divided by zero."""

    written: str
    value: Fraction | None
    #: The largest size of any value on the way, and the smallest that is not nothing.
    most: Fraction
    least: Fraction


def _leaf(number: str, unit: str) -> Sum:
    factor = {"m": 1, "km": 1000, "mm": Fraction(1, 1000), "": 1}[unit]
    value = Fraction(number) * factor
    size = abs(value)
    return Sum(f"{number} {unit}".strip(), value, size, size or LARGEST)


def _joined(one: Sum, operator: str, other: Sum) -> Sum:
    value = None
    if one.value is not None and other.value is not None:
        match operator:
            case "+":
                value = one.value + other.value
            case "-":
                value = one.value - other.value
            case "*":
                value = one.value * other.value
            case _:
                value = one.value / other.value if other.value else None
    size = abs(value) if value is not None else Fraction(0)
    written = f"({one.written}) {operator} ({other.written})"
    return Sum(
        written,
        value,
        max(one.most, other.most, size),
        min(one.least, other.least, size or LARGEST),
    )


NUMBERS = st.sampled_from(
    ["0", "0.5", "1", "3", "7e12", "1e150", "9e307", "1e308", "2e-5", "1e-150"]
)
LENGTHS = st.builds(_leaf, NUMBERS, st.sampled_from(["m", "km", "mm"]))
COUNTS = st.builds(_leaf, NUMBERS, st.just(""))


def _deeper(lengths: st.SearchStrategy[Sum]) -> st.SearchStrategy[Sum]:
    added = st.builds(_joined, lengths, st.sampled_from("+-"), lengths)
    scaled = st.builds(_joined, lengths, st.sampled_from("*/"), COUNTS)
    return added | scaled


EXPRESSIONS = st.recursive(LENGTHS, _deeper, max_leaves=6)


def program(written: str) -> str:
    return f"""feedscript 1
court {{ surface hard }}
balls {{ type 2 }}
launcher {{ stands 1 m behind centre mark }}
let wide = {written}
pattern by(far: length) {{ send deep after 5 s + 1 s * (far / wide) }}
keep out "it" {{ between at wide, 1 m and at wide, 2 m }}
feed deep {{ land at 0 m, 9 m  speed 70 km/h }}
lesson {{ show speed of deep  by(wide) }}
require net-clearance wide
"""


HEAD = """feedscript 1
feed deep { land at 0 m, 9 m  speed 70 km/h }
lesson { show speed of deep }
"""


def floats(value: object) -> list[float]:
    """Every float anywhere in a program."""
    if isinstance(value, float):
        return [value]
    if isinstance(value, msgspec.Struct):
        return [x for name in value.__struct_fields__ for x in floats(getattr(value, name))]
    if isinstance(value, dict):
        return [x for part in value.values() for x in floats(part)]
    if isinstance(value, tuple | list):
        return [x for part in value for x in floats(part)]
    return []


@given(EXPRESSIONS)
def test_every_value_is_the_exact_one_or_an_error(expression: Sum) -> None:
    made, found = read(program(expression.written), "sums.feed")
    errors = [one for one in found if one.is_error]
    if made is not None:
        assert all(math.isfinite(x) for x in floats(made))
        assert expression.value is not None
        (asked,) = made.requirements
        room = float(expression.most) * 1e-12 + 1e-300
        assert abs(Fraction(asked.value) - expression.value) <= Fraction(room)
    elif not any(one.slug == "divided-by-zero" for one in errors):
        # Refused as too large, or (by the pattern's own sum) as no time: never without a word.
        assert errors
    if expression.value is None or expression.most > LARGEST:
        assert made is None


@given(
    EXPRESSIONS,
    st.sampled_from(
        PLACES := [
            "court {{ roof {} }}",
            "court {{ fence {} high }}",
            "court {{ side room {} }}",
            "court {{ altitude {} }}",
            'keep out "a" {{ area ad alley  height {} }}',
            'keep out "a" {{ between at 1 m, {} and at 2 m, 3 m }}',
            "coach {{ stands at {}, 9 m }}",
            "launcher {{ mouth {} }}",
            "launcher {{ stands {} behind baseline }}",
            "group {{ 2 players  receiver {} behind baseline }}",
            "feed other {{ land at {}, 9 m  speed 70 km/h }}",
            "feed other {{ land at 1 m, 9 m  apex {} }}",
            "feed other {{ land at 1 m, 9 m  speed 70 km/h  vary place {} }}",
            "court {{ wind head {} / 1 s }}",
            "pattern p() {{ repeat 3 * (({}) / 1 m) {{ send deep after 5 s }} }}",
            "expect {{ deep clears net by {} }}",
            "require over-fence {}",
        ]
    ),
)
def test_what_is_not_finite_never_takes_a_fact_away(expression: Sum, place: str) -> None:
    made, _ = read(HEAD + place.format(expression.written), "facts.feed")
    if expression.value is None or expression.most > LARGEST:
        assert made is None, expression.written
    elif made is not None:
        assert all(math.isfinite(x) for x in floats(made))


@pytest.mark.parametrize(
    ("written", "at_fault"),
    [
        ("1e308 m * 10", "1e308 m * 10"),
        ("4 m + (1e308 m * 10 - 1e308 m * 10)", "1e308 m * 10"),
        ("1e308 m + 1e308 m - 1e308 m", "1e308 m + 1e308 m"),
        ("2 m + 1e306 km", "1e306 km"),
        ("1 m / 1e-320 + 2 m", "1 m / 1e-320"),
    ],
)
def test_the_report_stands_at_the_operation(written: str, at_fault: str) -> None:
    text = program(written)
    _, found = read(text, "sums.feed")
    (one,) = (one for one in found if one.is_error)
    line = text.split("\n")[one.span.line - 1]
    assert one.slug == "out-of-range"
    assert line[one.span.column - 1 : one.span.end_column - 1] == at_fault
