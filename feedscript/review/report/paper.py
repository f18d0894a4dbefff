"""A4 pages, filled from the top: headings, paragraphs, tables, rows of pictures.

Drawn by matplotlib's PDF backend (the extra ``plots``), whose text stays text. Lengths are in
millimetres from the upper left corner, font sizes in points.
"""

from __future__ import annotations

import io
import warnings
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

WIDTH_MM, HEIGHT_MM = 210.0, 297.0
MARGIN_MM = 17.0
ROOM_MM = WIDTH_MM - 2 * MARGIN_MM
_MM_A_POINT = 25.4 / 72
_MM_AN_INCH = 25.4
_LINE = 1.45  # of the font size
_INK = "#1a1a1a"
_SOFT = "#454d54"
_RULE = "#b9c0c6"


@dataclass(slots=True)
class Paper:
    """Pages in the making. What does not fit begins a new page."""

    _pages: list[Any] = field(default_factory=list)
    _at_mm: float = HEIGHT_MM  # full: the first thing makes the first page

    def new_page(self) -> None:
        """Begin a page."""
        from matplotlib.figure import Figure

        size = (WIDTH_MM / _MM_AN_INCH, HEIGHT_MM / _MM_AN_INCH)
        self._pages.append(Figure(figsize=size))
        self._at_mm = MARGIN_MM

    def _take(self, height_mm: float) -> float:
        """Where a thing of this height begins."""
        self.keep_together(height_mm)
        at_mm = self._at_mm
        self._at_mm += height_mm
        return at_mm

    def keep_together(self, height_mm: float) -> None:
        """Begin a page unless so much room is left on this one."""
        if self._at_mm + height_mm > HEIGHT_MM - MARGIN_MM:
            self.new_page()

    def gap(self, height_mm: float) -> None:
        """Leave room."""
        self._at_mm += height_mm

    def paragraph(
        self, words: str, size: float = 10.0, *, bold: bool = False, soft: bool = False
    ) -> None:
        """Words over the whole width, broken into lines."""
        for line in wrapped(words, size, ROOM_MM, bold=bold):
            at_mm = self._take(size * _LINE * _MM_A_POINT)
            self._words(MARGIN_MM, at_mm, line, size, bold=bold, soft=soft)

    def table(self, heads: Sequence[str], rows: Sequence[Sequence[str]], size: float = 9.0) -> None:
        """Columns as wide as their widest cell, the first taking what is left; all but the first
        aligned to the right."""
        widths = [
            max(_width_mm(row[n], size, bold=row is heads) for row in (heads, *rows)) + 4.0
            for n in range(len(heads))
        ]
        widths[0] = max(ROOM_MM - sum(widths[1:]), 25.0)
        for row in (heads, *rows):
            self._row(row, widths, size, bold=row is heads)

    def _row(self, row: Sequence[str], widths: Sequence[float], size: float, *, bold: bool) -> None:
        height_mm = size * 1.9 * _MM_A_POINT
        at_mm = self._take(height_mm)
        first = _shortened(row[0], size, widths[0] - 2.0, bold=bold)
        self._words(MARGIN_MM, at_mm, first, size, bold=bold)
        right_mm = MARGIN_MM + widths[0]
        for words, width in zip(row[1:], widths[1:], strict=True):
            right_mm += width
            self._words(right_mm, at_mm, words, size, bold=bold, right=True)
        self._rule(at_mm + height_mm - 1.2, bold=bold)

    def pictures(self, row: Sequence[tuple[bytes, str]], in_row: int, most_mm: float) -> None:
        """PNG pictures side by side, each with its caption below, in a row of so many."""
        from matplotlib.image import imread

        place_mm = (ROOM_MM + 6.0) / in_row
        width_mm = min(place_mm - 6.0, most_mm)
        images = [imread(io.BytesIO(png)) for png, _ in row]
        tall_mm = max(image.shape[0] / image.shape[1] for image in images) * width_mm
        at_mm = self._take(tall_mm + 13.0)
        for number, (image, (_, caption)) in enumerate(zip(images, row, strict=True)):
            left_mm = MARGIN_MM + number * place_mm
            height_mm = image.shape[0] / image.shape[1] * width_mm
            top_mm = at_mm + tall_mm - height_mm
            self._image(image, left_mm, top_mm, width_mm, height_mm)
            for index, line in enumerate(wrapped(caption, 8.0, width_mm, bold=False)):
                below_mm = at_mm + tall_mm + 1.5 + index * 8.0 * _LINE * _MM_A_POINT
                self._words(left_mm, below_mm, line, 8.0, soft=True)

    def _image(
        self, image: Any, left_mm: float, top_mm: float, width_mm: float, height_mm: float
    ) -> None:
        bottom = 1 - (top_mm + height_mm) / HEIGHT_MM
        place = (left_mm / WIDTH_MM, bottom, width_mm / WIDTH_MM, height_mm / HEIGHT_MM)
        axes = self._pages[-1].add_axes(place)
        axes.imshow(image, interpolation="none")
        axes.axis("off")

    def _words(
        self,
        x_mm: float,
        top_mm: float,
        words: str,
        size: float,
        *,
        bold: bool = False,
        soft: bool = False,
        right: bool = False,
    ) -> None:
        self._pages[-1].text(
            x_mm / WIDTH_MM,
            1 - (top_mm + size * _MM_A_POINT) / HEIGHT_MM,
            words,
            fontsize=size,
            fontweight="bold" if bold else "normal",
            fontfamily="DejaVu Sans",
            color=_SOFT if soft else _INK,
            ha="right" if right else "left",
            va="baseline",
            parse_math=False,
        )

    def _rule(self, at_mm: float, *, bold: bool) -> None:
        from matplotlib.lines import Line2D

        y = 1 - at_mm / HEIGHT_MM
        ends = [MARGIN_MM / WIDTH_MM, 1 - MARGIN_MM / WIDTH_MM]
        colour, width = (_INK, 1.0) if bold else (_RULE, 0.5)
        self._pages[-1].add_artist(Line2D(ends, [y, y], color=colour, linewidth=width))

    def as_pdf(self, title: str) -> bytes:
        """The pages; the same content gives the same bytes."""
        import matplotlib
        from matplotlib.backends.backend_pdf import PdfPages

        out = io.BytesIO()
        about = {"Title": title, "Creator": "feedscript", "CreationDate": None}
        settings = matplotlib.rc_context({"pdf.fonttype": 42})
        with _quiet(), settings, PdfPages(out, metadata=about) as pages:
            for page in self._pages:
                pages.savefig(page)
        return out.getvalue()


