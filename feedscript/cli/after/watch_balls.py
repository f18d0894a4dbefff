"""What ``feedscript watch --lesson`` does: a lesson's balls looked for in a film of it."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from pathlib import Path
from typing import Any

import click
import msgspec
import numpy as np

from feedscript.check.check_program import Options, check_program
from feedscript.cli.after.review import NO_SUCH_MARK
from feedscript.cli.after.watch_shots import shot_rows
from feedscript.cli.after.watch_shots import shots_of as asked_shots
from feedscript.cli.output import Exit, refuse, writing
from feedscript.court.landmarks import End
from feedscript.court.lines import COURTS, Court
from feedscript.diagnostics import Diagnostic
from feedscript.journal.films import keep_film
from feedscript.journal.store import open_journal, read_journal
from feedscript.shipped import program_path
from feedscript.told_units import length_words, place_words, speed_told, speed_words, told_units
from feedscript.watch.asked import AskedLesson, asked_of, expected_of
from feedscript.watch.by_sight import laid_beside
from feedscript.watch.by_sound import by_the_camera
from feedscript.watch.camera.camera import Camera
from feedscript.watch.clips.files import Written
from feedscript.watch.clips.way import Way, way_of
from feedscript.watch.found import Found, Landed, Missed, Place, as_json, ball_of, landings_csv
from feedscript.watch.frames.video import Video
from feedscript.watch.look import Laid, look_over
from feedscript.watch.mirrored import mirrored
from feedscript.watch.planned import asked_by_plan
from feedscript.watch.record import film_of, landings_of, shots_of
from feedscript.watch.ruler.anew import Standing, moves
from feedscript.watch.ruler.find import Ruler
from feedscript.watch.shots.ground import Ground
from feedscript.watch.shots.watcher import ShotWatcher
from feedscript.watch.suggested import suggested
from feedscript.watch.unfinished import Unfinished, beside, key_of

_WHAT = {"sound": "thumps and bounces heard", "sight": "balls seen"}


class Seen(msgspec.Struct, frozen=True, eq=False):
    """A film, the places in which its camera stood, and the court that is looked for in it."""

    film: Video
    places: tuple[Standing, ...]
    court: Court
    unread: tuple[Diagnostic, ...] = ()  # what of its pictures could not be looked at


class Opened(msgspec.Struct, frozen=True, eq=False):
    """A film as it is opened, and what is asked of it."""

    seen: Seen
    lesson: AskedLesson | None
    camera_at: End | None
    sure_m: float


class Looked(msgspec.Struct, frozen=True, eq=False):
    """The court that was found in a film, and the lesson whose balls are to be."""

    seen: Seen
    lesson: AskedLesson | None

    @property
    def ruler(self) -> Ruler:
        """The camera of the first place in which the court was found."""
        return next(one.known for one in self.seen.places if one.known is not None)

    def troubles(self) -> tuple[Diagnostic, ...]:
        return (*self.seen.unread, *moves(self.seen.places, str(self.seen.film.path)))


class Balls(msgspec.Struct, frozen=True, eq=False):
    """What was found of a lesson's balls, and what of the film could not be read.

    ``kept``: the number by which the journal has it, if it was kept.
    """

    found: Found
    lesson: AskedLesson
    troubles: tuple[Diagnostic, ...]
    kept: int | None = None
    ways: tuple[Way, ...] = ()  # of those that pictures can show
    clips: Written | None = None

    def files(self, out: Path | None) -> list[tuple[Path, bytes]]:
        """What ``out`` is to hold, by its ending; a table for each launcher, since tuning takes the
        balls of one. Empty where it is no file of balls."""
        match "" if out is None else out.suffix.lower():
            case ".json":
                return [(Path(out or ""), as_json(self.found))]
            case ".csv":
                count = len(self.lesson.profiles)
                return [
                    (
                        numbered(Path(out or ""), launcher, count),
                        landings_csv(self.found, self.lesson, launcher).encode(),
                    )
                    for launcher in range(1, count + 1)
                ]
        return []

    @property
    def plain(self) -> dict[str, Any]:
        return {
            "found": msgspec.to_builtins(self.found),
            "recorded": self.kept is not None,
            "clips": None if self.clips is None else _clips_plain(self.clips),
        }

    @property
    def words(self) -> str:
        """A line a ball, and how sure the clock is."""
        found, clock = self.found, self.found.clock
        rows = [
            f"clock     {clock.heard} of {clock.expected} {_WHAT[clock.by]} in time; "
            f"known to {clock.sd_s * 1000:.0f} ms",
            f"balls     {_counted(found)}",
            *self._of_the_program,
            "",
            _HEAD.format(told_units()),
        ]
        several = len(found.launchers) > 1
        rows += [_row(one) + (_whose(one, found) if several else "") for one in found.balls]
        rows += shot_rows(found.shots)
        if self.kept is not None:
            rows += ["", f"kept in the journal: `feedscript review {found.lesson}` shows them"]
        if self.clips is not None:
            rows += ["", *_clips_words(self.clips)]
        return "\n".join(rows)

    @property
    def _of_the_program(self) -> list[str]:
        if self.lesson.number is not None:
            return []
        first, last = self.lesson.balls[0].number, self.lesson.balls[-1].number
        return [
            f"program   balls {first} to {last}: as long as people took, before and after them, is "
            "not in it"
        ]


def numbered(out: Path, one: int, count: int) -> Path:
    """The name itself where there is one only; else with a number before its ending."""
    return out if count == 1 else out.with_name(f"{out.stem}-{one}{out.suffix}")


def _whose(one: Landed | Missed, found: Found) -> str:
    return f"  {found.launchers[one.launcher - 1]}"


def _clips_plain(clips: Written) -> dict[str, Any]:
    return {"folder": str(clips.folder), "balls": clips.balls, "left_out": clips.left_out}


def _clips_words(clips: Written) -> list[str]:
    rows = [f"wrote pictures of {clips.balls} balls into {clips.folder}: people may be in them"]
    if clips.left_out:
        rows.append(f"left out {clips.left_out} balls: there would be too many pictures")
    return rows


_HEAD = " ball   x, {0.length:<2}   y, {0.length:<2}  95 % within  off aim {0.speed:>5}"


def _row(one: Landed | Missed) -> str:
    if isinstance(one, Missed):
        return f"{one.number:>5} {one.why}{_heard(one)}"
    off_m = float(np.hypot(*np.subtract(one.landing_m, one.asked_m)))
    within = f"{one.region_m[0] * 100:.0f} cm"
    x, y = place_words(one.landing_m)
    said = "  said no to: it goes no further" if one.said == "no" else ""
    speed = speed_told(one.speed_mps.value)
    figures = f"{x:>7} {y:>7} {within:>12} {length_words(off_m):>8} {speed:>5.0f}"
    return f"{one.number:>5} {figures}{said}"


def _heard(one: Missed) -> str:
    if one.flight_s is None or one.speed_mps is None:
        return ""
    flight, speed = one.flight_s, one.speed_mps
    return (
        f"; heard to fly {flight.value:.3f} ± {flight.sd:.3f} s, so left at "
        f"{speed_told(speed.value):.0f} ± {speed_words(speed.sd)}"
    )


def _counted(found: Found) -> str:
    measured = sum(isinstance(one, Landed) for one in found.balls)
    refused = measured - len(found.landed)
    words = f"{measured} of {len(found.balls)} measured"
    return f"{words}; said no to {refused} of them" if refused else words


def balls_in(
    seen: Seen,
    camera: Camera,
    lesson: AskedLesson,
    options: dict[str, Any],
    progress: Callable[[float], None] | None,
) -> Balls | Diagnostic:
    """The lesson's balls in this film. Raises FeedscriptError (``video-silent``)."""
    said = said_of(lesson, options["offset"], options["at_ball"])
    if isinstance(said, Diagnostic):
        return said
    laid = laid_beside(seen.film, seen.places, lesson, camera, seen.court, said, progress)
    if isinstance(laid, Diagnostic):
        return laid
    return _looked_for(seen, camera, lesson, options, laid, progress)


