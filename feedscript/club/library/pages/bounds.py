"""What is proven of a text, as rows of a table with one column a text."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from feedscript.club.library.compare import Differs
from feedscript.club.library.look import Bounds, Margin
from feedscript.club.people.pages.html import Child, Node, el
from feedscript.tongues.text import _, figure, p_

Row = tuple[str, Sequence[str]]


def table(heads: Sequence[str], rows: Sequence[Row], caption: str) -> Node:
    """A table; its first column says what each row is."""
    head = el("tr", el("td"), *[el("th", one, scope="col") for one in heads])
    body = [
        el("tr", el("th", name, scope="row"), *[el("td", value) for value in values])
        for name, values in rows
    ]
    inside = el("table", el("caption", caption), *([head] if heads else []), *body)
    return scrolling(inside, caption)


def scrolling(inside: Node, words: str) -> Node:
    """A table that may be wider than a phone: it scrolls, by the keyboard too."""
    return el("div", inside, class_="wide", tabindex=0, role="region", aria_label=words)


def rows_of(texts: Sequence[Bounds | None]) -> list[Row]:
    """Balls, time and speed of each."""
    return [
        (_("Balls"), [_told(one, _balls) for one in texts]),
        (p_("of a program", "Time"), [_told(one, _time) for one in texts]),
        (_("Fastest ball"), [_told(one, _fastest) for one in texts]),
    ]


def _told(one: Bounds | None, words: Callable[[Bounds], str]) -> str:
    return _("does not pass") if one is None else words(one)


def _balls(one: Bounds) -> str:
    return _span(*map(str, one.balls))


def _time(one: Bounds) -> str:
    return _span(*map(_minutes, one.time_s))


def _fastest(one: Bounds) -> str:
    return figure(one.fastest_mps * 3.6, 0, " km/h")


def _span(least: str, most: str) -> str:
    return least if least == most else _("{least} to {most}", least=least, most=most)


def _minutes(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest:02d} s" if minutes else f"{rest} s"


def margins(texts: Sequence[Bounds | None], *, all_of_them: bool) -> list[Row]:
    """How far each rule is from its limit, in each; of two only what differs, unless all are
    asked for."""
    rules = dict.fromkeys(rule for one in texts if one is not None for rule in one.margins)
    rows: list[Row] = []
    for rule in rules:
        values = [None if one is None else one.margins.get(rule) for one in texts]
        if all_of_them or any(value != values[0] for value in values):
            rows.append((rule, [_margin(value) for value in values]))
    return rows


def _margin(margin: Margin | None) -> str:
    return "–" if margin is None else figure(margin.value, 2, f" {margin.unit}")


def numbers(differs: Sequence[Differs]) -> Iterator[Row]:
    """Those of a launcher's profile."""
    for one in differs:
        yield one.key, [_number(one.one), _number(one.other)]


def _number(value: Any) -> str:
    if isinstance(value, list):
        return " … ".join(_number(one) for one in value)
    if isinstance(value, float):
        return f"{value:.5g}"
    return "–" if value is None else str(value)


def picture(svg_at: str, words: str, *, exists: bool) -> Child:
    """The picture of a text, and larger on its own when it is tapped."""
    if not exists:
        return el("p", _("There is no picture of it: it does not pass the check."), class_="hint")
    shown = el("img", src=svg_at, alt=words, class_="drawn")
    return el("a", shown, href=svg_at, class_="drawing")
