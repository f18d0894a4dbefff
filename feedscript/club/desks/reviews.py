"""The lessons that somebody may review, and the review of each: the report that a court's own
computer would show, without the names of other coaches' players. Each reading is noted first."""

from __future__ import annotations

from urllib.parse import quote

import anyio.from_thread
import anyio.to_thread
import httpx
import msgspec
from sqlalchemy import Connection
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import BaseRoute, Route

from feedscript.club.desks.asked import REVIEWED, SUGGESTED, AskReview, AskSuggested
from feedscript.club.desks.gate import Gate, same
from feedscript.club.people.bare import without_others
from feedscript.club.people.pages.answers import Desk, Routes, coaches
from feedscript.club.people.pages.frame import page
from feedscript.club.people.pages.html import Child, Node, el
from feedscript.club.people.pages.visit import RefusalError, Visit, bad_form, not_there
from feedscript.club.store import programs
from feedscript.club.store.people import audit
from feedscript.club.store.people.audit import Act, player_key
from feedscript.club.store.people.held import Held, lesson_held, lessons_held
from feedscript.club.store.people.players import Whole, whole
from feedscript.club.who import Person, Role
from feedscript.console.page_in import tongue_of
from feedscript.console.review_page import REVIEW_POLICY
from feedscript.console.walls import refused_with
from feedscript.desk.files import title_in
from feedscript.diagnostics import FeedscriptError
from feedscript.review.report.lesson import NO_SUCH_LESSON
from feedscript.review.report.words import iso
from feedscript.tongues.text import Text, _, joined, listed, p_

#: So many are on a page; so many before a lesson may stand beside it in its review. Design values.
LISTED, EARLIER = 50, 16


def place_of(one: Held) -> str:
    """Where its review lies."""
    return f"/lessons/{one.host}/{one.lesson}"


class Reviews:
    """The handlers, around the gate to the desks, which work the reports out."""

    def __init__(self, gate: Gate, desk: Desk) -> None:
        self._gate = gate
        self._desk = desk

    def routes(self) -> list[BaseRoute]:
        """What a server mounts."""
        make = Routes(self._desk)
        return [
            make.get("/lessons", _all, coaches),
            make.get("/lessons/{host}/{lesson}", self._review, coaches),
            Route("/suggestions/{host}/{lesson}/{name}", self._suggested),
        ]

    def _review(self, _desk: Desk, visit: Visit) -> Response:
        place = (visit.path["host"], visit.path["lesson"])
        asked = self._noted(visit.by, *place, visit.now_utc_s)
        if asked is None:
            raise not_there()
        answer = anyio.from_thread.run(self._ask, visit.by, REVIEWED, asked, visit)
        if answer.status_code != 200:
            raise RefusalError(
                409,
                _("There is no review of this lesson"),
                _("What the club has of it cannot be read: it may have begun just now."),
            )
        return HTMLResponse(answer.content, headers={"Content-Security-Policy": REVIEW_POLICY})

    async def _ask(
        self, person: Person, place: str, asked: msgspec.Struct, visit: Visit
    ) -> httpx.Response:
        desk = await self._gate.brought(person)
        return await desk.ask("POST", place, msgspec.json.encode(asked), visit.tongue.language)

    def _noted(self, person: Person, host: str, lesson: str, now_utc_s: float) -> AskReview | None:
        """The lesson as this person may read it, with those before it, once that is written down;
        None for one that is not there, or not this person's."""
        with self._desk.store.writing() as connection:
            held = lesson_held(connection, person, host, lesson)
            told = None if held is None else _bare(connection, held)
            if held is None or told is None:
                return None
            for name in held.own or (None,):
                about = f"{held.title}, {held.court}"
                audit.note(connection, now_utc_s, person, Act.READ_REVIEW, name, about)
            before = lessons_held(
                connection,
                person,
                EARLIER,
                title=held.title,
                before_utc_s=held.begun_utc_s,
            )
            earlier = [_bare(connection, one) for one in reversed(before)]
            opens = _opens(connection, person, held)
        return AskReview(
            lesson=told, earlier=tuple(one for one in earlier if one is not None), opens=opens
        )

    async def _suggested(self, request: Request) -> Response:
        """What a lesson's records suggest for one of the person's programs."""
        person = await self._gate.person(request)
        if isinstance(person, Response):
            return person
        tongue = tongue_of(request, self._gate.tongues)
        host, lesson, name = (str(request.path_params[part]) for part in ("host", "lesson", "name"))
        try:
            noted = await anyio.to_thread.run_sync(
                self._noted, person, host, lesson, self._desk.utc_s()
            )
            if noted is None:
                said = NO_SUCH_LESSON.report("there is no such lesson", help="choose another")
                return refused_with(said, 404, tongue)
            asked = AskSuggested(lesson=noted.lesson, program=name)
            desk = await self._gate.brought(person)
            return same(
                await desk.ask("POST", SUGGESTED, msgspec.json.encode(asked), tongue.language)
            )
        except FeedscriptError as failed:
            return refused_with(failed.diagnostic, 503, tongue)


def _bare(connection: Connection, held: Held) -> Whole | None:
    found = whole(connection, held.host, held.lesson)
    own = frozenset(map(player_key, held.own))
    return None if found is None else without_others(found, held.players, own)


def _opens(connection: Connection, person: Person, held: Held) -> str:
    """Where the person's own program of this lesson is opened, if there is one."""
    own = (
        one.name
        for one in programs.programs_of(connection, person.id)
        if held.title and title_in(one.words) == held.title
    )
    name = next(own, None)
    if name is None:
        return ""
    return f"/desk?next={held.host}/{held.lesson}&program={quote(name, safe='')}"


def _all(desk: Desk, visit: Visit) -> Response:
    after = visit.query.get("after", "0")
    if not (after.isascii() and after.isdecimal() and len(after) < 7):
        raise bad_form()
    with desk.store.reading() as connection:
        found = lessons_held(connection, visit.by, LISTED + 1, after=int(after))
    about = (
        _("Every lesson of every court. Who reads a review, and when, is noted.")
        if visit.by.role is Role.HEAD_COACH
        else _("Every lesson with a player of your groups. Who reads a review, and when, is noted.")
    )
    nothing = el("p", _("No court has sent one yet."))
    lessons = rows_of(found[:LISTED]) if found else nothing
    older = None
    if len(found) > LISTED:
        older = el("p", el("a", _("Older ones"), href=f"/lessons?after={int(after) + LISTED}"))
    return page(visit, p_("club", "Lessons"), el("p", about, class_="hint"), lessons, older)


def rows_of(found: list[Held]) -> Node:
    """Lessons as a list, each leading to its review."""
    return el("ul", *map(_row, found), class_="rows")


def _row(one: Held) -> Node:
    when = iso(one.begun_utc_s)
    title = one.title or _("without a title")
    link = el(
        "a", el("time", when[:16].replace("T", " "), datetime=when), " ", title, href=place_of(one)
    )
    return el("li", el("span", link, el("br"), el("span", _about(one), class_="hint")))


def _about(one: Held) -> Text | Child:
    said = [one.court]
    if one.rehearsal:
        said.append(_("simulated"))
    if one.own:
        said.append(listed(one.own))
    return joined(", ", said)