def _looked_for(
    seen: Seen,
    camera: Camera,
    lesson: AskedLesson,
    options: dict[str, Any],
    laid: Laid,
    progress: Callable[[float], None] | None,
) -> Balls | Diagnostic:
    """The balls where they are expected; a diagnostic of a film that is mirrored."""
    expected = expected_of(lesson, laid.clock)
    if isinstance(expected, Diagnostic):
        return expected
    shots = asked_shots(lesson, options)
    grounds = None if shots is None else shots.grounds
    asked = as_asked(laid, grounds)
    kept = _unfinished(seen, lesson, options.get("out"), asked)
    watcher = None if grounds is None else _watcher(grounds, kept)
    ways: list[Way | None] = []
    with nullcontext() if kept is None else writing(kept.path):
        looked, troubles = look_over(
            seen.film,
            seen.places,
            expected,
            seen.court,
            progress,
            lambda one, got: ways.append(way_of(one.camera, one.expected, got)),
            watcher,
            kept,
        )
    image = mirrored(seen.film, seen.places, expected, looked, seen.court, progress)
    if image is not None:
        return image
    heard = by_the_camera(expected, laid.sounds_s, seen.film.duration_s, camera)
    balls = [
        ball_of(ball.feed, looked[ball.number], heard.get(ball.number)) for ball in lesson.balls
    ]
    found = Found(
        lesson=lesson.number,
        launchers=tuple(one.name for one in lesson.profiles),
        camera=camera,
        clock=laid.clock,
        places=tuple(_place(one) for one in seen.places),
        balls=tuple(balls),
        shots=() if shots is None or watcher is None else suggested(watcher.found, shots.taps),
    )
    return Balls(found, lesson, troubles, ways=tuple(filter(None, ways)))


