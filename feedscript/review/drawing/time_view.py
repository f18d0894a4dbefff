"""The line of time: a row for each feed, a stroke for each ball, rests and collecting."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from feedscript.review.drawing.drawn_flights import DrawnFlight
from feedscript.review.drawing.frame import MARGIN_LEFT, MARGIN_RIGHT, WIDTH
from feedscript.review.drawing.palette import INK, RULE, SOFT_INK
from feedscript.review.drawing.svg import Element, circle, group, line, rectangle, text, width_of
from feedscript.review.drawing.timeline import TimeLine

_ROW = 18.0
_HEAD = 34.0
_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200)


def time_view(run: TimeLine, flights: Sequence[DrawnFlight], top: float) -> tuple[Element, float]:
    """The view below ``top``, and its height."""
    rows = [one for one in flights if one.leads]
    row_of = {one.wish: row for row, one in enumerate(rows)}
    span = max(run.end_s, 1.0)
    scale = (WIDTH - MARGIN_LEFT - MARGIN_RIGHT - 10) / span

    def at(seconds: float) -> float:
        return MARGIN_LEFT + 4 + seconds * scale

    bottom = top + _HEAD + _ROW * len(rows)
    parts = [
        rectangle(
            (MARGIN_LEFT, top + _HEAD - 6), WIDTH - MARGIN_LEFT - MARGIN_RIGHT,
            bottom - top - _HEAD + 10, fill="#f7f9fa",
        ),
        *(_rest(at(begin), at(end), top, bottom) for begin, end in run.rests),
        *_scale(span, at, bottom),
        *_calls(run, at, top, bottom),
    ]  # fmt: skip
    for row, one in enumerate(rows):
        y = top + _HEAD + _ROW * row + _ROW / 2
        parts.append(
            text(
                (MARGIN_LEFT - 8, y + 4.5), one.style.letter, fill=INK, font_size=12.5,
                font_weight="bold", text_anchor="end",
            )
        )  # fmt: skip
    for ball in run.balls:
        one = flights[ball.feed]
        x, y = at(ball.at_s), top + _HEAD + _ROW * row_of[one.wish] + _ROW / 2
        if ball.watched:
            parts.append(circle((x, y), 4.5, fill="none", stroke=one.style.colour, stroke_width=2))
        else:
            parts.append(
                line((x, y - 6), (x, y + 6), stroke=one.style.colour, stroke_width=_stroke(scale))
            )
    return group(parts), bottom - top + 40


def _stroke(scale: float) -> float:
    """Thin enough that balls two seconds apart stay apart."""
    return min(3.0, max(0.8, scale * 0.9))


def _rest(left: float, right: float, top: float, bottom: float) -> Element:
    return rectangle(
        (left, top + _HEAD - 6), max(right - left, 0.5), bottom - top - _HEAD + 10,
        fill="#c7d0d8", fill_opacity=0.6,
    )  # fmt: skip


def _scale(span: float, at: Callable[[float], float], bottom: float) -> Iterable[Element]:
    step = next((step for step in _STEPS_S if span / step <= 14), 14400)
    for seconds in range(0, int(span) + 1, step):
        x = at(seconds)
        yield line((x, bottom + 4), (x, bottom + 10), stroke=SOFT_INK, stroke_width=1)
        yield text(
            (x, bottom + 23), _clock(seconds), fill=SOFT_INK, font_size=11, text_anchor="middle"
        )


def _clock(seconds: int) -> str:
    return f"{seconds // 60}:{seconds % 60:02d}"


def _calls(
    run: TimeLine, at: Callable[[float], float], top: float, bottom: float
) -> Iterable[Element]:
    """A line for each call; its word where there is room, exercises first."""
    for call in run.calls:
        x = at(call.at_s)
        yield line(
            (x, top + _HEAD - 10), (x, bottom + 4), stroke=INK if call.off else RULE,
            stroke_width=1.4 if call.off else 1, stroke_dasharray="4 3",
        )  # fmt: skip
    taken: list[tuple[float, float]] = []
    for call in sorted(run.calls, key=lambda call: call.rank):
        half = width_of(call.word, 11) / 2
        begins = at(call.at_s) + (0 if call.rank else half)  # an exercise lasts from there on
        x = min(max(begins, MARGIN_LEFT + half), WIDTH - MARGIN_RIGHT - half)
        left, right = x - half, x + half
        moved = abs(x - begins) > 0.1 and call.rank > 0
        if moved or any(left < other[1] + 6 and right > other[0] - 6 for other in taken):
            continue
        taken.append((left, right))
        yield text(
            (x, top + _HEAD - 14), call.word, fill=SOFT_INK if call.rank else INK, font_size=11,
            text_anchor="middle",
        )  # fmt: skip
