"""A coach's programs as pages: what there is, and what may be done with one. The desk itself is one
tap away; nothing starts, arms or changes a lesson from here."""

from __future__ import annotations

import re
from collections.abc import Sequence
from urllib.parse import quote

import anyio.from_thread
from sqlalchemy import Connection
from starlette.responses import Response
from starlette.routing import BaseRoute

from feedscript.club.desks.asked import Checked
from feedscript.club.desks.gate import Gate
from feedscript.club.desks.reviews import rows_of
from feedscript.club.desks.to_courts import folders
from feedscript.club.library.shelf import NotDoneError, Shelf
from feedscript.club.people.pages.answers import Desk, Routes, coaches
from feedscript.club.people.pages.frame import alert, field, form, page, section, see_other, submit
from feedscript.club.people.pages.html import Child, Node, el
from feedscript.club.people.pages.visit import Visit, not_there
from feedscript.club.store import hosts, programs
from feedscript.club.store.people import audit
from feedscript.club.store.people.audit import Act
from feedscript.club.store.people.held import Held, lessons_held
from feedscript.club.store.programs import HandedOn, Program, TooMuchError
from feedscript.club_library import MOST_NAME
from feedscript.desk.files import title_in, version_of
from feedscript.desk.page import desk_page
from feedscript.own_library import OWN, SEASON_ENDING
from feedscript.review.report.words import iso
from feedscript.tongues.text import Text, _, p_


def at_desk(name: str) -> str:
    """Where a program is opened."""
    return f"/desk#{quote(name, safe='')}"


#: So many lessons of a program are listed. Design value: a season of a lesson a week.
MOST_LISTED = 40


def place_of(name: str) -> str:
    """Where a program's own page lies."""
    return f"/mine/{quote(name, safe='')}"


class Mine:
    """The handlers, around the gate to the desks and the library's shelf."""

    def __init__(self, gate: Gate, shelf: Shelf) -> None:
        self._gate = gate
        self._shelf = shelf

    def routes(self, desk: Desk) -> list[BaseRoute]:
        """What a server mounts: these pages, the desk's, and what is behind it."""
        make = Routes(desk)
        return [
            make.get("/desk", _desk, coaches),
            make.get("/mine", _all, coaches),
            make.get("/mine/{name}", self._one, coaches),
            make.post("/mine/{name}/court", self._hand_on, coaches),
            make.post("/handed/{handed}/take-back", _take_back, coaches),
            make.post("/mine/{name}/propose", self._propose, coaches),
            make.post("/mine/{name}/delete", self._delete, coaches),
        ]

    def _one(self, desk: Desk, visit: Visit) -> Response:
        return self._page(desk, visit)

    def _page(
        self,
        desk: Desk,
        visit: Visit,
        done: Text | None = None,
        wrong: Text | str | None = None,
        status: int = 200,
    ) -> Response:
        with desk.store.reading() as connection:
            program = _asked(connection, visit)
            handed = [
                (one, _folder(connection, one))
                for one in programs.handed_by(connection, visit.by.id)
                if one.name == program.name
            ]
            title = title_in(program.words)
            lessons = lessons_held(connection, visit.by, MOST_LISTED, title=title) if title else []
        courts = _courts(desk)
        said = el("p", done, role="status", class_="done") if done is not None else alert(wrong)
        opens = el("a", _("Open it at the desk"), href=at_desk(program.name), class_="button")
        return page(
            visit,
            program.name,
            said,
            el("p", opens),
            _to_court(program, courts, handed),
            _to_library(program),
            _lessons(lessons),
            _gone(program),
            status=status,
        )

    # --- to a court

    def _hand_on(self, desk: Desk, visit: Visit) -> Response:
        """This version, and those that it uses, to one court."""
        court = next(
            (one for one in hosts.courts(desk.store) if one.id == visit.told("court")), None
        )
        with desk.store.reading() as connection:
            program = _asked(connection, visit)
        if court is None:
            return self._page(desk, visit, wrong=_("Choose a court."), status=422)
        checked = self._checked(visit, program.name)
        if not checked.ok:
            return self._page(desk, visit, wrong=_not_passed(checked), status=409)
        try:
            with desk.store.writing() as connection:
                told = _as_checked(connection, visit, checked)
                if told is None:
                    wrong = _("It was changed meanwhile. Look at it, then hand it on.")
                    return self._page(desk, visit, wrong=wrong, status=409)
                programs.hand_on(connection, visit.by.id, court.id, told, visit.now_utc_s)
                about = f"{program.name}: {court.name}"
                audit.note(connection, visit.now_utc_s, visit.by, Act.HANDED_PROGRAM, about=about)
        except TooMuchError as much:
            return self._page(desk, visit, wrong=str(much), status=409)
        done = _(
            "Handed to {court}. Its computer fetches it before its next lesson.", court=court.name
        )
        return self._page(desk, visit, done)

    def _checked(self, visit: Visit, name: str) -> Checked:
        return anyio.from_thread.run(self._gate.checked, visit.by, name)

    # --- to the library

    def _propose(self, desk: Desk, visit: Visit) -> Response:
        with desk.store.reading() as connection:
            program = _asked(connection, visit)
        checked = self._checked(visit, program.name)
        if not checked.ok:
            return self._page(desk, visit, wrong=_not_passed(checked), status=409)
        called, words = visit.told("called"), visit.told("words", 500)
        try:
            self._shelf.add(called, program.words, words, visit.by)
        except NotDoneError as refused:
            first = next((f": {one.message}" for one in refused.found if one.is_error), "")
            said = refused.diagnostic
            wrong = f"{said.message}{first}. {said.help or ''}"
            return self._page(desk, visit, wrong=wrong, status=409)
        done = _(
            "Proposed as club/{name}. Courts use it once another coach has approved it.",
            name=called,
        )
        return self._page(desk, visit, done)

    # --- away

    def _delete(self, desk: Desk, visit: Visit) -> Response:
        with desk.store.writing() as connection:
            program = _asked(connection, visit)
            if visit.told("sure").casefold() == program.name.casefold():
                programs.delete_program(connection, visit.by.id, program)
                return see_other("/mine")
        wrong = _("The name that was written is another one. Nothing was deleted.")
        return self._page(desk, visit, wrong=wrong, status=422)