def not_in_font(words: str) -> str:
    """The letters of these words that the pages' font has no shape for."""
    from matplotlib.font_manager import findfont, get_font

    shapes = get_font(findfont("DejaVu Sans")).get_charmap()
    return "".join(sorted({letter for letter in words if ord(letter) not in shapes}))


@contextmanager
def _quiet() -> Iterator[None]:
    """Without matplotlib's own word about each missing letter: :func:`not_in_font` tells once."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        yield


def wrapped(words: str, size: float, width_mm: float, *, bold: bool) -> list[str]:
    """Lines that fit the width; a word wider than a line is broken."""
    lines: list[str] = []
    for word in words.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if _width_mm(longer, size, bold=bold) <= width_mm:
            lines[-1:] = [longer]
            continue
        while _width_mm(word, size, bold=bold) > width_mm:
            fits = max(1, _that_fit(word, "", size, width_mm, bold=bold))
            lines.append(word[:fits])
            word = word[fits:]
        lines.append(word)
    return lines


def _shortened(words: str, size: float, width_mm: float, *, bold: bool) -> str:
    if _width_mm(words, size, bold=bold) <= width_mm:
        return words
    return f"{words[: _that_fit(words, '…', size, width_mm, bold=bold)]}…"


def _that_fit(words: str, tail: str, size: float, width_mm: float, *, bold: bool) -> int:
    """How many letters fit before the tail."""

    def width(count: int) -> float:
        return _width_mm(words[:count] + tail, size, bold=bold)

    return bisect_right(range(1, len(words) + 1), width_mm, key=width)


def _width_mm(words: str, size: float, *, bold: bool) -> float:
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family="DejaVu Sans", weight="bold" if bold else "normal", size=size)
    with _quiet():
        width, _, _ = text_to_path.get_text_width_height_descent(words, font, ismath=False)
    return float(width) * _MM_A_POINT
