"""The library's pages as routes; whoever keeps the library sees and changes it."""

from __future__ import annotations

from collections.abc import Callable

import anyio.from_thread
from starlette.responses import Response
from starlette.routing import BaseRoute

from feedscript.club.library.compare import compare
from feedscript.club.library.look import Look, Looks
from feedscript.club.library.pages.add_page import NAME, TEXT, WORDS, add_page
from feedscript.club.library.pages.compare_page import compare_page
from feedscript.club.library.pages.list_page import PLACE, list_page, place_of
from feedscript.club.library.pages.text_page import MOST_WORDS, Shown, text_page
from feedscript.club.library.shelf import NotDoneError, Shelf
from feedscript.club.messages import Fetch
from feedscript.club.people.pages.answers import Desk, Routes
from feedscript.club.people.pages.frame import see_other
from feedscript.club.people.pages.visit import Visit, bad_form, not_there
from feedscript.club.server.club import Club
from feedscript.club.who import Person, may_keep_library
from feedscript.club_library import Change, Version, current, is_profile, versions
from feedscript.language.resolve.loading import MOST_BYTES

#: A form may write each byte of a text with three.
_MOST_FORM = 3 * MOST_BYTES + 10_000
#: Nothing of a picture is run, wherever it is opened.
_PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'"
_CHECKS = "checks"


class LibraryPages:
    """The handlers, around the shelf."""

    def __init__(self, club: Club, shelf: Shelf, looks: Looks) -> None:
        self._club = club
        self._shelf = shelf
        self._looks = looks

    def listed(self, _desk: Desk, visit: Visit) -> Response:
        return list_page(self._shelf, visit)

    def new(self, _desk: Desk, visit: Visit) -> Response:
        return add_page(visit)

    def add(self, _desk: Desk, visit: Visit) -> Response:
        name, words = visit.told(NAME), visit.told(WORDS, MOST_WORDS)
        text = visit.secret(TEXT).replace("\r\n", "\n")  # as a form sends the ends of lines
        try:
            made = self._shelf.add(name, text, words, visit.by)
        except NotDoneError as refused:
            return add_page(visit, refused)
        self._tell_courts()
        return see_other(place_of(made.sha256))

    def text(self, _desk: Desk, visit: Visit) -> Response:
        shown = self._asked(visit)
        return text_page(visit, shown, self._look(shown, visit))

    def words(self, _desk: Desk, visit: Visit) -> Response:
        shown = self._asked(visit)
        called = shown.version.name
        name = called if is_profile(called) else f"{called}.feed"
        return Response(
            shown.content,
            media_type="text/plain; charset=utf-8",
            headers={"Content-Disposition": f'attachment; filename="{name}"'},
        )

    def picture(self, _desk: Desk, visit: Visit) -> Response:
        drawn = self._look(self._asked(visit), visit).picture
        if not drawn:
            raise not_there()
        policy = {"Content-Security-Policy": _PICTURE_POLICY}
        return Response(drawn, media_type="image/svg+xml", headers=policy)

    def approve(self, _desk: Desk, visit: Visit) -> Response:
        words = visit.told("approve-words", MOST_WORDS)
        return self._judged(visit, lambda sha, by: self._shelf.approve(sha, words, by))

    def look_at(self, _desk: Desk, visit: Visit) -> Response:
        words = visit.told("look-words", MOST_WORDS)
        return self._judged(visit, lambda sha, by: self._shelf.look_at(sha, words, by))

    def withdraw(self, _desk: Desk, visit: Visit) -> Response:
        words = visit.told("withdraw-words", MOST_WORDS)
        return self._judged(visit, lambda sha, by: self._shelf.withdraw(sha, words, by))

    def compared(self, _desk: Desk, visit: Visit) -> Response:
        one, other = (self._shown(visit.query.get(name, "")) for name in ("one", "other"))
        if is_profile(one.version.name) != is_profile(other.version.name):
            raise bad_form()  # no page of ours leads there
        found = compare(
            self._looks,
            (one.version.name, one.content),
            (other.version.name, other.content),
            visit.tongue,
        )
        return compare_page(visit, one.version, other.version, found)

    def _asked(self, visit: Visit) -> Shown:
        return self._shown(visit.path["sha256"])

    def _shown(self, sha256: str) -> Shown:
        """A text by its hash. Raises RefusalError where there is none."""
        changes = self._shelf.changes()
        known = versions(changes)
        content = self._shelf.text(sha256) if sha256 in known else None
        if content is None:
            raise not_there()
        version: Version = known[sha256]
        means = current(changes).get(version.name)
        return Shown(
            version=version,
            content=content,
            changes=changes,
            others=[one for one in reversed([*known.values()]) if one.name == version.name],
            used="" if means is None else means.sha256,
        )

    def _look(self, shown: Shown, visit: Visit) -> Look:
        return self._looks.at(shown.version.name, shown.content, visit.tongue)

    def _judged(self, visit: Visit, change: Callable[[str, Person], Change]) -> Response:
        shown = self._asked(visit)
        try:
            change(shown.version.sha256, visit.by)
        except NotDoneError as refused:
            wrong = refused.diagnostic.message
            return text_page(visit, shown, self._look(shown, visit), wrong, 409)
        self._tell_courts()
        return see_other(place_of(shown.version.sha256))

    def _tell_courts(self) -> None:
        """That there is something to fetch; their lines belong to the event loop."""
        anyio.from_thread.run_sync(self._club.lines.say_to_all, Fetch())


def library_pages(desk: Desk, pages: LibraryPages) -> list[BaseRoute]:
    """What a server mounts."""
    make, may = Routes(desk), may_keep_library
    one = f"{PLACE}/texts/{{sha256}}"
    return [
        make.get(PLACE, pages.listed, may),
        make.get(f"{PLACE}/new", pages.new, may),
        make.post(PLACE, pages.add, may, queue=_CHECKS, most_bytes=_MOST_FORM),
        make.get(f"{PLACE}/compare", pages.compared, may, queue=_CHECKS),
        make.get(one, pages.text, may, queue=_CHECKS),
        make.get(f"{one}/text", pages.words, may),
        make.get(f"{one}/picture.svg", pages.picture, may, queue=_CHECKS),
        make.post(f"{one}/approve", pages.approve, may, queue=_CHECKS),
        make.post(f"{one}/look-at", pages.look_at, may, queue=_CHECKS),
        make.post(f"{one}/withdraw", pages.withdraw, may, queue=_CHECKS),
    ]