def _desk(_desk: Desk, visit: Visit) -> Response:
    return desk_page(visit.tongue, visit.tongues, "club")


def _asked(connection: Connection, visit: Visit) -> Program:
    """The own program whose page this is. Raises RefusalError."""
    found = programs.program_of(connection, visit.by.id, visit.path["name"])
    if found is None:
        raise not_there()
    return found


def _all(desk: Desk, visit: Visit) -> Response:
    """Every program of the coach's, and what courts have of them."""
    with desk.store.reading() as connection:
        own = programs.programs_of(connection, visit.by.id)
        handed = [
            (one, _folder(connection, one)) for one in programs.handed_by(connection, visit.by.id)
        ]
    rows = [
        el(
            "li",
            el("span", el("a", one.name, href=place_of(one.name))),
            el("a", _("Open"), href=at_desk(one.name), aria_label=_("Open {name}", name=one.name)),
        )
        for one in own
    ]
    opens = el("p", el("a", _("To the desk"), href="/desk", class_="button"))
    nothing = el("p", _("You have none yet. At the desk one is begun, or copied from the library."))
    about = _(
        "Only you open these. Others have of them what you hand to a court or put into the club's "
        "library; the head coach can have a copy of all that is kept of an account."
    )
    listed = el("ul", *rows, class_="rows") if rows else nothing
    at_courts = _at_courts(handed, {one.name: one.words for one in own}, _courts(desk))
    there = section("at-courts", _("At courts"), at_courts) if at_courts is not None else None
    title = p_("club", "My programs")
    return page(visit, title, opens, listed, el("p", about, class_="hint"), there)


def _courts(desk: Desk) -> dict[str, str]:
    """Those that belong to the club, by name."""
    return {one.id: one.name for one in hosts.courts(desk.store)}


def _take_back(desk: Desk, visit: Visit) -> Response:
    """A court is to have it no more."""
    with desk.store.writing() as connection:
        if not programs.take_back(connection, visit.by.id, visit.path["handed"]):
            raise not_there()
    return see_other("/mine")


