"""A launcher's weeks as small pictures, each with its dates: what it threw and what went wrong, how
far its balls land from their aims, how widely they scatter, and its tuning."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import TypeAlias

import msgspec

from feedscript.club.launchers.sheets import WEEK_S, Sheet, Week
from feedscript.review.drawing.axes import ticks
from feedscript.review.drawing.palette import COLOURS, INK, PAPER, RULE, SOFT_INK
from feedscript.review.drawing.svg import (
    Element,
    Point,
    circle,
    document,
    line,
    polyline,
    rectangle,
    text,
)
from feedscript.review.report.words import short_day
from feedscript.tongues.text import Text, _, figure, joined

_WIDTH, _HEIGHT = 440.0, 216.0
_LEFT, _RIGHT, _TOP, _FOOT = 50.0, 12.0, 34.0, 28.0
#: A date at every so many weeks: more would run into each other.
_DATES_EVERY = 3
_BALLS, _BAD = COLOURS[5], COLOURS[1]
_DASHES = (None, "6 4")
#: What a launcher that is as its profile says keeps to in 99 of 100 weeks: quantile of the normal.
_Q99 = 2.576


class Picture(msgspec.Struct, frozen=True):
    """What it shows, the same with its figures, and the picture."""

    title: Text
    words: str
    drawn: Element


Line: TypeAlias = tuple[Text, Sequence[tuple[float, float]]]  # its name, and (utc_s, value)


class Scale(msgspec.Struct, frozen=True, kw_only=True):
    """From moments and values to places in the picture."""

    first_s: float
    last_s: float
    least: float
    most: float

    def at(self, utc_s: float, value: float) -> Point:
        across = (utc_s - self.first_s) / (self.last_s - self.first_s)
        up = (value - self.least) / (self.most - self.least)
        width, height = _WIDTH - _LEFT - _RIGHT, _HEIGHT - _TOP - _FOOT
        return _LEFT + across * width, _TOP + (1 - min(max(up, 0.0), 1.0)) * height


def pictures(sheet: Sheet) -> tuple[Picture, ...]:
    """All that there is something to draw for."""
    drawn = [_work(sheet.weeks)]
    drawn += [_drift(sheet.weeks)] if any(week.off_m for week in sheet.weeks) else []
    drawn += [_wear(sheet.weeks)] if any(week.spread for week in sheet.weeks) else []
    drawn += [_angles(sheet), _factors(sheet)]
    return tuple(drawn)


def _scale(weeks: Sequence[Week], least: float, most: float) -> Scale:
    first = weeks[0].begins_utc_s
    return Scale(first_s=first, last_s=weeks[-1].begins_utc_s + WEEK_S, least=least, most=most)


def _middle(week: Week) -> float:
    return week.begins_utc_s + WEEK_S / 2


def _work(weeks: Sequence[Week]) -> Picture:
    """Balls as bars, and above each how often something went wrong."""
    most = max(10, *(week.balls for week in weeks)) * 1.15
    scale = _scale(weeks, 0.0, most)
    body = [*_frame(scale, weeks, ticks(0.0, most, 4))]
    for week in weeks:
        left, top = scale.at(week.begins_utc_s, week.balls)
        right, foot = scale.at(week.begins_utc_s + WEEK_S, 0.0)
        body.append(rectangle((left + 3, top), right - left - 6, foot - top, fill=_BALLS))
        if week.bad:
            body.append(text(((left + right) / 2, top - 4), str(week.bad), **_TROUBLE))
    told = _("Balls each week; above them how often something went wrong")
    said = joined("; ", (_week_words(week) for week in weeks))
    return _chart(told, (), body, said)


_TROUBLE: dict[str, str | float] = {
    "fill": _BAD, "font_size": 12, "font_weight": "bold", "text_anchor": "middle",
}  # fmt: skip


def _week_words(week: Week) -> Text:
    return _(
        "{day}: {balls} balls, {bad} troubles",
        day=short_day(week.begins_utc_s),
        balls=week.balls,
        bad=week.bad,
    )


def _drift(weeks: Sequence[Week]) -> Picture:
    measured = [(_middle(week), week.off_m) for week in weeks if week.off_m is not None]
    lines: list[Line] = [
        (_("beyond the aim"), [(when, off[1]) for when, off in measured]),
        (_("to the right of it"), [(when, off[0]) for when, off in measured]),
    ]
    reach = max(0.5, *(abs(value) for _name, points in lines for _when, value in points)) * 1.2
    title = _("Where balls land, less where they were aimed, m (median of the week)")
    return _lines(title, weeks, lines, -reach, reach)


def _wear(weeks: Sequence[Week]) -> Picture:
    """The scatter, with what chance gives to so few landings where it is as the profile says."""
    measured = [week for week in weeks if week.spread is not None]
    points = [(_middle(week), week.spread or 0.0) for week in measured]
    most = max(2.0, *(value for _when, value in points)) * 1.15
    scale = _scale(weeks, 0.0, most)
    body = [*_frame(scale, weeks, ticks(0.0, most, 4))]
    for week in measured:
        body += _chance(scale, week)
    body.append(line(scale.at(scale.first_s, 1.0), scale.at(scale.last_s, 1.0), stroke=INK))
    body += _line(scale, points, 0)
    title = _("How widely balls scatter; 1 is as the profile says")
    band = _("grey: where chance alone leaves 99 of 100 weeks")
    said = joined("; ", (_of_day(when, value) for when, value in points))
    return _chart(title, (band,), body, said)


def _chance(scale: Scale, week: Week) -> Iterator[Element]:
    """A chi-squared over its 2 (n - 1) degrees, by the cube root (E. B. Wilson, M. M. Hilferty,
    "The distribution of chi-square", 1931)."""
    wide = 2.0 / (9.0 * 2 * (week.landings - 1))
    low, high = (max(0.0, 1 - wide + sign * _Q99 * math.sqrt(wide)) ** 1.5 for sign in (-1, 1))
    left, top = scale.at(week.begins_utc_s, high)
    right, foot = scale.at(week.begins_utc_s + WEEK_S, low)
    yield rectangle((left + 3, top), right - left - 6, foot - top, fill="#dfe3e6")


def _angles(sheet: Sheet) -> Picture:
    def of(key: str) -> list[tuple[float, float]]:
        return list(_steps(sheet, key))

    lines: list[Line] = [
        (_("elevation offset"), of("elevation_offset_deg")),
        (_("azimuth offset"), of("azimuth_offset_deg")),
    ]
    reach = max(1.0, *(abs(value) for _name, points in lines for _when, value in points)) * 1.2
    return _lines(_("Its tuning: offsets, degrees"), sheet.weeks, lines, -reach, reach)


def _factors(sheet: Sheet) -> Picture:
    lines: list[Line] = [
        (_("drag factor"), list(_steps(sheet, "drag_factor"))),
        (_("lift factor"), list(_steps(sheet, "lift_factor"))),
    ]
    values = [value for _name, points in lines for _when, value in points]
    least, most = min(0.8, *values) - 0.05, max(1.2, *values) + 0.05
    title = _("Its tuning: factors, 1 is the flight model's")
    return _lines(title, sheet.weeks, lines, least, most)


def _steps(sheet: Sheet, key: str) -> Iterator[tuple[float, float]]:
    """Each profile's number, from its first lesson until the next profile's."""
    ends = [*(one.first_utc_s for one in sheet.tuned[1:]), sheet.tuned[-1].last_utc_s]
    for one, end_utc_s in zip(sheet.tuned, ends, strict=True):
        value = float(getattr(one.calibration, key))
        yield one.first_utc_s, value
        yield end_utc_s, value


def _lines(
    title: Text, weeks: Sequence[Week], lines: Sequence[Line], least: float, most: float
) -> Picture:
    scale = _scale(weeks, least, most)
    body = [*_frame(scale, weeks, ticks(least, most, 4))]
    for number, (_name, points) in enumerate(lines):
        body += _line(scale, points, number)
    said = joined(
        "; ", (joined(" ", [name, _of_day(*point)]) for name, points in lines for point in points)
    )
    return _chart(title, [name for name, _points in lines], body, said)


def _of_day(when: float, value: float) -> Text:
    return joined(": ", [short_day(when), figure(value, 2)])


def _line(scale: Scale, points: Sequence[tuple[float, float]], number: int) -> Iterator[Element]:
    places = [scale.at(*point) for point in points]
    colour, dash = COLOURS[number], _DASHES[number]
    yield polyline(places, stroke=colour, stroke_width=2, stroke_dasharray=dash)
    for x, y in places:
        if number % 2:
            yield rectangle((x - 4, y - 4), 8, 8, fill=colour, stroke=PAPER)
        else:
            yield circle((x, y), 4.5, fill=colour, stroke=PAPER)


def _frame(scale: Scale, weeks: Sequence[Week], values: Iterable[float]) -> Iterator[Element]:
    """Rules with their figures, and the weeks' dates."""
    for value in values:
        _, y = scale.at(scale.first_s, value)
        yield line((_LEFT, y), (_WIDTH - _RIGHT, y), stroke=RULE, stroke_width=1)
        yield text((_LEFT - 6, y + 4), f"{value:g}", fill=SOFT_INK, font_size=12, text_anchor="end")
    every = 1 if len(weeks) <= _DATES_EVERY else _DATES_EVERY
    for week in weeks[::-1][::every]:
        x, _ = scale.at(_middle(week), scale.least)
        yield text((x, _HEIGHT - 8), short_day(_middle(week)), **_DATE)


_DATE: dict[str, str | float] = {"fill": SOFT_INK, "font_size": 12, "text_anchor": "middle"}


def _chart(title: Text, names: Sequence[Text], body: Iterable[Element], said: str) -> Picture:
    ground = rectangle((0, 0), _WIDTH, _HEIGHT, fill=PAPER)
    key: list[Element] = []
    left = 10.0
    for number, name in enumerate(names):
        if len(names) > 1:
            look = {"stroke": COLOURS[number], "stroke_dasharray": _DASHES[number]}
            key.append(line((left, 14), (left + 22, 14), stroke_width=3, **look))
            left += 28
        key.append(text((left, 18), name, fill=SOFT_INK, font_size=13))
        left += 170
    label = joined(". ", [title, said])
    drawn = document(_WIDTH, _HEIGHT, [ground, *key, *body], label=label)
    return Picture(title, label, drawn)
