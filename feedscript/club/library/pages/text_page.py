"""One text of the library: what it does, what was said of it, its words, and what may be done."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
from starlette.responses import Response

from feedscript.club.library.look import Look
from feedscript.club.library.pages.bounds import margins, picture, rows_of, table
from feedscript.club.library.pages.list_page import PLACE, place_of, short
from feedscript.club.people.pages.frame import alert, field, form, page, section, submit
from feedscript.club.people.pages.html import Child, Lines, Node, el
from feedscript.club.people.pages.visit import Visit
from feedscript.club.who import Person, Role
from feedscript.club_library import CLUB, Change, Kind, Version, is_profile
from feedscript.diagnostics import Diagnostic
from feedscript.review.report.words import day
from feedscript.tongues.text import Text, _, p_

#: The longest words of a review.
MOST_WORDS = 500


class Shown(msgspec.Struct, frozen=True, kw_only=True):
    """A text with all that is known of it. ``others`` are the versions of its name, the newest
    first, and ``used`` is the hash that its name means now, or empty."""

    version: Version
    content: bytes
    changes: Sequence[Change]
    others: Sequence[Version]
    used: str


def text_page(
    visit: Visit, shown: Shown, look: Look, wrong: str | None = None, status: int = 200
) -> Response:
    """``wrong`` is why what was asked for was not done."""
    version = shown.version
    return page(
        visit,
        _("{name}, version {short}", name=version.name, short=short(version.sha256)),
        alert(wrong),
        _state(shown),
        _about(shown, look),
        _proven(version, look),
        _said(shown),
        _judging(visit.by, shown),
        _versions(shown),
        _words(shown),
        status=status,
    )


def _state(shown: Shown) -> Node:
    version = shown.version
    if version.withdrawn:
        words = _("Withdrawn: {fault}", fault=version.withdrawn)
        return el("p", words, class_="wrong")
    if shown.used == version.sha256:
        return el("p", _("In use on the courts."), class_="done")
    if version.approved_by:
        return el("p", _("Approved, and replaced by a later one."), class_="hint")
    return el("p", _("It waits for somebody to look at it. No court uses it."), class_="waiting")


def _about(shown: Shown, look: Look) -> Node:
    version = shown.version
    said = el("p", version.words) if version.words else None
    by = _("Added by {author}, {day}.", author=version.author, day=day(version.added_utc_s))
    added = el("p", by, class_="hint")
    return section("about", look.title or version.name, said, added, _use(shown))


def _use(shown: Shown) -> Node:
    """What a coach writes to use it."""
    name = f"{CLUB}{shown.version.name}"
    profile = is_profile(shown.version.name)
    line = f'launcher {{ profile "{name}" … }}' if profile else f'use "{name}"'
    return el("p", _("In a program:"), " ", el("code", line))


def _proven(version: Version, look: Look) -> Node:
    drawn = picture(
        f"{place_of(version.sha256)}/picture.svg",
        _("The balls of {name} on the court", name=version.name)
        if look.bounds
        else _("What the launcher can reach"),
        exists=bool(look.picture),
    )
    if is_profile(version.name):
        return section("proven", _("What it can reach"), drawn)
    return section(
        "proven",
        _("What every run of it keeps to"),
        drawn,
        *findings(look.found),
        *(_bounds(look) if look.bounds else ()),
    )


def _bounds(look: Look) -> Sequence[Node]:
    every = margins([look.bounds], all_of_them=True)
    inside = table((), every, _("How far the worst case of each rule is inside its limit"))
    return (
        table((), rows_of([look.bounds]), _("Proven by the check, for every run")),
        el("details", el("summary", _("Every rule's margin")), inside),
    )


def findings(found: Sequence[Diagnostic]) -> Sequence[Child]:
    """What the check says of a text, with its lines."""
    if not found:
        return ()
    items = [
        el(
            "li",
            el("b", _line(one)) if one.span is not None else None,
            " ",
            one.message,
            el("span", one.help, class_="hint") if one.help else None,
            class_="mistake" if one.is_error else None,
        )
        for one in found
    ]
    return (el("ul", *items, class_="findings"),)


def _line(one: Diagnostic) -> Text:
    assert one.span is not None
    return _("Line {n}:", n=one.span.line)


def _said(shown: Shown) -> Node:
    """Everything that was done with this version, the newest first."""
    items = [
        el(
            "li",
            el("time", day(one.utc_s)),
            el(
                "span",
                el("b", _did(one)),
                el("span", one.words, class_="words") if one.words else None,
            ),
        )
        for one in reversed(shown.changes)
        if one.sha256 == shown.version.sha256
    ]
    return section("said", _("What was said of it"), el("ul", *items, class_="log"))


def _did(one: Change) -> Text:
    match one.kind:
        case Kind.ADDED:
            return _("{who} added it", who=one.by)
        case Kind.LOOKED_AT:
            return _("{who} looked at it", who=one.by)
        case Kind.APPROVED:
            return _("{who} approved it", who=one.by)
        case Kind.WITHDRAWN:
            return _("{who} withdrew it", who=one.by)


def _judging(person: Person, shown: Shown) -> Node:
    version, at = shown.version, place_of(shown.version.sha256)
    own = version.author_id == person.id and person.role is not Role.HEAD_COACH
    used = shown.used == version.sha256 and not version.withdrawn
    nobody = el("p", _("Somebody else approves what you have written."), class_="hint")
    approve = form(
        f"{at}/approve",
        _line_of("approve-words", _("Why it is good (may be left out)"), required=False),
        submit(_("Approve: courts use it from now on")),
    )
    look = form(
        f"{at}/look-at",
        _line_of("look-words", _("What you saw, for its author and everybody")),
        submit(_("Say it"), "plain"),
    )
    withdraw = form(
        f"{at}/withdraw",
        _line_of("withdraw-words", _("What its fault is: every court shows it")),
        submit(_("Withdraw: no court begins a lesson with it"), "care"),
    )
    return section(
        "judge",
        _("Your word on it"),
        None if used else nobody if own else approve,
        look,
        None if version.withdrawn else withdraw,
    )


def _line_of(name: str, words: str, *, required: bool = True) -> Node:
    if required:
        return field(name, words, most=MOST_WORDS)
    line = el("input", id=name, name=name, type="text", autocomplete="off", maxlength=MOST_WORDS)
    return el("div", el("label", words, for_=name), line, class_="field")


def _versions(shown: Shown) -> Child:
    """The others of its name, each to be set beside this one."""
    others = [one for one in shown.others if one.sha256 != shown.version.sha256]
    if not others:
        return None
    rows = [
        el(
            "li",
            el(
                "span",
                el("a", short(one.sha256), href=place_of(one.sha256), class_="name"),
                " ",
                _("by {author}, {day}", author=one.author, day=day(one.added_utc_s)),
                el("span", _how_it_stands(one, shown), class_="hint"),
            ),
            el("a", _("Set beside this one"), href=_compare(shown, one)),
        )
        for one in others
    ]
    return section("versions", _("Other versions"), el("ul", *rows, class_="rows"))


def _how_it_stands(version: Version, shown: Shown) -> Text:
    if version.withdrawn:
        return _("withdrawn: {fault}", fault=version.withdrawn)
    if version.sha256 == shown.used:
        return p_("of a text", "in use")
    return p_("of a text", "was in use") if version.approved_by else p_("of a text", "waits")


def _compare(shown: Shown, other: Version) -> str:
    """The older one first."""
    second, first = sorted((shown.version, other), key=shown.others.index)
    return f"{PLACE}/compare?one={first.sha256}&other={second.sha256}"


def _words(shown: Shown) -> Node:
    at = f"{place_of(shown.version.sha256)}/text"
    text = shown.content.decode("utf-8", "replace")
    return section(
        "words",
        _("Its words"),
        el("pre", el("code", Lines(text)), class_="text", tabindex=0, aria_labelledby="words"),
        el("p", el("a", _("Save it as a file"), href=at, download=True)),
    )