def _to_court(
    program: Program, courts: dict[str, str], handed: Sequence[tuple[HandedOn, str]]
) -> Node:
    about = _(
        "The court's computer fetches it before its next lesson, word for word as it is now, with "
        "the programs of yours that it uses. Later changes come there when it is handed on again. "
        "Nothing starts from here."
    )
    options = [el("option", name, value=host) for host, name in courts.items()]
    asks: Child = el("p", _("No court has joined yet."))
    if options and not program.name.endswith(SEASON_ENDING):
        asks = form(
            f"{place_of(program.name)}/court",
            el("label", _("Court"), for_="court"),
            el("select", *options, id="court", name="court"),
            submit(_("Hand it on")),
            class_="line",
        )
    there = _at_courts(handed, {program.name: program.words}, courts)
    return section("to-court", _("To a court"), el("p", about, class_="hint"), there, asks)


def _at_courts(
    handed: Sequence[tuple[HandedOn, str]], now: dict[str, str], courts: dict[str, str]
) -> Child:
    """What courts have, beside the words that each program has ``now``."""
    rows = [
        _handed(one, now.get(one.name), folder, courts[one.host])
        for one, folder in handed
        if one.host in courts
    ]
    return el("ul", *rows, class_="rows") if rows else None


def _handed(one: HandedOn, now: str | None, folder: str, court: str) -> Node:
    when = iso(one.handed_utc_s)[:16].replace("T", " ")
    told = (
        _("{court}, since {when}: as it is now", court=court, when=when)
        if one.words == now
        else _("{court}, since {when}: an older version", court=court, when=when)
    )
    there = el("code", f"{OWN}from-club/{folder}/{one.name}")
    back = form(f"/handed/{one.id}/take-back", submit(_("Take back"), "care"))
    return el("li", el("span", told, el("br"), there), back)


def _folder(connection: Connection, one: HandedOn) -> str:
    return folders(programs.handed_to(connection, one.host))[one.person]


def _to_library(program: Program) -> Node:
    about = _(
        "Every coach of the club sees it there, and courts use it once somebody else has approved "
        "it. Its words and your name stay in the library's record: write no player's name in it."
    )
    asks = form(
        f"{place_of(program.name)}/propose",
        field(
            "called",
            _("Name in the library"),
            value=_library_name(program.name),
            hint=_("Small letters, digits and _, as the pattern in it is called."),
            most=MOST_NAME,
        ),
        field("words", _("What it is for, or what is new in it"), most=500),
        submit(_("Propose it")),
    )
    return section("to-library", _("To the club's library"), el("p", about, class_="hint"), asks)


def _library_name(name: str) -> str:
    plain = re.sub(r"[^a-z0-9]+", "_", name.removesuffix(SEASON_ENDING).casefold())
    return plain.strip("_").lstrip("0123456789_")[:MOST_NAME]


def _lessons(held: list[Held]) -> Child:
    """Those that had its title, each with the way to its review."""
    if not held:
        return None
    return section("held", _("Lessons held of it"), rows_of(held))


def _gone(program: Program) -> Node:
    asks = form(
        f"{place_of(program.name)}/delete",
        el(
            "p",
            _(
                "Every earlier version goes too, and courts that have it lose it when they fetch "
                "next."
            ),
        ),
        el("label", _("To delete it, write its name here"), for_="sure"),
        el(
            "input",
            id="sure",
            name="sure",
            type="text",
            required=True,
            autocomplete="off",
            maxlength=80,
        ),
        submit(_("Delete this program"), "care"),
    )
    return section("gone", p_("program", "Delete"), asks)


def _not_passed(checked: Checked) -> Text:
    return _("It does not pass the check: {why}. Mend it at the desk first.", why=checked.wrong)


def _as_checked(connection: Connection, visit: Visit, checked: Checked) -> list[Program] | None:
    """The program and what it uses, in the words that were checked; None where they are others."""
    own = {one.name: one for one in programs.programs_of(connection, visit.by.id)}
    program = own.get(visit.path["name"])
    if program is None or version_of(program.words) != checked.version:
        return None
    if any(
        version_of(own[one].words) != version if one in own else True
        for one, version in checked.uses.items()
    ):
        return None
    return [program, *(own[one] for one in checked.uses)]