def as_asked(laid: Laid, grounds: Mapping[int, Ground] | None) -> bytes:
    """When balls left by the film's clock, and what each shot is held against: the same bytes for
    the same, in whatever order."""
    held = None if grounds is None else sorted(grounds.items())
    return msgspec.json.encode((laid.clock, held), order="deterministic")


def _watcher(grounds: Mapping[int, Ground], kept: Unfinished | None) -> ShotWatcher:
    return ShotWatcher(grounds) if kept is None else ShotWatcher(grounds, kept.shots, kept.add_shot)


def _unfinished(
    seen: Seen, lesson: AskedLesson, out: Path | None, asked: bytes
) -> Unfinished | None:
    """What an earlier run left beside the output; None where nothing is written out. ``asked``:
    when balls left by the film's clock, and what shots are held against."""
    if out is None or out.suffix.lower() not in (".json", ".csv"):
        return None
    path = beside(out)
    with writing(path):
        return Unfinished(path, key_of(seen.film.path, lesson, asked, seen.places))


def _place(one: Standing) -> Place:
    to_s = one.still.to_s if np.isfinite(one.still.to_s) else None
    camera = None if one.known is None else one.known.camera
    return Place(from_s=one.still.from_s, to_s=to_s, camera=camera)


def recorded(seen: Seen, balls: Balls, journal_path: Path) -> Balls:
    """Write down in the journal what the film told, beside all that stands there."""
    assert balls.found.lesson is not None  # the option goes with a lesson
    film = film_of(seen.film.path, time.time())
    journal = open_journal(journal_path)
    try:
        kept = keep_film(
            journal, balls.found.lesson, film, landings_of(balls.found), shots_of(balls.found)
        )
    finally:
        journal.close()
    return msgspec.structs.replace(balls, kept=kept)


def lesson_of(court: Court, options: dict[str, Any], output_format: str) -> AskedLesson:
    """The lesson, or the program, that was asked for; ends the command where the program does not
    pass. Raises FeedscriptError, and UsageError where options do not fit it."""
    if options["number"] is None:
        lesson = _by_program(options, output_format)
    else:
        journal = read_journal(options["journal_path"])
        try:
            lesson = asked_of(journal, options["number"])
        finally:
            journal.close()
    kind = lesson.plan.court.kind
    if COURTS[kind].half_length_m != court.half_length_m:
        raise click.UsageError(f"the lesson was on another court: --court {kind}")
    return lesson


def _by_program(options: dict[str, Any], output_format: str) -> AskedLesson:
    path = program_path(options["program"], options["library"])
    asked = Options(launcher=options["launcher"], seed=options["seed"], library=options["library"])
    verdict = check_program(path, asked)
    if not verdict.ok or verdict.plan is None:
        refuse(Exit.PROGRAM, verdict.diagnostics, output_format, verdict.sources)
    return asked_by_plan(verdict.plan, verdict.profiles, options["at_ball"], str(path))


def said_of(
    lesson: AskedLesson, offset_s: float | None, at_ball: int | None
) -> tuple[float, float] | Diagnostic | None:
    """When a ball left (UTC), and where in the film a person says that it does."""
    if offset_s is None:
        return None
    left = [one.left_utc_s for one in lesson.balls if at_ball in (None, one.number)]
    if not left:
        return NO_SUCH_MARK.report(f"no ball {at_ball} left", help="leave --at-ball out")
    return left[0], offset_s
