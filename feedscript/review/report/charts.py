"""Small charts of a report, as SVG that stands alone or inside a page.

A result has the colour of its button on the page; every mark is named in words too, so that no
colour carries meaning alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TypeAlias

from feedscript.court.lines import Court
from feedscript.plan.model import Result
from feedscript.review.drawing.palette import INK, PAPER, RULE, SOFT_INK
from feedscript.review.drawing.svg import (
    Element,
    Point,
    circle,
    document,
    line,
    polygon,
    polyline,
    rectangle,
    text,
)
from feedscript.review.report.figures import Figures, PlayerFigures, Share
from feedscript.review.report.words import percent, short_day
from feedscript.session.operator.controls import RESULT_COLOURS
from feedscript.tongues import terms
from feedscript.tongues.text import _, joined, p_

_FAINT = "#e2e5e8"

_ARM = 60.0  # length of a bar that holds every error
_CORE = 26.0  # half the middle square, where the balls in court are counted
#: Where each error lies as the player sees the court: the net near, the baseline far.
_DIRECTION = {
    Result.NET: (0, 1),
    Result.LONG: (0, -1),
    Result.LEFT: (-1, 0),
    Result.RIGHT: (1, 0),
}


def _chart(width: float, height: float, body: Iterable[Element], label: str) -> Element:
    """A chart on white, whatever it is shown on."""
    ground = rectangle((0, 0), width, height, fill=PAPER)
    return document(width, height, [ground, *body], label=label)


def _words(x: float, y: float, words: str, *, size: float = 12.0, bold: bool = False) -> Element:
    weight = "bold" if bold else None
    look: dict[str, str | float] = {"font_size": size, "text_anchor": "middle", "fill": INK}
    halo: dict[str, str | float] = {"stroke": PAPER, "stroke_width": 3, "paint_order": "stroke"}
    return text((x, y), words, font_weight=weight, **look, **halo)


def error_rose(made: int, errors: Mapping[Result, int]) -> Element:
    """Where the balls went as the player sees the court: in the middle those in court.

    A bar's length is its share of the errors.
    """
    side = 240.0
    middle = side / 2
    body = [
        rectangle(
            (middle - _CORE, middle - _CORE), 2 * _CORE, 2 * _CORE, fill=RESULT_COLOURS[Result.IN]
        ),
        text((middle, middle + 2), str(made), font_size=20, font_weight="bold", **_ON_COLOUR),
        text((middle, middle + 17), terms.result(Result.IN), font_size=12, **_ON_COLOUR),
    ]
    for error, (dx, dy) in _DIRECTION.items():
        body += _arm(middle, error, dx, dy, errors)
    said = joined(", ", (counted(count, error) for error, count in errors.items()))
    label = _("{n} in court, {errors}", n=made, errors=said)
    return _chart(side, side, body, label)


def counted(count: int, error: Result) -> str:
    """So many balls that became this."""
    return joined(" ", [str(count), terms.result(error)])


_ON_COLOUR = {"text_anchor": "middle", "fill": PAPER}


def _arm(
    middle: float, error: Result, dx: int, dy: int, errors: Mapping[Result, int]
) -> list[Element]:
    """One bar outwards from the middle, its full length drawn faintly behind it."""
    count, missed = errors[error], sum(errors.values())
    length = _ARM * count / missed if missed else 0.0
    x = middle + dx * (_CORE + _ARM + 20)
    y = middle + dy * (_CORE + _ARM + 14) + 4
    if dx:
        named = [_words(x, y - 7, terms.result(error)), _words(x, y + 9, str(count), bold=True)]
    else:
        named = [_words(x - 9, y, terms.result(error)), _words(x + 17, y, str(count), bold=True)]
    return [
        _bar(middle, dx, dy, _ARM, _FAINT),
        _bar(middle, dx, dy, length, RESULT_COLOURS[error]),
        *named,
    ]


def _bar(middle: float, dx: int, dy: int, length: float, fill: str) -> Element:
    half = 13.0
    near = _CORE + 2
    if dx:
        x = middle + near if dx > 0 else middle - near - length
        return rectangle((x, middle - half), length, 2 * half, fill=fill)
    y = middle + near if dy > 0 else middle - near - length
    return rectangle((middle - half, y), 2 * half, length, fill=fill)


def trend_bars(numbers: Figures) -> Element:
    """The share in court for each quarter of the player's balls."""
    width, height, top, foot = 250.0, 170.0, 24.0, 38.0
    full = height - top - foot
    step = width / len(numbers.trend.parts)
    body: list[Element] = []
    for index, part in enumerate(numbers.trend.parts):
        x, bar = index * step + 8, step - 16
        middle = x + bar / 2
        body.append(rectangle((x, top), bar, full, fill=_FAINT))
        if part.value is not None:
            tall = full * part.value
            body.append(
                rectangle((x, top + full - tall), bar, tall, fill=RESULT_COLOURS[Result.IN])
            )
        body.append(_words(middle, top - 7, percent(part.value), bold=True))
        body.append(_words(middle, height - 22, _ORDINALS[index]))
        body.append(
            _words(middle, height - 7, _("{n} of {all}", n=part.made, all=part.recorded), size=11)
        )
    said = ", ".join(percent(part.value) for part in numbers.trend.parts)
    label = _("Share in court, by quarter of the balls: {shares}", shares=said)
    return _chart(width, height, body, label)


_ORDINALS = (
    p_("quarter", "first"),
    p_("quarter", "second"),
    p_("quarter", "third"),
    p_("quarter", "last"),
)


