"""What stands around every page: its head, the way to the other pages, and the languages."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from starlette.responses import HTMLResponse, RedirectResponse, Response

from feedscript.club.people.pages.html import Child, Node, el, written
from feedscript.club.people.pages.visit import RefusalError, Visit
from feedscript.club.who import Person, Role
from feedscript.tongues.text import Text, _, p_

FILES = "/people-files"
#: As the court-side page has it, and forms go to this server. The origin of a form is told to it
#: alone: by that a form of another page is known.
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; img-src 'self' data:; base-uri 'none'; "
        "form-action 'self'; frame-ancestors 'none'"
    ),
    "Referrer-Policy": "same-origin",
}


def ways(person: Person | None) -> Iterator[tuple[str, Text]]:
    """Where this person may go."""
    if person is None:
        return
    yield "/courts", p_("club", "Courts")
    if person.role is not Role.VIEWER:
        yield "/groups", _("Groups")
        yield "/mine", p_("club", "My programs")
        yield "/lessons", p_("club", "Lessons")
        yield "/library", p_("club", "Library")
        yield "/launchers", p_("club", "Launchers")
    if person.role is Role.HEAD_COACH:
        yield "/people", p_("club", "People")
        yield "/keeping", p_("club", "What is kept")
        yield "/audit", _("Who read what")
    yield "/me", p_("club", "My account")


def page(
    visit: Visit,
    title: str,
    *body: Child,
    status: int = 200,
    headers: Mapping[str, str] = HEADERS,
) -> Response:
    """A whole page."""
    tongue = visit.tongue
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("meta", name="color-scheme", content="light dark"),
        el("title", title),
        el("link", rel="stylesheet", href=f"{FILES}/people.css"),
    )
    main = el("main", el("h1", title), *body, id="main")
    whole = el(
        "html",
        head,
        el("body", _top(visit), main, _languages(visit)),
        lang=tongue.language,
    )
    return HTMLResponse("<!doctype html>\n" + written(whole, tongue), status, headers=dict(headers))


def _top(visit: Visit) -> Child:
    person = visit.person
    if person is None:
        return None
    here = visit.path.get("here", "")
    links = [
        el("a", words, href=to, aria_current="page" if to == here else None)
        for to, words in ways(person)
    ]
    out = form("/sign-out", el("button", _("Sign out"), type="submit"))
    return el(
        "header",
        el("a", _("To the page"), href="#main", class_="skip"),
        el("nav", *links, aria_label=p_("club", "Pages")),
        el("div", el("span", person.name, class_="who"), out, class_="signed-in"),
    )


def _languages(visit: Visit) -> Node:
    options = []
    for language in visit.tongues.languages:
        named = visit.tongues.named(language)
        name = language if named is None else named.catalogue.name
        chosen = language == visit.tongue.language
        options.append(el("option", name, value=language, selected=chosen, lang=language))
    choose = form(
        "/language",
        el("label", _("Language"), for_="language"),
        el("select", *options, id="language", name="language"),
        el("button", p_("club", "Show"), type="submit"),
        class_="line",
    )
    return el("footer", choose)


def form(action: str, *children: Child, class_: str | None = None) -> Node:
    """A form that is posted."""
    return el("form", *children, method="post", action=action, class_=class_)


def field(
    name: str,
    words: str,
    *,
    value: str = "",
    kind: str = "text",
    hint: str | None = None,
    auto: str = "off",
    most: int | None = 80,
) -> Node:
    """A line to be filled in, with its label."""
    note = None if hint is None else f"{name}-hint"
    line = el(
        "input",
        id=name,
        name=name,
        type=kind,
        value=value or None,
        required=True,
        autocomplete=auto,
        maxlength=most,
        aria_describedby=note,
    )
    said = None if hint is None else el("p", hint, id=note, class_="hint")
    return el("div", el("label", words, for_=name), line, said, class_="field")


def submit(words: str, kind: str = "go") -> Node:
    return el("button", words, type="submit", class_=kind)


def section(id_: str, title: str, *body: Child, beside: Child = None) -> Node:
    """A part of a page, by which it can be found; ``beside`` stands next to its heading."""
    heading: Node = el("h2", title, id=id_)
    if beside is not None:
        heading = el("div", heading, beside, class_="head")
    return el("section", heading, *body, class_="card", aria_labelledby=id_)


def alert(words: str | None) -> Child:
    """What went wrong, told to a screen reader at once."""
    return None if words is None else el("p", words, class_="wrong", role="alert")


def secret_link(words: str, address: str) -> Node:
    """What is shown this once, to be copied."""
    line = el("input", type="text", value=address, readonly=True, id="link", class_="secret")
    return el("div", el("label", words, for_="link"), line, class_="given")


def refused(visit: Visit, refusal: RefusalError) -> Response:
    """The page that refuses."""
    back = el("p", el("a", _("Back to the beginning"), href="/"))
    return page(visit, refusal.title, el("p", refusal.words), back, status=refusal.status)


def see_other(to: str) -> Response:
    """Where to look after a form was taken."""
    return RedirectResponse(to, 303)
