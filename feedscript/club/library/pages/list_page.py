"""What the library holds: what waits to be looked at, what courts use, and what was withdrawn."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
from starlette.responses import Response

from feedscript.club.library.shelf import Shelf
from feedscript.club.people.pages.frame import page, section
from feedscript.club.people.pages.html import Child, Node, el
from feedscript.club.people.pages.visit import Visit
from feedscript.club_library import Change, Kind, Version, current, is_profile, versions
from feedscript.review.report.words import day
from feedscript.tongues.text import Text, _, n_, p_

PLACE = "/library"


def place_of(sha256: str) -> str:
    """A text's own page."""
    return f"{PLACE}/texts/{sha256}"


def short(sha256: str) -> str:
    """A version as people say it: the beginning of its hash."""
    return sha256[:8]


class Standing(msgspec.Struct, frozen=True, kw_only=True):
    """The library sorted by what is to be done: ``used`` by name, and ``waiting`` those added and
    neither approved nor withdrawn since, the newest first."""

    waiting: tuple[Version, ...]
    used: tuple[Version, ...]
    withdrawn: tuple[Version, ...]


def standing(changes: Sequence[Change]) -> Standing:
    """Of the whole record."""
    every, means = versions(changes).values(), current(changes)
    last = {one.sha256: one.kind for one in changes if one.kind is not Kind.LOOKED_AT}
    return Standing(
        waiting=tuple(one for one in reversed([*every]) if last[one.sha256] is Kind.ADDED),
        used=tuple(one for _name, one in sorted(means.items()) if not one.withdrawn),
        withdrawn=tuple(one for _name, one in sorted(means.items()) if one.withdrawn),
    )


def list_page(shelf: Shelf, visit: Visit) -> Response:
    """For coaches."""
    changes = shelf.changes()
    found, many = standing(changes), _how_many(changes)
    programs = [one for one in found.used if not is_profile(one.name)]
    profiles = [one for one in found.used if is_profile(one.name)]
    add = el("p", el("a", _("Add a text"), href=f"{PLACE}/new", class_="button"))
    about = _(
        "What is approved here is what club/NAME means on every court, as soon as the court hears "
        "of it."
    )
    return page(
        visit,
        p_("club", "Library"),
        el("p", about, class_="hint"),
        add,
        _part("withdrawn", _("Withdrawn: no court begins a lesson with it"), found.withdrawn, many),
        _part("waiting", _("To be looked at"), found.waiting, many),
        _part("programs", _("Programs and patterns in use"), programs, many),
        _part("profiles", _("Launchers' profiles in use"), profiles, many),
        None if changes else el("p", _("Nothing is in it yet.")),
    )


def _how_many(changes: Sequence[Change]) -> dict[str, int]:
    """Versions by name."""
    many: dict[str, int] = {}
    for one in versions(changes).values():
        many[one.name] = many.get(one.name, 0) + 1
    return many


def _part(id_: str, title: str, found: Sequence[Version], many: dict[str, int]) -> Child:
    if not found:
        return None
    rows = [_row(one, many[one.name]) for one in found]
    return section(id_, title, el("ul", *rows, class_="rows"))


def _row(version: Version, many: int) -> Node:
    said = _fault(version) if version.withdrawn else el("span", version.words, class_="words")
    return el(
        "li",
        el(
            "span",
            el("a", version.name, href=place_of(version.sha256), class_="name"),
            said if version.words or version.withdrawn else None,
            el("span", _who(version, many), class_="hint"),
        ),
    )


def _fault(version: Version) -> Node:
    return el("span", version.withdrawn, class_="fault")


def _who(version: Version, many: int) -> Text:
    count = n_("{n} version", "{n} versions", many)
    if version.approved_by:
        return _(
            "by {author}, {day}; approved by {names}; {count}",
            author=version.author,
            day=day(version.added_utc_s),
            names=", ".join(dict.fromkeys(version.approved_by)),
            count=count,
        )
    return _(
        "by {author}, {day}; {count}",
        author=version.author,
        day=day(version.added_utc_s),
        count=count,
    )
