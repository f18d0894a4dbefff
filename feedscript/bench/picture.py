"""Where two records part, drawn: a row for each field, a column for each ball, and the landings.

A cell is empty where the field was not compared, a small dot where it agrees, and a square with a
cross where it parts: no meaning hangs on colour alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from feedscript.bench.differences import FIELDS, Comparison, Pair
from feedscript.court.lines import Court
from feedscript.review.drawing.palette import COLOURS, INK, PAPER, RULE, SOFT_INK
from feedscript.review.drawing.svg import (
    Element,
    Point,
    circle,
    document,
    line,
    rectangle,
    text,
    width_of,
)

_ROWS = ("ball", *FIELDS)
_LEFT_PX, _CELL_PX, _EDGE_PX, _SMALL = 96.0, 14.0, 18.0, 11.0
#: So many balls stand in one band; more go on below.
_BAND = 60
_PARTED, _OTHER = COLOURS[1], COLOURS[0]
_COURT_PX = 280.0  # as wide as a court is drawn


def parting_picture(
    one: Comparison, court: Court, launchers: Sequence[str], what: str = "ball"
) -> Element:
    """The grid of each launcher's balls in bands, and below it where they landed in both; ``what``:
    each column is one of these."""
    body: list[Element] = []
    top = _EDGE_PX + 14
    body.append(text((_EDGE_PX, top), f"left: {one.left}", font_size=13, fill=INK))
    body.append(text((_EDGE_PX, top + 18), f"right: {one.right}", font_size=13, fill=INK))
    top += 34
    body += _key(top)
    top += 26
    widest = max(width_of(words, 13) for words in (f"left: {one.left}", f"right: {one.right}"))
    wide = max(widest + 2 * _EDGE_PX, 560.0)
    for launcher, name in enumerate(launchers):
        pairs = [pair for pair in one.pairs if pair.launcher == launcher]
        for begin in range(0, len(pairs), _BAND):
            band = pairs[begin : begin + _BAND]
            words = _balls(name, what, band[0].ball or 1, band[-1].ball or 1)
            body.append(text((_EDGE_PX, top + 10), words, font_size=12, fill=SOFT_INK))
            body += _grid(band, top + 18)
            top += 18 + len(_ROWS) * _CELL_PX + 34
            wide = max(wide, _LEFT_PX + len(band) * _CELL_PX + 2 * _EDGE_PX)
    landings = [pair for pair in one.pairs if pair.landings_m is not None]
    if landings:
        drawn = _Half(court, landings, top + 8)
        body += drawn.elements()
        top = drawn.bottom_px
    high = top + _EDGE_PX
    ground = rectangle((0, 0), wide, high, fill=PAPER)
    count = sum(bool(pair.parted) for pair in one.pairs)
    label = f"{count} of {len(one.pairs)} {what}s part"
    return document(wide, high, [ground, *body], label=label)


def _balls(name: str, what: str, first: int, last: int) -> str:
    which = f"{what}s {first} to {last}" if last > first else f"{what} {first}"
    return f"{name}, {which}" if name else which


def _key(top: float) -> Iterator[Element]:
    at = _EDGE_PX + 6
    for mark, words in ((_agrees, "agrees"), (_parts, "parts"), (None, "not compared")):
        yield from mark((at, top)) if mark is not None else _nothing((at, top))
        yield text((at + 12, top + 4), words, font_size=_SMALL, fill=SOFT_INK)
        at += 22 + width_of(words, _SMALL)


def _grid(pairs: Sequence[Pair], top: float) -> Iterator[Element]:
    for row, field in enumerate(_ROWS):
        y = top + (row + 0.5) * _CELL_PX
        yield text((_EDGE_PX, y + 4), field, font_size=_SMALL, fill=INK)
        for column, pair in enumerate(pairs):
            at = (_LEFT_PX + (column + 0.5) * _CELL_PX, y)
            known = field in pair.compared
            yield from (
                _parts(at) if field in pair.parted else (_agrees(at) if known else _nothing(at))
            )
    foot = top + len(_ROWS) * _CELL_PX + 12
    for column, pair in enumerate(pairs):
        if pair.more or column == 0 or pair.ball % 5 == 0:
            x = _LEFT_PX + (column + 0.5) * _CELL_PX
            number = "+" if pair.more else str(pair.ball)
            yield text((x, foot), number, font_size=9, fill=SOFT_INK, text_anchor="middle")


def _agrees(at: Point) -> Iterator[Element]:
    yield circle(at, 2.2, fill=SOFT_INK)


def _parts(at: Point) -> Iterator[Element]:
    (x, y), half = at, _CELL_PX / 2 - 1
    yield rectangle((x - half, y - half), 2 * half, 2 * half, fill=_PARTED)
    for sign in (1, -1):
        yield line((x - 3, y - 3 * sign), (x + 3, y + 3 * sign), stroke=PAPER, stroke_width=1.8)


def _nothing(at: Point) -> Iterator[Element]:
    (x, y), half = at, _CELL_PX / 2 - 1
    yield rectangle((x - half, y - half), 2 * half, 2 * half, fill="none", stroke=RULE)


class _Half(msgspec.Struct, frozen=True, eq=False):
    """The receiver's half of the court, the net at the foot, and the landings of each ball joined:
    rings are the left record's, discs the right one's."""

    court: Court
    pairs: Sequence[Pair]
    top_px: float

    @property
    def _wide_m(self) -> float:
        places = [place for pair in self.pairs for place in pair.landings_m or ()]
        return max(self.court.half_width_m + 1.0, *(abs(x) + 0.5 for x, _ in places))

    @property
    def _deep_m(self) -> float:
        places = [place for pair in self.pairs for place in pair.landings_m or ()]
        return max(self.court.half_length_m + 1.5, *(y + 0.5 for _, y in places))

    @property
    def _scale(self) -> float:
        return _COURT_PX / (2 * self._wide_m)

    @property
    def bottom_px(self) -> float:
        return self.top_px + self._deep_m * self._scale + 26

    def _at(self, place: tuple[float, float]) -> Point:
        x = _EDGE_PX + (place[0] + self._wide_m) * self._scale
        return x, self.top_px + (self._deep_m - place[1]) * self._scale

    def elements(self) -> Iterator[Element]:
        corner = self._at((-self._wide_m, self._deep_m))
        size = 2 * self._wide_m * self._scale, self._deep_m * self._scale
        yield rectangle(corner, *size, fill="#eef3f7")
        half, deep, serve = (
            self.court.half_width_m,
            self.court.half_length_m,
            self.court.service_line_m,
        )
        ends = [((-half, 0.0), (-half, deep)), ((half, 0.0), (half, deep))]
        ends += [((-half, deep), (half, deep)), ((-half, serve), (half, serve))]
        ends += [((0.0, 0.0), (0.0, serve))]
        for start, end in ends:
            yield line(self._at(start), self._at(end), stroke=SOFT_INK, stroke_width=1.2)
        net = self._at((-half - 0.9, 0.0)), self._at((half + 0.9, 0.0))
        yield line(*net, stroke=INK, stroke_width=2.6)
        for pair in self.pairs:
            yield from self._joined(pair)
        words = "landings: rings are left, discs right; orange where they part"
        yield text((_EDGE_PX, self.bottom_px - 6), words, font_size=_SMALL, fill=SOFT_INK)

    def _joined(self, pair: Pair) -> Iterator[Element]:
        if pair.landings_m is None:
            return
        one, two = map(self._at, pair.landings_m)
        parted = "landing" in pair.parted
        colour = _PARTED if parted else _OTHER
        yield line(one, two, stroke=colour, stroke_width=1.6 if parted else 0.8)
        yield circle(one, 3.2, fill="none", stroke=INK)
        yield circle(two, 3.0, fill=colour)
