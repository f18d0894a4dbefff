"""The line of time: exercises and breaks by name, a row for each feed and for each player."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from feedscript.review.drawing.drawn_flights import DrawnFlight
from feedscript.review.drawing.frame import MARGIN_RIGHT, WIDTH
from feedscript.review.drawing.palette import INK, PAPER, RULE, SOFT_INK
from feedscript.review.drawing.svg import (
    Element,
    circle,
    group,
    line,
    rectangle,
    text,
    title,
    width_of,
)
from feedscript.review.drawing.timeline import Ball, Part, Stay, Stop, TimeLine

#: Large enough to be read on paper, where the line is as long as a sheet on its side.
_PX = 13.0
_ROW = 19.0
_LEFT = 130.0
_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200)
_PART_GROUNDS = ("#dbe7f1", "#eee6da")


class Scale(msgspec.Struct, frozen=True):
    """From seconds to the picture, and where the rows lie."""

    span_s: float
    top: float
    rows: float  # where the rows of feeds and players begin
    bottom: float

    @property
    def units_a_second(self) -> float:
        return (WIDTH - _LEFT - MARGIN_RIGHT - 10) / self.span_s

    def at(self, seconds: float) -> float:
        return _LEFT + 4 + seconds * self.units_a_second


def time_view(run: TimeLine, flights: Sequence[DrawnFlight], top: float) -> tuple[Element, float]:
    """The view below ``top``, and its height."""
    feeds = [one for one in flights if one.leads]
    players = run.players if len(run.players) > 1 else ()
    rows = top + 8 + (_ROW + 5 if run.parts else 0) + (_ROW if run.stops else 0)
    bottom = rows + _ROW * (len(feeds) + len(players)) + (8 if players else 0)
    scale = Scale(max(run.end_s, 1.0), top + 8, rows, bottom)
    noted: list[str] = []
    parts = [
        rectangle(
            (_LEFT, rows - 3), WIDTH - _LEFT - MARGIN_RIGHT, bottom - rows + 8, fill="#f7f9fa"
        ),
        *(_shade(scale, begin, end) for begin, end in run.rests),
        *_axis(scale),
        *(_part(scale, part, noted) for part in run.parts),
        *_stops(scale, run, noted),
        *_turns(scale, run),
        *_feed_rows(scale, run, flights, feeds),
        *_player_rows(scale, run, players, rows + _ROW * len(feeds) + 8),
    ]
    below = bottom + 50
    parts += _notes(noted, below)
    return group(parts), below - top + _ROW * len(_lines(noted))


def _shade(scale: Scale, begin_s: float, end_s: float) -> Element:
    left, right = scale.at(begin_s), scale.at(end_s)
    high = scale.bottom - scale.rows + 8
    return rectangle(
        (left, scale.rows - 3), max(right - left, 0.5), high, fill="#c7d0d8", fill_opacity=0.55
    )


def _part(scale: Scale, part: Part, noted: list[str]) -> Element:
    """An exercise's bar: with its title, or its number where the title has no room."""
    left, right = scale.at(part.begin_s), scale.at(part.end_s)
    wide = max(right - left, 1.0)
    whole, number = f"{part.number}. {part.title}", f"{part.number}"
    said = next((w for w in (whole, number) if width_of(w, _PX) + 6 <= wide), "")
    if said != whole:
        noted.append(whole)
    bar = rectangle(
        (left, scale.top), wide, _ROW, fill=_PART_GROUNDS[part.number % 2], stroke=PAPER
    )
    middle = (left + wide / 2, scale.top + 14)
    words = [text(middle, said, fill=INK, font_size=_PX, text_anchor="middle")] if said else []
    return group([bar, *words, title(whole)])


def _stops(scale: Scale, run: TimeLine, noted: list[str]) -> Iterable[Element]:
    """A line for each time that the launcher is off; its words where there is room.

    Breaks and the coach's own waits come first, and stand below with their time where they have no
    room; a collect may be without its word.
    """
    for stop in run.stops:
        if stop.end_s > stop.begin_s:
            yield _shade(scale, stop.begin_s, stop.end_s)
        x = scale.at(stop.begin_s)
        yield line(
            (x, scale.rows - 5), (x, scale.bottom + 5), stroke=INK, stroke_width=1.4,
            stroke_dasharray="4 3",
        )  # fmt: skip
    taken: list[tuple[float, float]] = []
    for stop in sorted(run.stops, key=lambda one: not one.named):
        place = _room(scale, stop, taken)
        if place is not None:
            taken.append(place)
            yield text((place[0], scale.rows - 8), stop.words, fill=INK, font_size=_PX)
        elif stop.named:
            noted.append(f"{_clock(round(stop.begin_s))} {stop.words}")


