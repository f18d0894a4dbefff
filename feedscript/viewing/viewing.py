"""How far a person has come with a film: the court is shown, the balls are looked for and judged.

The page's handlers and the thread that looks for the balls share one :class:`Viewing`; what both
touch takes its lock.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Mapping
from enum import StrEnum

import msgspec

from feedscript.court.landmarks import End
from feedscript.court.lines import Court
from feedscript.diagnostics import Diagnostic, FeedscriptError, Page
from feedscript.viewing.answers import Answers
from feedscript.watch.camera.camera import Camera
from feedscript.watch.clips.way import Way
from feedscript.watch.found import Found, Said
from feedscript.watch.frames.video import Video
from feedscript.watch.ruler.anew import Standing
from feedscript.watch.ruler.find import Ruler, find_camera
from feedscript.watch.ruler.points import Pixels
from feedscript.watch.ruler.shown import Shown, from_the_other_end, shown_court

_LOG = logging.getLogger("feedscript.viewing")

LEFT_OUT = Page(
    slug="part-left-out",
    title="A part of the film that is left out",
    why="A person who looked at the film said that the court cannot be shown in this part of it.",
)
LOOKING_FAILED = Page(
    slug="looking-failed",
    title="Looking for the balls came to an unforeseen end",
    why=(
        "A fault of the program, or of the library that reads the film, ended the search. Nothing "
        "of what was said of the court is lost in the film itself; the page asks about it again."
    ),
)


#: Whoever looks for balls ends with the next picture, unless it measures one just then.
_ENDS_S = 0.3


class Stage(StrEnum):
    """What the page is at."""

    COURT = "court"  # is it where its lines are drawn?
    LOOKING = "looking"  # balls are looked for
    FINDS = "finds"  # is each what was found?
    DONE = "done"


class Sought(msgspec.Struct, frozen=True, eq=False):
    """What became of a lesson's balls; ``feeds`` are their names, by the balls' numbers."""

    found: Found
    feeds: Mapping[int, str]
    ways: tuple[Way, ...]


#: Looks for a lesson's balls, given where the camera stood and whom to tell how far it is (who may
#: raise).
Look = Callable[[tuple[Standing, ...], Callable[[float], None]], Sought | Diagnostic]


class Film(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """What there is to look at: each place where the camera stood, with the court as it was found
    without help. ``look``: None where only the court is asked about; ``answers``: where what a
    person says is written down, and what was said before."""

    video: Video
    places: tuple[Standing, ...]
    court: Court
    most_sd_m: float
    camera_at: End | None = None
    look: Look | None = None
    answers: Answers | None = None


def _left_out() -> Diagnostic:
    return LEFT_OUT.report("this part of the film was left out")


class GivenUpError(Exception):
    """Raised into whoever looks for balls that nobody waits for any more."""


class Viewing:
    """One person's way through one film."""

    def __init__(self, film: Film) -> None:
        self.film = film
        self.stage = Stage.COURT
        self.trouble: Diagnostic | None = None
        self.progress = 0.0
        self.sought: Sought | None = None
        self.said: dict[int, Said | None] = {}
        self._answers: list[Standing] = []
        self._thread: threading.Thread | None = None
        self._given_up = threading.Event()
        self._lock = threading.Lock()
        self._open()
        for ruler in [] if film.answers is None else film.answers.courts:
            self._go_on(ruler or _left_out())

    def _open(self) -> None:
        """The next place, with the court as it was found there."""
        self.pins: Pixels = {}
        self.camera_at = self.film.camera_at
        self.shown = self._found()

    @property
    def part(self) -> int:
        """Which of the places is asked about, from 0."""
        return min(len(self._answers), len(self.film.places) - 1)

    @property
    def place(self) -> Standing:
        """The one that is asked about."""
        return self.film.places[self.part]

    @property
    def places(self) -> tuple[Standing, ...]:
        """What the person said of each place."""
        return tuple(self._answers)

    @property
    def ruler(self) -> Ruler | None:
        """The camera as it is now, where it can be used."""
        verdict = self.shown.verdict
        return verdict if isinstance(verdict, Ruler) else None

    @property
    def camera(self) -> Camera | None:
        """The one that draws the court now, whether or not it can be used."""
        return self.shown.camera

    def _found(self) -> Shown:
        """The court as it was found here; drawn also where it is not known surely enough."""
        known = self.place.known
        return self._solved({}, None) if known is None else Shown(known.camera, known)

    def _solved(self, pins: Pixels, near: Camera | None, by_lines: bool = True) -> Shown:
        return shown_court(
            self.place.still.grey,
            self.film.court,
            pins,
            near=near,
            camera_at=self.camera_at,
            most_sd_m=self.film.most_sd_m,
            by_lines=by_lines,
        )

    def show(self, pins: Pixels, camera_at: End | None, *, by_lines: bool = True) -> None:
        """The court by what a person shows; without any point, as at the beginning."""
        with self._lock:
            if self.stage is not Stage.COURT:
                return
            self.pins, self.camera_at = dict(pins), camera_at
            self.shown = self._solved(pins, self.camera, by_lines) if pins else self._found()

    def change_ends(self) -> None:
        """The other end is the receiver's."""
        with self._lock:
            if self.stage is not Stage.COURT or self.camera is None:
                return
            near, self.pins = from_the_other_end(self.camera, self.pins)
            self.camera_at = End.RECEIVER if near.position_m[1] > 0 else End.LAUNCHER
            found = find_camera(
                self.place.still.grey,
                self.film.court,
                start=near,
                most_sd_m=self.film.most_sd_m,
            )
            self.shown = Shown(found.camera if isinstance(found, Ruler) else near, found)

    def say_yes(self) -> None:
        """The court is where it is drawn: go on. Nothing where it cannot be used."""
        with self._lock:
            if self.stage is Stage.COURT and self.ruler is not None:
                self._answer(self.ruler)

    def leave_out(self) -> None:
        """This part of the film is not used; the only one that there is cannot be left out."""
        with self._lock:
            last = len(self._answers) == len(self.film.places) - 1
            usable = not last or any(one.known for one in self._answers)
            if self.stage is Stage.COURT and usable:
                self._answer(_left_out())

    def _answer(self, ruler: Ruler | Diagnostic) -> None:
        """Write down what is said of this place, and go on."""
        if self.film.answers is not None:
            self.film.answers.of_court(ruler)
        self._go_on(ruler)

    def _go_on(self, ruler: Ruler | Diagnostic) -> None:
        """To the next place, or to the balls."""
        self._answers.append(Standing(self.place.still, ruler))
        self.trouble = None
        if len(self._answers) < len(self.film.places):
            self._open()
        elif self.film.look is None:
            self.stage = Stage.DONE
        else:
            self.stage, self.progress = Stage.LOOKING, 0.0
            self._given_up = threading.Event()
            args = (self.film.look, self.places, self._given_up)
            self._thread = threading.Thread(target=self._look, args=args, daemon=True)
            self._thread.start()

    def _look(self, look: Look, places: tuple[Standing, ...], given_up: threading.Event) -> None:
        def told(share: float) -> None:
            if given_up.is_set():
                raise GivenUpError
            self.progress = share

        found: Sought | Diagnostic
        try:
            found = look(places, told)
        except GivenUpError:
            return
        except FeedscriptError as failed:
            found = failed.diagnostic
        except Exception as fault:  # noqa: BLE001 (the rim of the thread: the page waits for it)
            _LOG.info("looking for balls failed", exc_info=fault)
            found = LOOKING_FAILED.report(
                f"looking for the balls failed: {fault!r}",
                device=str(self.film.video.path),
                help="say yes to the court to try it again; if it fails again, give the command "
                "--log FILE and report it with that file",
            )
        with self._lock:
            if given_up.is_set():
                return
            if isinstance(found, Diagnostic):
                self._begin_again(found)
            else:
                self.stage, self.sought = Stage.FINDS, found
                self.said = self._said_before(found)

    def _said_before(self, sought: Sought) -> dict[int, Said | None]:
        """Of the balls that are measured this time too."""
        if self.film.answers is None:
            return {}
        measured = {one.number for one in sought.found.landed}
        said = self.film.answers.said
        return {number: one for number, one in said.items() if number in measured}

    def _begin_again(self, trouble: Diagnostic | None) -> None:
        """From the first place on; the answers so far are let go."""
        if self.film.answers is not None:
            self.film.answers.again()
        self.stage, self.sought, self.said, self.trouble = Stage.COURT, None, {}, trouble
        self._answers = []
        self._open()

    def go_back(self) -> None:
        """To the court again; what was found so far is let go."""
        self.give_up()
        with self._lock:
            if not self.finished:
                self._begin_again(None)

    def give_up(self, within_s: float = 10.0) -> None:
        """Let whoever looks for balls end, and wait for it so long."""
        self._given_up.set()
        if self._thread is not None:
            self._thread.join(within_s)

    def end(self) -> None:
        """Nobody looks any more: what still works may end by itself, and is not waited for."""
        self.give_up(within_s=_ENDS_S)

    def say(self, number: int, said: Said | None) -> bool:
        """What a person says of a ball that was measured; whether there is such a one."""
        with self._lock:
            if self.stage is not Stage.FINDS or self.sought is None:
                return False
            if number not in {one.number for one in self.sought.found.landed}:
                return False
            if self.film.answers is not None:
                self.film.answers.of_ball(number, said)
            self.said[number] = said
            return True

    def finish(self) -> None:
        """Done with the balls; nothing where they are not found yet."""
        with self._lock:
            if self.stage is Stage.FINDS:
                self.stage = Stage.DONE

    @property
    def finished(self) -> bool:
        return self.stage is Stage.DONE

    def answered(self) -> Found | None:
        """The balls with what was said of each."""
        return None if self.sought is None else self.sought.found.with_said(self.said)
