"""What ``feedscript tune --run`` does: the most telling balls sent one by one, each marked where it
came down, as a lesson like any other; then the profile is tuned by the marks."""

from __future__ import annotations

import sys
import time
from collections.abc import Mapping
from contextlib import AbstractAsyncContextManager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import msgspec

from feedscript.check.tuning_lesson import TuningLesson, title_of, tuning_lesson
from feedscript.cli.after.tune_film import Landings, again, kept
from feedscript.cli.output import Exit, leave, nobody_may_read, print_diagnostics, refuse, tell
from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.flight.ball import ALIASES
from feedscript.flight.motion.conditions import Conditions
from feedscript.formats import headed
from feedscript.journal.queries import session_of, sessions_of_program
from feedscript.journal.store import read_journal
from feedscript.journal.stored import SessionRow
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.tuning.pages import CANNOT_TUNE
from feedscript.launcher.tuning.shots import Tape
from feedscript.session.operator.commands import SeenBy
from feedscript.watch.marked import EYE_SD_M, marked_csv, marks_of

if TYPE_CHECKING:
    from feedscript.session.engine.engine import Engine
    from feedscript.session.state.events import FeedMarked
    from feedscript.terminal.run import Pairing
    from feedscript.terminal.run_lesson import RunRequest
    from feedscript.watch.asked import AskedLesson

#: A lesson that was broken off is gone on with by itself if it is not older: another day has
#: another air. Design value.
_SAME_DAY_S = 12 * 3600.0
_LOOKED_AT = 20


class OnCourt(msgspec.Struct, frozen=True, kw_only=True):
    """What is to be tuned on court, and by which launcher."""

    path: Path
    profile: Profile
    base: Conditions
    tape: Tape
    keep: tuple[str, ...]
    url: str
    items: tuple[str, ...]  # the program's lines on court and balls
    output_format: str


def landings_on_court(asked: OnCourt, options: dict[str, Any]) -> Landings:
    """Run the lesson, or go on with it, and read what was marked in it. Ends the command where the
    lesson is not over, or its landings are to come from a film. Raises FeedscriptError."""
    journal_path: Path = options["journal_path"]
    number = _number(asked, journal_path, options["number"])
    if isinstance(number, Diagnostic):
        refuse(Exit.PROGRAM, [number], asked.output_format)
    if number is None or not _is_over(journal_path, number):
        number = _run(asked, number, options)
    marks = _marks(journal_path, number)
    _see_that_it_is_over(asked, journal_path, number, marks)
    lesson = _lesson(journal_path, number)
    text, balls = marked_csv(lesson, 0, marks, asked.tape.along_m)
    if not balls:
        refuse(Exit.PROGRAM, [_nothing(asked, number)], asked.output_format)
    landings = kept(lesson, 0, text, asked.profile, asked.path, f"lesson-{lesson.number}")
    if isinstance(landings, Diagnostic):
        refuse(Exit.PROGRAM, [landings], asked.output_format)
    _say(asked, f"\nTuned by {balls} balls of lesson {number}, kept in {landings.path}")
    _say(asked, f"the same again: {again(asked.path, landings, lesson)}\n")
    return landings


# -- which lesson ---------------------------------------------------------------------------------


def _number(asked: OnCourt, journal_path: Path, number: int | None) -> int | Diagnostic | None:
    """The lesson to go on with or to read; None for a new one."""
    if not journal_path.exists():
        return None if number is None else _no_lesson(journal_path, number)
    journal = read_journal(journal_path)
    try:
        if number is not None:
            head = session_of(journal, number)
            ours = head is not None and head.title == title_of(asked.profile)
            return number if ours else _no_lesson(journal_path, number)
        for head in sessions_of_program(journal, title_of(asked.profile), "", _LOOKED_AT):
            if not head.rehearsal and head.ending != "finished":
                return head.id if _goes_on(asked, head) else None
            if not head.rehearsal:
                return None
    finally:
        journal.close()
    return None


def _goes_on(asked: OnCourt, head: SessionRow) -> bool:
    """A lesson of another profile or another day tells of another launcher or another air."""
    same = head.profiles == msgspec.json.encode((asked.profile,))
    if same and time.time() - head.begun_utc_s <= _SAME_DAY_S:
        return True
    _say(
        asked,
        f"lesson {head.id} was not finished, {'another day' if same else 'on another profile'}: "
        f"--lesson {head.id} goes on with it, and now a new one begins",
    )
    return False


def _no_lesson(journal_path: Path, number: int) -> Diagnostic:
    return CANNOT_TUNE.report(
        f"lesson {number} is none of tuning this launcher",
        help="leave --lesson out to begin one (feedscript journal list)",
        device=str(journal_path),
    )


def _is_over(journal_path: Path, number: int) -> bool:
    journal = read_journal(journal_path)
    try:
        head = session_of(journal, number)
    finally:
        journal.close()
    return head is not None and head.ending == "finished"


# -- running it -----------------------------------------------------------------------------------


def _run(asked: OnCourt, number: int | None, options: dict[str, Any]) -> int:
    """The lesson, run or gone on with, by the way of ``court-side``; its number."""
    from feedscript.terminal.run_lesson import run_lesson

    request = _request(asked, number, options)
    try:
        result = run_lesson(request)
    except FeedscriptError as failed:
        refuse(Exit.LAUNCHER, [failed.diagnostic], asked.output_format)
    if result.refused:
        refuse(Exit.PROGRAM, result.diagnostics, asked.output_format, result.sources)
    with nobody_may_read():
        print_diagnostics([one for one in result.diagnostics if one.is_error], {})
    found = result.summary["lesson"]
    assert isinstance(found, int)
    return found


