"""``feedscript watch --look``: a person says yes to the court and to each ball, on a page."""

from __future__ import annotations

import webbrowser
from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import click
import msgspec

from feedscript.cli.after.watch_balls import Balls, Looked, Opened, balls_in
from feedscript.cli.output import tell
from feedscript.console.extra import what_is_missing
from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.watch.asked import AskedLesson
from feedscript.watch.ruler.anew import Standing

if TYPE_CHECKING:
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
    viewing = Viewing(
        Film(
            video=opened.seen.film,
            places=opened.seen.places,
            court=opened.seen.court,
            most_sd_m=opened.sure_m,
            camera_at=opened.camera_at,
            look=None if opened.lesson is None else _look(opened, opened.lesson, options, found),
        )
    )
    with suppress(KeyboardInterrupt):
        serve_viewing(viewing, listen(False, options["port"]), _teller(options["no_browser"]))
    return _answered(opened, viewing, found)


def _teller(no_browser: bool) -> Callable[[str], None]:
    def told(link: str) -> None:
        tell(f"Look at the film: {link}\nCtrl-C ends it, and nothing is written.", error=True)
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


def _answered(opened: Opened, viewing: Viewing, found: list[Balls]) -> tuple[Looked, Balls | None]:
    answered = viewing.answered()
    if not viewing.finished:
        tell("ended before it was finished: nothing is written", error=True)
        raise click.Abort
    seen = msgspec.structs.replace(opened.seen, places=viewing.places)
    looked = Looked(seen, opened.lesson)
    if answered is None:
        return looked, None
    return looked, msgspec.structs.replace(found[0], found=answered)