def _room(
    scale: Scale, stop: Stop, taken: Sequence[tuple[float, float]]
) -> tuple[float, float] | None:
    """From where to where its words can stand: from its line on, or up to it."""
    wide, x = width_of(stop.words, _PX), scale.at(stop.begin_s)
    for left in (x - 4, x - wide + 4, WIDTH - MARGIN_RIGHT - wide):
        right = left + wide
        inside = left >= _LEFT and right <= WIDTH - MARGIN_RIGHT and left - 4 <= x <= right + 4
        if inside and all(right < begin - 8 or left > end + 8 for begin, end in taken):
            return left, right
    return None


def _turns(scale: Scale, run: TimeLine) -> Iterable[Element]:
    """A thin line where somebody else is called."""
    for called_s in run.turns_s:
        x = scale.at(called_s)
        yield line((x, scale.rows - 3), (x, scale.bottom + 5), stroke=RULE, stroke_width=0.8)


def _feed_rows(
    scale: Scale, run: TimeLine, flights: Sequence[DrawnFlight], feeds: Sequence[DrawnFlight]
) -> Iterable[Element]:
    row_of = {one.wish: scale.rows + _ROW * (row + 0.5) for row, one in enumerate(feeds)}
    for one in feeds:
        yield text(
            (_LEFT - 8, row_of[one.wish] + 4.5), one.style.letter, fill=INK, font_size=_PX,
            font_weight="bold", text_anchor="end",
        )  # fmt: skip
    for ball in run.balls:
        one = flights[ball.feed]
        yield _ball(scale, ball, one.style.colour, row_of[one.wish])


def _ball(scale: Scale, ball: Ball, colour: str, y: float) -> Element:
    x = scale.at(ball.at_s)
    if ball.watched:
        return circle((x, y), 4.5, fill="none", stroke=colour, stroke_width=2)
    # Thin enough that balls two seconds apart stay apart.
    thick = min(3.0, max(0.8, scale.units_a_second * 0.9))
    return line((x, y - 6), (x, y + 6), stroke=colour, stroke_width=thick)


def _player_rows(
    scale: Scale, run: TimeLine, players: Sequence[str], top: float
) -> Iterable[Element]:
    """When each is on: full; at work without a launcher: an outline."""
    for row, name in enumerate(players):
        yield group(
            [
                text(
                    (_LEFT - 8, top + _ROW * row + 14), _short(name), fill=INK, font_size=_PX,
                    text_anchor="end",
                ),
                title(name),
            ]
        )  # fmt: skip
    yield from (_stay(scale, stay, top) for stay in run.stays if players)


def _stay(scale: Scale, stay: Stay, top: float) -> Element:
    left, right = scale.at(stay.begin_s), scale.at(stay.end_s)
    fill = PAPER if stay.work else SOFT_INK
    return rectangle(
        (left, top + _ROW * stay.player + 4), max(right - left, 1.5), _ROW - 8, fill=fill,
        stroke=SOFT_INK if stay.work else None, stroke_dasharray="3 2" if stay.work else None,
    )  # fmt: skip


def _short(name: str) -> str:
    """As much of a name as there is room for."""
    most = int((_LEFT - 12) / width_of("m", _PX))
    return name if len(name) <= most else name[: most - 1] + "\u2026"


def _axis(scale: Scale) -> Iterable[Element]:
    step = next((step for step in _STEPS_S if scale.span_s / step <= 14), 14400)
    for seconds in range(0, int(scale.span_s) + 1, step):
        x = scale.at(seconds)
        yield line((x, scale.bottom + 5), (x, scale.bottom + 11), stroke=SOFT_INK, stroke_width=1)
        yield text(
            (x, scale.bottom + 25), _clock(seconds), fill=SOFT_INK, font_size=_PX,
            text_anchor="middle",
        )  # fmt: skip


def _clock(seconds: int) -> str:
    return f"{seconds // 60}:{seconds % 60:02d}"


def _notes(noted: Sequence[str], top: float) -> Iterable[Element]:
    """What had no room in the line, below it, line by line."""
    for number, words in enumerate(_lines(noted)):
        yield text((_LEFT, top + _ROW * number), words, fill=INK, font_size=_PX)


def _lines(noted: Sequence[str]) -> list[str]:
    """The notes in lines as long as the picture."""
    lines: list[str] = []
    for words in noted:
        longer = f"{lines[-1]}  \u00b7  {words}" if lines else words
        if lines and width_of(longer, _PX) <= WIDTH - _LEFT - MARGIN_RIGHT:
            lines[-1] = longer
        else:
            lines.append(words)
    return lines
