"""Values with their dimensions: working them out, and refusing a length where a speed belongs."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import TypeAlias

import msgspec

from feedscript.diagnostics import Related, Span
from feedscript.language.parse import tree as t
from feedscript.language.resolve.dimensions import (
    FIRST_UNIT,
    PRODUCTS,
    RATIOS,
    dimension_help,
    unit_of,
    written_unit,
)
from feedscript.language.resolve.scope import WRONG_KIND, Scope
from feedscript.language.resolve.value_pages import (
    BAD_NUMBER,
    CIRCLE,
    DIVIDED_BY_ZERO,
    NO_UNIT,
    NOT_WHOLE,
    OUT_OF_RANGE,
    TOO_DEEP,
    UNIT_APART,
    WRONG_DIMENSION,
)
from feedscript.units import INTERNAL_UNIT, Dimension, Unit

#: A number that many a reader takes for thousands.
_TWO_WAYS = re.compile(r"[1-9]\d{0,2}\.\d{3}")

#: How many layers of brackets, blocks or calls there may be.
MOST_LAYERS = 40


class Amount(msgspec.Struct, frozen=True):
    """A value in the internal unit. NaN: not known yet (a parameter while its pattern is checked).

    ``dimension`` None: what was written is wrong and already reported.
    """

    value: float
    dimension: Dimension | None


class FeedValue(msgspec.Struct, frozen=True):
    """A feed handed to a pattern; an empty name is one that is not known yet."""

    name: str


Argument: TypeAlias = Amount | FeedValue

UNKNOWN = Amount(math.nan, None)


class Evaluator(msgspec.Struct):
    """Works out values in one file, with these parameters standing beside the file's names."""

    scope: Scope
    lets: dict[int, Amount]  # by the identity of the Let node: each is worked out once
    params: Mapping[str, Argument] = {}

    def amount(self, node: t.Value, layers: int = 0) -> Amount:
        """The value of an expression."""
        if layers > MOST_LAYERS:
            self._too_deep(node)
            return UNKNOWN
        match node:
            case t.Quantity():
                return self._quantity(node)
            case t.Name():
                return self._named(node, layers)
            case t.Grouped():
                return self.amount(node.value, layers + 1)
            case t.Signed():
                inner = self.amount(node.value, layers + 1)
                return inner if node.sign == "+" else Amount(-inner.value, inner.dimension)
            case t.Chain():
                return self._chain(node, layers + 1)

    def _too_deep(self, node: t.SyntaxNode) -> None:
        self.scope.report(
            TOO_DEEP, node, f"more than {MOST_LAYERS} layers of brackets", "take brackets out"
        )

    def number(self, node: t.Number) -> float:
        """A number as written; reports one with a comma inside it."""
        if node.good:
            value = float(node.raw)
            if math.isfinite(value):
                return value
            self.scope.report(OUT_OF_RANGE, node, f"`{node.raw}` is too large a number", "less")
            return math.nan
        whole, _, rest = node.raw.partition(",")
        if not rest:
            kept = ".".join(node.raw.split(".")[:2]).rstrip(".")
            help_text = f"write `{kept}`"
        elif len(rest) == 3:
            fraction = f"{float(f'{whole}.{rest}'):.12g}"
            help_text = f"write `{fraction}` for a fraction or `{whole}{rest}` for thousands"
        else:
            help_text = f"write `{whole}.{rest}`, or a blank after the comma in a list"
        message = f"`{node.raw}` is not a number"
        self.scope.report(BAD_NUMBER, node, message, help_text)
        return math.nan

    def _quantity(self, node: t.Quantity) -> Amount:
        value = self.number(node.number)
        if not node.number.good:
            return UNKNOWN
        if node.unit is None:
            if self.scope.damage.follows(node.end):
                return UNKNOWN  # its unit could not be read
            return Amount(value, Dimension.COUNT)
        unit = unit_of(node.unit)
        if unit is None:
            return UNKNOWN  # reported where the text was read
        if unit.word == "rpm" and self.in_two_ways(node):
            return UNKNOWN
        return self._made(node, Amount(value * unit.factor + unit.offset, unit.dimension))

    def in_two_ways(self, node: t.Quantity) -> bool:
        """Whether it is like ``1.200 rpm``, which is 1200 in many languages (then reported): for
        what nobody knows to a thousandth."""
        raw = node.number.raw
        if not _TWO_WAYS.fullmatch(raw):
            return False
        whole, plain = raw.replace(".", ""), f"{float(raw):g}"
        message = f"`{raw} {node.unit}` may be {plain} or {whole}"
        help_text = f"write `{whole} {node.unit}` or `{plain} {node.unit}`: thousands have no mark"
        self.scope.report(BAD_NUMBER, node, message, help_text)
        return True

    def _made(self, node: t.SyntaxNode | Span, made: Amount) -> Amount:
        """What was worked out at ``node``; a number too large to be held is reported there.

        Here and nowhere else a value could stop being finite, so none that is not leaves.
        """
        if not math.isinf(made.value):
            return made
        message = "this comes to more than any number that can be held"
        self.scope.report(OUT_OF_RANGE, node, message, "write a value that a court has")
        return UNKNOWN

    def _named(self, node: t.Name, layers: int) -> Amount:
        if node.file is None and node.text in self.params:
            bound = self.params[node.text]
            if isinstance(bound, Amount):
                return bound
            message = f"`{node.text}` is a feed, and a value belongs here"
            self.scope.report(WRONG_KIND, node, message, "name a value")
            return UNKNOWN
        found = self.scope.look_up(node, t.Let, tuple(self.params))
        if found is None:
            return UNKNOWN
        scope, let = found
        return Evaluator(scope, self.lets).let(let, layers + 1)

    def let(self, node: t.Let, layers: int = 0) -> Amount:
        """The value of a definition, worked out at its first use."""
        known = self.lets.get(id(node))
        if known is None:
            self.lets[id(node)] = UNKNOWN  # what a circle would find
            known = self.lets[id(node)] = self.amount(node.value, layers)
        return known

    def _chain(self, node: t.Chain, layers: int) -> Amount:
        total = self.amount(node.values[0], layers)
        if total.dimension is None:
            return UNKNOWN
        for operator, operand in zip(node.operators, node.values[1:], strict=True):
            if self._unit_apart(node, operand):
                return UNKNOWN
            other = self.amount(operand, layers)
            if operator in "+-\u2212\u2013":
                total = self._sum(node, total, other, 1 if operator == "+" else -1)
            elif operator in "*\u00d7":
                total = self._product(node, total, other)
            else:
                total = self._ratio(node, total, other)
            total = self._made(self.scope.source.span(node.start, operand.end), total)
            if total.dimension is None:
                return UNKNOWN
        return total

    def _unit_apart(self, node: t.Chain, operand: t.Value) -> bool:
        """``70 km / h``: a unit torn apart."""
        if not isinstance(operand, t.Name) or operand.file or self.scope.find(operand):
            return False
        first = node.values[0]
        if not isinstance(first, t.Quantity) or first.unit is None or operand.text in self.params:
            return False
        joined = f"{first.unit}/{operand.text}"
        if unit_of(joined) is None:
            return False
        written = self.scope.written(node)
        message = f"`{written}` has its unit written apart"
        self.scope.report(UNIT_APART, node, message, f"write `{first.number.raw} {joined}`")
        return True

    def _sum(self, node: t.Chain, a: Amount, b: Amount, sign: int) -> Amount:
        if a.dimension is None or b.dimension is None:
            return UNKNOWN
        if a.dimension is not b.dimension or a.dimension is Dimension.TEMPERATURE:
            verb = "added to" if sign > 0 else "subtracted from"
            message = f"a {b.dimension} cannot be {verb} a {a.dimension}"
            self.scope.report(WRONG_DIMENSION, node, message, "bring both to the same kind")
            return UNKNOWN
        return Amount(a.value + sign * b.value, a.dimension)

    def _product(self, node: t.Chain, a: Amount, b: Amount) -> Amount:
        if a.dimension is None or b.dimension is None:
            return UNKNOWN
        dimension = PRODUCTS.get((a.dimension, b.dimension))
        return self._of_kind(node, a.value * b.value, dimension, a, b, "multiplied by")

    def _ratio(self, node: t.Chain, a: Amount, b: Amount) -> Amount:
        if a.dimension is None or b.dimension is None:
            return UNKNOWN
        if b.value == 0:
            self.scope.report(DIVIDED_BY_ZERO, node, "a division by zero", "divide by another")
            return UNKNOWN
        dimension = RATIOS.get((a.dimension, b.dimension))
        if a.dimension is b.dimension and a.dimension is not Dimension.TEMPERATURE:
            dimension = Dimension.COUNT
        return self._of_kind(node, a.value / b.value, dimension, a, b, "divided by")

    def _of_kind(
        self, node: t.Chain, value: float, made: Dimension | None, a: Amount, b: Amount, verb: str
    ) -> Amount:
        if made is None:
            message = f"a {a.dimension} {verb} a {b.dimension} is no value that feeds know"
            self.scope.report(
                WRONG_DIMENSION, node, message, "multiply or divide by a plain number"
            )
            return UNKNOWN
        return Amount(value, made)

    # --- a value of the kind that is wanted

    def want(self, node: t.Value, dimension: Dimension, what: str) -> float:
        """The value, which must be of this dimension; NaN where it is not (reported)."""
        found = self.amount(node)
        return self.check(node, found, dimension, what)

    def check(self, node: t.SyntaxNode, found: Amount, dimension: Dimension, what: str) -> float:
        """The number of ``found`` if it is of this dimension, else a report and NaN."""
        if found.dimension is None:
            return math.nan
        if found.dimension is dimension:
            return found.value
        if dimension is Dimension.RATIO and found.dimension is Dimension.COUNT:
            return self._share(node, found.value)
        if dimension is Dimension.COUNT and found.dimension is Dimension.RATIO:
            return found.value
        written = self.scope.written(node)
        if found.dimension is Dimension.COUNT:
            unit = FIRST_UNIT[dimension]
            message = f"`{written}` has no unit, and {what} needs one"
            self.scope.report(NO_UNIT, node, message, f"write for instance `{written} {unit}`")
        else:
            message = f"`{written}` is a {found.dimension}, and a {dimension} belongs here"
            self.scope.report(WRONG_DIMENSION, node, message, dimension_help(node, dimension))
        return math.nan

    def _share(self, node: t.SyntaxNode, value: float) -> float:
        if value > 1:
            message = f"`{self.scope.written(node)}` is more than the whole"
            self.scope.report(NO_UNIT, node, message, f"write `{value:g} %`")
            return math.nan
        return value

    def whole(self, node: t.Value, low: int, high: int, what: str) -> int | None:
        """A whole number in a range; None where it is not (reported) or not known yet."""
        value = self.want(node, Dimension.COUNT, what)
        return self.whole_of(node, value, low, high, what)

    def whole_of(
        self, node: t.SyntaxNode, value: float, low: int, high: int, what: str
    ) -> int | None:
        """Like ``whole`` for a number already worked out."""
        if math.isnan(value):
            return None
        if abs(value - round(value)) > 1e-9:
            message = f"{value:g} is not a whole number, and {what} is one"
            self.scope.report(NOT_WHOLE, node, message, f"write {math.ceil(value)}")
            return None
        return self._ranged(node, round(value), low, high, what)

    def _ranged(self, node: t.SyntaxNode, value: int, low: int, high: int, what: str) -> int | None:
        if low <= value <= high:
            return value
        shown = str(value) if abs(value) < 10**12 else f"{float(value):g}"
        message = f"{what} cannot be {shown}"
        self.scope.report(OUT_OF_RANGE, node, message, f"write a number from {low} to {high}")
        return None

    def within(
        self, node: t.Value, dimension: Dimension, low: float, high: float, what: str
    ) -> float:
        """A value in a range, ends included, in the internal unit; NaN elsewhere (reported)."""
        value = self.want(node, dimension, what)
        if math.isnan(value) or low <= value <= high:
            return value
        unit = written_unit(node)
        if unit is None or unit.dimension is not dimension:
            unit = Unit(INTERNAL_UNIT[dimension], dimension, 1.0)
        told = f"{(value - unit.offset) / unit.factor:g} {unit.word}".rstrip()
        least = _up((low - unit.offset) / unit.factor)
        most = -_up((unit.offset - high) / unit.factor)
        help_text = f"write a value from {least:g} to {most:g} {unit.word}".rstrip()
        self.scope.report(OUT_OF_RANGE, node, f"{what} cannot be {told}", help_text)
        return math.nan


def _up(end: float) -> float:
    """The least number of four figures that is no less: what a message offers holds."""
    step = 10.0 ** (math.floor(math.log10(abs(end))) - 3) if end else 1.0
    return math.ceil(round(end / step, 6)) * step


def report_circle(scope: Scope, names: list[t.SyntaxNode], texts: list[str], what: str) -> None:
    """Report that these definitions lead round to the first of them."""
    path = " -> ".join(f"`{text}`" for text in [*texts, texts[0]])
    related = tuple(
        Related(scope.span(node), f"`{text}` is defined here")
        for node, text in list(zip(names, texts, strict=True))[1:]
    )
    message = f"{what} defined in a circle: {path}"
    scope.report(CIRCLE, names[0], message, "let one of them stand by itself", related)
