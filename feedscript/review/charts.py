"""Small charts of a report, as SVG that stands alone or inside a page.

Colours: Okabe & Ito, "Color universal design" (2008), told apart by colour-blind people; every
mark is named in words too, so that no colour carries meaning alone.
"""

from __future__ import annotations

from html import escape

from feedscript.plan.model import Result
from feedscript.review.figures import Figures

COLOUR: dict[Result, str] = {
    Result.IN: "#009E73",
    Result.NET: "#D55E00",
    Result.LONG: "#0072B2",
    Result.LEFT: "#E69F00",
    Result.RIGHT: "#CC79A7",
}
INK = "#222"
FAINT = "#d8d8d8"

_ARM = 62.0  # length of a bar that holds every error
_CORE = 26.0  # half the middle square, where the balls in the target are counted
#: Where each error lies as the player sees the court: the net near, the baseline far.
_DIRECTION = {
    Result.NET: (0, 1),
    Result.LONG: (0, -1),
    Result.LEFT: (-1, 0),
    Result.RIGHT: (1, 0),
}


def _svg(width: float, height: float, title: str, body: list[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
        f'width="{width:g}" height="{height:g}" role="img" font-family="sans-serif">'
        f"<title>{escape(title)}</title>{''.join(body)}</svg>"
    )


def _text(x: float, y: float, words: str, *, size: float = 12, weight: str = "normal") -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" font-weight="{weight}" '
        f'text-anchor="middle" fill="{INK}">{escape(words)}</text>'
    )


def _rect(x: float, y: float, width: float, height: float, fill: str) -> str:
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{fill}"/>'
    )


def error_rose(numbers: Figures) -> str:
    """Where the balls went as the player sees the court: in the middle those in the target.

    A bar's length is its share of the errors.
    """
    side = 250.0
    middle = side / 2
    body = [
        _rect(middle - _CORE, middle - _CORE, 2 * _CORE, 2 * _CORE, COLOUR[Result.IN]),
        f'<text x="{middle:g}" y="{middle + 1:g}" font-size="20" font-weight="bold" '
        f'text-anchor="middle" fill="#fff">{numbers.made}</text>',
        f'<text x="{middle:g}" y="{middle + 17:g}" font-size="12" text-anchor="middle" '
        'fill="#fff">in</text>',
    ]
    for error, (dx, dy) in _DIRECTION.items():
        body += _arm(middle, error, dx, dy, numbers)
    said = ", ".join(f"{count} {error.value}" for error, count in numbers.errors.items())
    return _svg(side, side, f"{numbers.made} in the target, {said}", body)


def _arm(middle: float, error: Result, dx: int, dy: int, numbers: Figures) -> list[str]:
    """One bar outwards from the middle, its full length drawn faintly behind it."""
    count = numbers.errors[error]
    all_errors = sum(numbers.errors.values())
    length = _ARM * count / all_errors if all_errors else 0.0
    label = middle + dx * (_CORE + _ARM + 18), middle + dy * (_CORE + _ARM + 14) + 4
    return [
        _bar(middle, dx, dy, _ARM, FAINT),
        _bar(middle, dx, dy, length, COLOUR[error]),
        _text(label[0], label[1] - (6 if dx else 0), error.value),
        _text(label[0] + (0 if dx else 34), label[1] + (9 if dx else 0), str(count), weight="bold"),
    ]


def _bar(middle: float, dx: int, dy: int, length: float, fill: str) -> str:
    half = 13.0
    if dx:
        x = middle + _CORE + 2 if dx > 0 else middle - _CORE - 2 - length
        return _rect(x, middle - half, length, 2 * half, fill)
    y = middle + _CORE + 2 if dy > 0 else middle - _CORE - 2 - length
    return _rect(middle - half, y, 2 * half, length, fill)


def trend_bars(numbers: Figures) -> str:
    """The share in the target for each quarter of the player's balls."""
    width, height, top, foot = 230.0, 150.0, 22.0, 30.0
    full = height - top - foot
    step = width / len(numbers.trend)
    body = []
    for index, share in enumerate(numbers.trend):
        x = index * step + 8
        bar = step - 16
        body.append(_rect(x, top, bar, full, FAINT))
        if share is not None:
            tall = full * share
            body.append(_rect(x, top + full - tall, bar, tall, COLOUR[Result.IN]))
        words = "none" if share is None else f"{share:.0%}"
        body.append(_text(x + bar / 2, top - 7, words, weight="bold"))
        body.append(_text(x + bar / 2, height - 10, _ordinal(index), size=12))
    said = ", ".join("none" if share is None else f"{share:.0%}" for share in numbers.trend)
    return _svg(width, height, f"Share in the target, by quarter of the balls: {said}", body)


def _ordinal(index: int) -> str:
    return ("1st", "2nd", "3rd", "4th")[index]