def _request(asked: OnCourt, number: int | None, options: dict[str, Any]) -> RunRequest:
    from feedscript.console.extra import what_is_missing
    from feedscript.terminal.run_lesson import RunRequest

    missing = what_is_missing()
    if missing is not None:
        refuse(Exit.USAGE, (missing,), asked.output_format)
    from feedscript.console.listening import listen
    from feedscript.console.review_page import review_page
    from feedscript.console.serve import serve

    verdict = None if number is not None else _new_lesson(asked).verdict
    if number is not None:
        _say(asked, f"going on with lesson {number}, where it was broken off\n")
    listening = listen(options["on_court_network"], options["port"])

    def page(engine: Engine) -> AbstractAsyncContextManager[Pairing]:
        review = partial(review_page, engine.lesson.journal.path, engine.lesson.session_id)
        return serve(engine, listening, review)

    return RunRequest(
        source=None if verdict is None else asked.path,
        verdict=verdict,
        lesson=number,
        urls=(asked.url,),
        journal=options["journal_path"],
        capture=None,
        says_yes=False,
        keys=sys.stdin.isatty(),
        wall_utc_s=time.time(),
        out=sys.stderr if asked.output_format == "json" else sys.stdout,
        measures=True,
        beside=page,
    )


def _new_lesson(asked: OnCourt) -> TuningLesson:
    eye = Tape(along_m=EYE_SD_M[0], right_m=EYE_SD_M[1])
    lesson = tuning_lesson(
        asked.path, asked.profile, asked.base, eye, items=asked.items, held=asked.keep
    )
    if isinstance(lesson, Diagnostic):
        refuse(Exit.PROGRAM, [lesson], asked.output_format)
    if not lesson.verdict.ok:
        verdict = lesson.verdict
        refuse(Exit.PROGRAM, verdict.diagnostics, asked.output_format, verdict.sources)
    _say(asked, lesson_words(lesson))
    return lesson


def lesson_words(lesson: TuningLesson) -> str:
    """What comes, and what may be known afterwards by eye."""
    rows = [
        f"{len(lesson.design.proposals)} settings, three balls of each and up to six, over an "
        "empty court; the launcher stands 1 m behind the centre mark and faces straight. Marked by "
        "eye they should tell",
    ]
    for factor, half in lesson.design.expected:
        enough = "" if half <= factor.useful else "   (too little: --keep it, or film the balls)"
        rows.append(f"  {factor.key:<22} to ±{half:.3g} {factor.unit}".rstrip() + enough)
    return "\n".join(rows) + "\n"


# -- what was marked ------------------------------------------------------------------------------


def _marks(journal_path: Path, number: int) -> Mapping[int, FeedMarked]:
    journal = read_journal(journal_path)
    try:
        return marks_of(journal, number)
    finally:
        journal.close()


def _lesson(journal_path: Path, number: int) -> AskedLesson:
    from feedscript.watch.asked import asked_of

    journal = read_journal(journal_path)
    try:
        return asked_of(journal, number)
    finally:
        journal.close()


def _see_that_it_is_over(
    asked: OnCourt, journal_path: Path, number: int, marks: Mapping[int, FeedMarked]
) -> None:
    """End the command where there is more to come: balls, or a film of them."""
    by = [mark.seen_by for mark in marks.values()]
    placed = by.count(SeenBy.EYE) + by.count(SeenBy.TAPE)
    so_far = f"lesson {number}: {placed} balls are marked where they landed"
    again_words = f"feedscript tune {asked.path} --run --lesson {number} --on {asked.url}"
    if not _is_over(journal_path, number):
        _end(asked, f"{so_far}; it is not over, and nothing is lost. To go on: {again_words}")
    if SeenBy.FILM in by:
        _end(
            asked,
            f"{so_far}, {by.count(SeenBy.FILM)} to be found in a film of them. Then: feedscript "
            f"tune {asked.path} --watch FILM --lesson {number}",
        )


def _end(asked: OnCourt, words: str) -> NoReturn:
    with nobody_may_read():
        if asked.output_format == "json":
            from feedscript.cli.output import print_json

            print_json(headed("tune-run", {"ok": False, "told": words, "diagnostics": []}))
        else:
            tell(words)
    leave(Exit.FINE)


def _nothing(asked: OnCourt, number: int) -> Diagnostic:
    return CANNOT_TUNE.report(
        f"no ball of lesson {number} was marked where it came down",
        help="run it anew and mark them, or measure them in a film: --watch FILM "
        f"--lesson {number}",
        device=str(asked.path),
    )


def _say(asked: OnCourt, words: str) -> None:
    if asked.output_format == "text":
        tell(words)


def items_of(options: Mapping[str, Any]) -> tuple[str, ...]:
    """The program's lines on court and balls, from the options."""
    air = ("altitude", "air", "pressure", "humidity")
    court = "  ".join(f"{name} {options[name]}" for name in air if options[name] is not None)
    kind = ALIASES.get(options["ball"], options["ball"])
    words = _BALLS.get(kind) or (
        f"type {kind[5:]}" if kind.startswith("type-") else f"stage {kind}"
    )
    return f"court {{ {court} }}", f"balls {{ {words} }}"


#: Balls that a program calls otherwise than the option.
_BALLS = {"high-altitude": "type high-altitude", "red-foam": "stage foam"}
