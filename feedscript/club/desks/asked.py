"""What the server asks a coach's desk beyond what the desk's page does: whether a program passes,
the review of a lesson, and what its records suggest. It takes the desk's time, not the server's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TypeVar

import anyio.to_thread
import msgspec
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from feedscript.check.check_program import check_program
from feedscript.club.desks.folder import DeskFolder
from feedscript.club.people.history import write_lessons
from feedscript.club.store.people.players import Whole
from feedscript.console.page_in import tongue_of
from feedscript.console.review_page import REVIEW_POLICY
from feedscript.console.walls import read_as, refused_with
from feedscript.desk.files import version_of
from feedscript.desk.suggestions import Suggested, suggested_by
from feedscript.diagnostics import FeedscriptError
from feedscript.editor.document import open_document
from feedscript.journal.store import Journal, open_journal
from feedscript.review.report.html import report_html, review_of
from feedscript.review.report.lesson import earlier_lessons, read_lesson
from feedscript.tongues.tongue import Tongue, Tongues

#: Where it asks.
CHECKED = "/club/checked/{name}"
REVIEWED = "/club/reviewed"
SUGGESTED = "/club/suggested"
#: The longest such request, bytes. Design value: hundreds of lessons.
MOST_ASKED = 100_000_000

S = TypeVar("S", bound=msgspec.Struct)


class Checked(msgspec.Struct, frozen=True, kw_only=True):
    """What the check says of a program as it is saved."""

    version: str  # of its text
    ok: bool  # whether it passes
    title: str = ""  # of the program
    wrong: str = ""  # the first thing to mend
    uses: dict[str, str] = {}  # the coach's own programs that it uses, with their versions


class AskReview(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson, for its review."""

    lesson: Whole  # that it is about
    earlier: tuple[Whole, ...] = ()  # lessons that stand beside it
    opens: str = ""  # the address that opens its program with suggestions; empty: there is none


class AskSuggested(msgspec.Struct, frozen=True, kw_only=True):
    """What a lesson's records suggest for a program as it is saved."""

    lesson: Whole  # that it is about
    program: str  # by its name in the desk's folder


def routes(folder: DeskFolder, tongues: Tongues = Tongues()) -> list[Route]:  # noqa: B008
    """What is answered, for the one who was let in."""

    async def checked(request: Request) -> Response:
        name = str(request.path_params["name"])
        return await _answered(lambda: _json(_checked(folder, name)))

    async def reviewed(request: Request) -> Response:
        tongue = tongue_of(request, tongues)
        return await _asked(request, AskReview, lambda asked: _on_paper(_review(asked, tongue)))

    async def suggested(request: Request) -> Response:
        tongue = tongue_of(request, tongues)
        return await _asked(
            request, AskSuggested, lambda asked: _json(_suggested(folder, asked), tongue)
        )

    return [
        Route(CHECKED, checked),
        Route(REVIEWED, reviewed, methods=["POST"]),
        Route(SUGGESTED, suggested, methods=["POST"]),
    ]


async def _asked(request: Request, shape: type[S], work: Callable[[S], Response]) -> Response:
    asked = await read_as(request, shape, MOST_ASKED)
    if isinstance(asked, Response):
        return asked
    return await _answered(lambda: work(asked))


async def _answered(work: Callable[[], Response]) -> Response:
    try:
        return await anyio.to_thread.run_sync(work)
    except FeedscriptError as failed:
        return refused_with(failed.diagnostic, 409)


def _json(found: msgspec.Struct, tongue: Tongue | None = None) -> Response:
    return Response(msgspec.json.encode(found, enc_hook=tongue), media_type="application/json")


def _on_paper(html: str) -> Response:
    return HTMLResponse(html, headers={"Content-Security-Policy": REVIEW_POLICY})


def _checked(folder: DeskFolder, name: str) -> Checked:
    text, path = folder.read(name), folder.path(name)
    verdict = check_program(path, text=text.words)
    program = verdict.program
    wrong = next((one.message for one in verdict.diagnostics if one.is_error), "")
    inside = folder.root.resolve()
    sources = {} if program is None else program.sources
    used = {Path(source).resolve(): words for source, words in sources.items()}
    return Checked(
        version=version_of(text.words),
        ok=verdict.ok,
        title="" if program is None else program.title,
        wrong=wrong,
        uses={
            one.stem: version_of(words)
            for one, words in used.items()
            if one.parent == inside and one != path.resolve()
        },
    )


@contextmanager
def _journal(*lessons: Whole) -> Iterator[Journal]:
    """A journal in memory of these lessons, the one that is asked about last. Raises
    FeedscriptError where that one is none that feedscript wrote."""
    with closing(open_journal(None)) as journal:
        write_lessons(journal, lessons[:-1])  # one that cannot be read stands beside nothing
        for trouble in write_lessons(journal, lessons[-1:]):
            raise FeedscriptError(trouble)
        yield journal


def _review(asked: AskReview, tongue: Tongue) -> str:
    with _journal(*asked.earlier, asked.lesson) as journal:
        whole = read_lesson(journal)
        earlier = earlier_lessons(journal, whole)
        return report_html(review_of(whole, earlier, sheet=False, opens=asked.opens), tongue)


def _suggested(folder: DeskFolder, asked: AskSuggested) -> Suggested:
    text = folder.read(asked.program)
    document = open_document(folder.path(asked.program), text.words)
    with _journal(asked.lesson) as journal:
        found = suggested_by(read_lesson(journal), document)
    return Suggested(version=text.version, suggestions=found)
