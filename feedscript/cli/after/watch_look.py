"""``feedscript watch --look``: a person says yes to the court and to each ball, on a page."""

from __future__ import annotations

import webbrowser
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import msgspec

from feedscript.cli.after.watch_balls import Balls, Looked, Opened, balls_in
from feedscript.cli.output import tell, writing
from feedscript.console.extra import what_is_missing
from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.watch.asked import AskedLesson
from feedscript.watch.ruler.anew import Standing
from feedscript.watch.unfinished import answers_beside, key_of

if TYPE_CHECKING:
    from feedscript.viewing.answers import Answers
    from feedscript.viewing.viewing import Look, Viewing


def looked_at(opened: Opened, options: dict[str, Any]) -> tuple[Looked, Balls | None]:
    """The court and the balls as a person left them. Raises FeedscriptError where no page can be
    served, and Abort where it was ended before."""
    missing = what_is_missing()
    if missing is not None:
        raise FeedscriptError(missing)
    from feedscript.console.listening import listen
    from feedscript.viewing.serve import serve_viewing
    from feedscript.viewing.viewing import Film, Viewing

    found: list[Balls] = []
    answers = _answers(opened, options)
    viewing = Viewing(
        Film(
            video=opened.seen.film,
            places=opened.seen.places,
            court=opened.seen.court,
            most_sd_m=opened.sure_m,
            camera_at=opened.camera_at,
            look=None if opened.lesson is None else _look(opened, opened.lesson, options, found),
            answers=answers,
        )
    )
    with suppress(KeyboardInterrupt):
        serve_viewing(viewing, listen(False, options["port"]), _teller(options, answers))
    return _answered(opened, viewing, found, options["out"] if answers else None)


def _answers(opened: Opened, options: dict[str, Any]) -> Answers | None:
    """What was said before of the same film and lesson, and where more is written down; None where
    nothing of balls is written out."""
    out: Path | None = options["out"]
    if opened.lesson is None or out is None or out.suffix.lower() not in (".json", ".csv"):
        return None
    from feedscript.viewing.answers import Answers

    moment = msgspec.json.encode((options["offset"], options["at_ball"]))
    path = answers_beside(out)
    with writing(path):
        return Answers(
            path, key_of(opened.seen.film.path, opened.lesson, moment, opened.seen.places)
        )


def _teller(options: dict[str, Any], answers: Answers | None) -> Callable[[str], None]:
    kept = "nothing is written" if answers is None else "what you said is kept: go on another time"
    no_browser = options["no_browser"]

    def told(link: str) -> None:
        tell(f"Look at the film: {link}\nCtrl-C ends it, and {kept}.", error=True)
        if not no_browser:
            webbrowser.open(link)

    return told


def _look(opened: Opened, lesson: AskedLesson, options: dict[str, Any], found: list[Balls]) -> Look:
    from feedscript.viewing.viewing import Sought

    feeds = {ball.number: ball.feed.name for ball in lesson.balls}

    def look(
        places: tuple[Standing, ...], progress: Callable[[float], None]
    ) -> Sought | Diagnostic:
        seen = msgspec.structs.replace(opened.seen, places=places)
        camera = Looked(seen, lesson).ruler.camera
        balls = balls_in(seen, camera, lesson, options, progress)
        if isinstance(balls, Diagnostic):
            return balls
        found[:] = [balls]
        return Sought(balls.found, feeds, balls.ways)

    return look


def _kept_words(viewing: Viewing, out: Path) -> str:
    answers = viewing.film.answers
    if answers is not None and answers.lost:
        return f"{out} is not written, and what you said could not be kept: {answers.lost}"
    return (
        f"{out} is not written; what you said is kept beside it: give the same command again, and "
        "it goes on from there"
    )


def _answered(
    opened: Opened, viewing: Viewing, found: list[Balls], kept: Path | None
) -> tuple[Looked, Balls | None]:
    """``kept``: the file beside which the answers are kept for another time."""
    answered = viewing.answered()
    if not viewing.finished:
        then = "nothing is written" if kept is None else _kept_words(viewing, kept)
        tell(f"ended before it was finished: {then}", error=True)
        raise click.Abort
    seen = msgspec.structs.replace(opened.seen, places=viewing.places)
    looked = Looked(seen, opened.lesson)
    if answered is None:
        return looked, None
    return looked, msgspec.structs.replace(found[0], found=answered)
