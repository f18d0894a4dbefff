"""The feeds of a picture in figures: one row a feed, bound to the drawing by letter and mark."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from feedscript.plan.model import AimedFeed
from feedscript.review.drawing.drawn_flights import DrawnFlight
from feedscript.review.drawing.frame import MARGIN_LEFT, MARGIN_RIGHT, WIDTH
from feedscript.review.drawing.palette import INK, RULE, SOFT_INK
from feedscript.review.drawing.svg import Element, Value, group, line, text
from feedscript.told_units import length_digits, length_told, speed_told, told_units
from feedscript.tongues import terms
from feedscript.tongues.text import _, figure, joined, n_, p_

ROW = 24.0
_NAME_PX = 12.5
#: Heading, where its column ends or begins, and whether figures end there.
COLUMNS = (
    (p_("column", "feed"), 60.0, False),
    (p_("column", "speed"), 392.0, True),
    (p_("column", "spin"), 606.0, True),
    (p_("column", "elevation"), 700.0, True),
    (p_("column", "in the air"), 800.0, True),
    (p_("column", "over the net"), 910.0, True),
    (p_("column", "highest"), 1000.0, True),
    (p_("column", "scatter 1 s.d."), 1120.0, True),
)


def spin_words(top_rpm: float, side_rpm: float) -> str:
    """Spin as a program writes it: ``top 1200, side ad 300 rpm``."""
    parts: list[str] = []
    if abs(top_rpm) >= 0.5:
        parts.append(_top(top_rpm > 0, figure(abs(top_rpm), 0)))
    if abs(side_rpm) >= 0.5:
        size = figure(abs(side_rpm), 0)
        side = _("side ad {n}", n=size) if side_rpm > 0 else _("side deuce {n}", n=size)
        parts.append(side)
    return joined(" ", [joined(", ", parts), "rpm"]) if parts else p_("spin", "none")


def _top(topspin: bool, size: str) -> str:
    return _("top {n}", n=size) if topspin else _("back {n}", n=size)


def cells(forms: Sequence[DrawnFlight]) -> tuple[str, ...]:
    """A row's words, in the order of COLUMNS; figures that differ among forms as a range."""
    one, feeds = forms[0], [form.feed for form in forms]
    name = terms.feed(one.wish) if len(one.wish) <= 32 else _short(one.wish, 32)
    if len(forms) > 1 and len({feed.setting for feed in feeds}) == 1:
        name = _("{feed} (whole sweep)", feed=name)  # one setting, directions that nobody chooses
    elif len(forms) > 1:
        name = n_("{feed} ({n} form)", "{feed} ({n} forms)", len(forms), feed=name)
    spins = dict.fromkeys(spin_words(feed.top_rpm, feed.side_rpm) for feed in feeds)
    widest = max(feeds, key=lambda feed: feed.scatter.major_m).scatter
    return (
        name,
        _span([speed_told(feed.speed_mps) for feed in feeds], 0, f" {told_units().speed}"),
        next(iter(spins)) if len(spins) == 1 else _spin_span(feeds),
        _span([feed.elevation_deg for feed in feeds], 1, "\u00b0"),
        _span([feed.flight_s for feed in feeds], 2, " s"),
        _lengths([feed.net_clearance_m for feed in feeds], 2),
        _lengths([feed.apex_m for feed in feeds], 1),
        joined(
            " \u00d7 ",
            [
                figure(length_told(widest.major_m), length_digits(2)),
                _lengths([widest.minor_m], 2),
            ],
        ),
    )


def _lengths(metres: Sequence[float], digits: int) -> str:
    unit = f" {told_units().length}"
    return _span([length_told(one) for one in metres], length_digits(digits), unit)


def _span(values: Sequence[float], digits: int, unit: str) -> str:
    """One figure, or the least and the most of several."""
    least, most = figure(min(values), digits), figure(max(values), digits, unit)
    return most if f"{least}{unit}" == most else joined("\u2013", [least, most])


def _spin_span(feeds: Sequence[AimedFeed]) -> str:
    """The spins of several forms: their size where all turn one way, else just that they vary."""
    tops = [feed.top_rpm for feed in feeds]
    if any(abs(feed.side_rpm) >= 0.5 for feed in feeds) or min(tops) < 0 < max(tops):
        return p_("spin", "varies")
    return _top(max(tops) > 0, _span([abs(top) for top in tops], 0, " rpm"))


def rows(flights: Sequence[DrawnFlight]) -> list[tuple[DrawnFlight, tuple[str, ...]]]:
    """The leading form of every wish with its words."""
    forms: dict[str, list[DrawnFlight]] = {}
    for one in flights:
        forms.setdefault(one.wish, []).append(one)
    return [(found[0], cells(found)) for found in forms.values()]


def feed_table(flights: Sequence[DrawnFlight], top: float) -> tuple[Element, float]:
    """The table below ``top``, and its height."""
    found = rows(flights)
    parts = list(_heading(top))
    for index, (one, words) in enumerate(found):
        y = top + ROW * (index + 1) + 16
        parts += _row(one, words, y)
    return group(parts), ROW * (len(found) + 1) + 8


def _heading(top: float) -> Iterable[Element]:
    for words, x, ends in COLUMNS:
        yield text(
            (MARGIN_LEFT + x, top + 15), words, fill=SOFT_INK, font_size=11.5,
            text_anchor="end" if ends else "start",
        )  # fmt: skip
    y = top + 22
    yield line((MARGIN_LEFT, y), (WIDTH - MARGIN_RIGHT, y), stroke=RULE, stroke_width=1)


def _row(one: DrawnFlight, words: tuple[str, ...], y: float) -> Iterable[Element]:
    x = MARGIN_LEFT
    dash = one.style.dash
    yield line(
        (x + 24, y - 4), (x + 52, y - 4), stroke=one.style.colour, stroke_width=2,
        stroke_dasharray=dash,
    )  # fmt: skip
    yield one.style.draw_mark((x + 38, y - 4))
    yield text((x, y), one.style.letter, fill=INK, font_size=_NAME_PX, font_weight="bold")
    for (_head, column, ends), cell in zip(COLUMNS, words, strict=True):
        look: dict[str, Value] = {"fill": INK, "font_size": _NAME_PX}
        if ends:
            look["text_anchor"] = "end"
        yield text((MARGIN_LEFT + column, y), cell, **look)


def _short(words: str, most: int) -> str:
    return words if len(words) <= most else words[: most - 1] + "\u2026"
