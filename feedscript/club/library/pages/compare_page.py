"""Two texts beside each other: pictures, what is proven of each, and the lines that differ."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from starlette.responses import Response

from feedscript.club.library.compare import Compared, Line
from feedscript.club.library.pages.bounds import Row, margins, numbers, picture, rows_of, table
from feedscript.club.library.pages.list_page import place_of, short
from feedscript.club.people.pages.frame import page, section
from feedscript.club.people.pages.html import Child, Lines, Node, el
from feedscript.club.people.pages.visit import Visit
from feedscript.club_library import Version
from feedscript.review.report.words import day
from feedscript.tongues.text import Text, _, n_

#: So many lines that both have are shown around those that differ.
AROUND = 2


def compare_page(visit: Visit, one: Version, other: Version, found: Compared) -> Response:
    title = _("{one} beside {other}", one=_called(one), other=_called(other))
    return page(
        visit,
        title,
        _pictures((one, other), found),
        _proven((one, other), found),
        section("lines", _("Words"), *_lines(found.words)),
    )


def _called(version: Version) -> str:
    return f"{version.name} {short(version.sha256)}"


def _pictures(texts: Sequence[Version], found: Compared) -> Node:
    shown = [
        el(
            "figure",
            picture(
                f"{place_of(one.sha256)}/picture.svg",
                _("Picture of {name}", name=_called(one)),
                exists=bool(drawn),
            ),
            el("figcaption", _caption(one)),
        )
        for one, drawn in zip(texts, found.pictures, strict=True)
    ]
    return section("pictures", _("Pictures"), el("div", *shown, class_="two"))


def _caption(version: Version) -> Node:
    link = el("a", _called(version), href=place_of(version.sha256))
    return el(
        "span",
        link,
        " ",
        _("by {author}, {day}", author=version.author, day=day(version.added_utc_s)),
    )


def _proven(texts: Sequence[Version], found: Compared) -> Node:
    heads = [short(one.sha256) for one in texts]
    if found.numbers:
        rows, words = [*numbers(found.numbers)], _("By their keys in the profile")
        return section("proven", _("Numbers that differ"), table(heads, rows, words))
    if found.bounds == (None, None):
        return section("proven", _("Numbers"), el("p", _("No number differs.")))
    differ = margins(found.bounds, all_of_them=False)
    return section(
        "proven",
        _("What every run keeps to"),
        table(heads, rows_of(found.bounds), _("Proven by the check, for every run")),
        _margins(heads, differ),
    )


def _margins(heads: Sequence[str], differ: Sequence[Row]) -> Node:
    if not differ:
        return el("p", _("Every rule has the same margin in both."), class_="hint")
    words = _("How far the worst case of a rule is inside its limit, where the two differ")
    return table(heads, differ, words)


def _lines(lines: Sequence[Line]) -> Iterator[Child]:
    if all(one.mark == " " for one in lines):
        yield el("p", _("The words are the same."), class_="hint")
        return
    key = _("A line with − stands only in the first, one with + only in the second.")
    yield el("p", key, class_="hint")
    yield el("pre", *_near(lines), class_="text diff", tabindex=0, aria_labelledby="lines")


_LOOKS = {"-": ("del", "− "), "+": ("ins", "+ "), " ": ("span", "  ")}


def _near(lines: Sequence[Line]) -> Iterator[Child]:
    """What differs, with a few lines around it."""
    near = {
        at
        for middle, one in enumerate(lines)
        if one.mark != " "
        for at in range(middle - AROUND, middle + AROUND + 1)
    }
    passed = 0
    for at, one in enumerate(lines):
        if at not in near:
            passed += 1
            continue
        if passed:
            yield _passed(passed)
            passed = 0
        name, mark = _LOOKS[one.mark]
        yield el(name, Lines(f"{mark}{one.text}\n"))
    if passed:
        yield _passed(passed)


def _passed(lines: int) -> Node:
    words: Text = n_("{n} line that both have", "{n} lines that both have", lines)
    return el("span", "⋯ ", words, Lines("\n"), class_="passed")