def lessons_line(lessons: Sequence[tuple[float, Share]]) -> Element:
    """The share in court of lessons, oldest first: when each began, and its share."""
    edge, step, height, top, foot = 40.0, 56.0, 170.0, 26.0, 26.0
    width = max(250.0, edge + step * len(lessons))
    full = height - top - foot
    places = [
        (edge + (index + 0.5) * step, top + full * (1 - (share.value or 0.0)))
        for index, (_when, share) in enumerate(lessons)
    ]
    body = []
    for share in (0.0, 0.5, 1.0):
        y = top + full * (1 - share)
        body.append(line((edge, y), (width, y), stroke=RULE, stroke_width=1))
        body.append(_words(edge / 2 - 2, y + 4, percent(share), size=11))
    body.append(polyline(places, stroke=SOFT_INK, stroke_width=2))
    for (when, made), place in zip(lessons, places, strict=True):
        body += _week(place, when, made, height)
    said = joined(
        ", ", (joined(" ", [short_day(when), percent(made.value)]) for when, made in lessons)
    )
    label = _("Share in court, by lesson: {shares}", shares=said)
    return _chart(width, height, body, label)


def _week(place: Point, when: float, share: Share, height: float) -> Iterable[Element]:
    x, y = place
    yield circle(place, 5, fill=RESULT_COLOURS[Result.IN], stroke=PAPER, stroke_width=1.5)
    yield _words(x, y - 10, percent(share.value), bold=True)
    yield _words(x, height - 7, short_day(when))


#: What is drawn around the half court on which the player's shots land, in metres.
_AROUND_M = 3.0
_NEAR_SIDE_M = 1.5
_PX = 15.0  # a metre


def landings(numbers: Figures, court: Court) -> Element:
    """Where the player's shots came down, as the player sees the court: the net at the foot.

    Discs were in court, rings were not. What lies outside is drawn at the edge.
    """
    half_m = (court.doubles_half_width_m or court.half_width_m) + _AROUND_M
    deep_m = court.half_length_m + _AROUND_M
    width, height = round(2 * half_m * _PX), round((deep_m + _NEAR_SIDE_M) * _PX)

    def seen(x_m: float, y_m: float) -> Point:
        # The player looks towards -y, so +x lies at the left hand.
        x_m = min(max(x_m, 0.3 - half_m), half_m - 0.3)
        y_m = min(max(y_m, 0.3 - deep_m), _NEAR_SIDE_M - 0.3)
        return (half_m - x_m) * _PX, (deep_m + y_m) * _PX

    landed = [_landed(seen(x_m, y_m), made) for x_m, y_m, made in numbers.landings]
    made = sum(result.good for *_place, result in numbers.landings)
    label = _("{n} landings marked, {made} of them in", n=len(numbers.landings), made=made)
    return _chart(width, height, [*_half_court(court, seen), *landed], label)


def _half_court(court: Court, seen: Callable[[float, float], Point]) -> Iterable[Element]:
    back, inner = -court.half_length_m, court.singles_half_width_m
    wide = court.doubles_half_width_m or court.half_width_m
    outline = [seen(-wide, 0), seen(wide, 0), seen(wide, back), seen(-wide, back)]
    yield polygon(outline, fill="#eef3f7", stroke=SOFT_INK, stroke_width=1.4)
    look: dict[str, str | float] = {"stroke": SOFT_INK, "stroke_width": 1.2}
    for x_m in (-inner, inner):
        yield line(seen(x_m, 0), seen(x_m, back), **look)
    yield line(seen(-inner, -court.service_line_m), seen(inner, -court.service_line_m), **look)
    yield line(seen(0, 0), seen(0, -court.service_line_m), **look)
    yield line(seen(-wide - 0.9, 0), seen(wide + 0.9, 0), stroke=INK, stroke_width=2.6)


def _landed(place: Point, result: Result) -> Element:
    if result.good:
        return circle(place, 5, fill=RESULT_COLOURS[result], stroke=PAPER, stroke_width=1)
    return circle(place, 4.5, fill="none", stroke=RESULT_COLOURS[result], stroke_width=2.5)


Charts: TypeAlias = Sequence[tuple[str, str, Element]]


def charts_of_feed(numbers: Figures, court: Court) -> Charts:
    """What is drawn of one feed over everyone: a short name, a caption, the chart."""
    if not numbers.share.recorded:
        return ()
    drawn = [
        ("errors", _ROSE_CAPTION, error_rose(numbers.share.made, numbers.errors)),
        ("trend", _TREND_CAPTION, trend_bars(numbers)),
    ]
    if numbers.landings:
        drawn.append(("landings", _LANDINGS_CAPTION, landings(numbers, court)))
    return drawn


_ROSE_CAPTION = _("Where the balls went, as the player sees the court")
_TREND_CAPTION = _("Share in court, by quarter of the balls")
_LANDINGS_CAPTION = _("Where shots were marked: discs in court, rings out")


def charts_of(one: PlayerFigures, begun_utc_s: float, court: Court, *, sheet: bool) -> Charts:
    """What is drawn of one player: a short name, a caption, the chart. Nothing without records.

    A sheet to hand out goes without the quarters of one lesson: so few balls are mostly luck.
    """
    whole = one.whole
    if not whole.share.recorded:
        return ()
    drawn = [
        ("errors", _ROSE_CAPTION, error_rose(whole.share.made, whole.errors)),
    ]
    if not sheet:
        drawn.append(("trend", _TREND_CAPTION, trend_bars(whole)))
    if one.past:
        lessons = [(past.begun_utc_s, past.share) for past in one.past]
        weeks = lessons_line([*lessons, (begun_utc_s, whole.share)])
        drawn.append(("weeks", _("Share in court, lesson by lesson"), weeks))
    if whole.landings:
        drawn.append(("landings", _LANDINGS_CAPTION, landings(whole, court)))
    return drawn
