"""A text is put on the shelf, for others to look at."""

from __future__ import annotations

from starlette.responses import Response

from feedscript.club.library.pages.list_page import PLACE
from feedscript.club.library.pages.text_page import MOST_WORDS, findings
from feedscript.club.library.shelf import NotDoneError
from feedscript.club.people.pages.frame import alert, field, form, page, submit
from feedscript.club.people.pages.html import Child, Lines, Node, el
from feedscript.club.people.pages.visit import Visit
from feedscript.club_library import MOST_NAME
from feedscript.tongues.text import _

#: What the form holds: the name, what it is for, and the text.
NAME, WORDS, TEXT = "name", "words", "text"


def add_page(visit: Visit, refused: NotDoneError | None = None) -> Response:
    """The form, with what was written in it where it was not taken."""
    name = _(
        "Small letters, as the pattern in it. A later text of the same name is another version of "
        "it. The name of a launcher's profile ends in .toml."
    )
    about = _(
        "A program that passes the check alone: most often a pattern, with a small lesson that "
        "shows it. Or a launcher's profile, such as a tuned one. Others look at it before a court "
        "uses it."
    )
    why = None if refused is None else refused.diagnostic
    asks = form(
        PLACE,
        alert(None if why is None else f"{why.message}"),
        el("p", why.help, class_="hint") if why is not None and why.help else None,
        *(findings(refused.found) if refused is not None else ()),
        field(NAME, _("Name"), value=_written(visit, NAME), hint=name, most=MOST_NAME),
        field(
            WORDS,
            _("What it is for, or what is new in it"),
            value=_written(visit, WORDS),
            most=MOST_WORDS,
        ),
        el("label", _("The text"), for_=TEXT),
        _text(visit),
        submit(_("Add it, for others to look at")),
        class_="card",
    )
    status = 200 if refused is None else 422
    return page(visit, _("Add a text"), el("p", about, class_="hint"), asks, status=status)


def _written(visit: Visit, name: str) -> str:
    return (visit.form.get(name) or [""])[-1]


def _text(visit: Visit) -> Node:
    words = _written(visit, TEXT)
    inside: list[Child] = [Lines(words)] if words else []
    return el(
        "textarea",
        *inside,
        id=TEXT,
        name=TEXT,
        rows=16,
        spellcheck="false",
        class_="code",
        required=True,
    )
