"""What ``feedscript tune --watch`` does: landings to tune by, measured in a film of a lesson."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from feedscript.cli.after.watch import court_words, look_for_balls, look_for_the_court
from feedscript.cli.output import Exit, print_diagnostics, refuse, tell
from feedscript.diagnostics import Diagnostic
from feedscript.flight.motion.conditions import Conditions
from feedscript.journal.queries import session_numbers, session_of
from feedscript.journal.store import Journal, read_journal
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.tuning.pages import CANNOT_TUNE
from feedscript.launcher.tuning.shots import Tape
from feedscript.launcher.tuning.write import write_beside
from feedscript.plan.aiming.flying import conditions_or_why

if TYPE_CHECKING:
    from feedscript.session.state.events import FeedMarked
    from feedscript.watch.asked import AskedLesson


#: How a wind is called that blows towards -x and -y, and +x and +y.
_WINDS = (("towards deuce", "towards ad"), ("head", "tail"))


class Landings(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """A lesson's measured balls: the table that tuning reads, and where it was written; the
    launcher at the height at which it stood there, and ball and air of that lesson."""

    path: Path
    text: str
    profile: Profile
    base: Conditions


def landings_in_film(
    video: Path,
    profile: Profile,
    tape: Tape,
    beside: Path,
    output_format: str,
    options: dict[str, Any],
) -> Landings:
    """Find the court, then the lesson's balls; the table is written beside the profile. Tells each
    step, and ends the command where one cannot be done. Raises FeedscriptError."""
    options = options | {
        "number": _lesson_filmed(profile, output_format, options),
        "launcher": None,  # the program's own profile is what its balls were aimed by
    }
    looked = look_for_the_court(video, options["court"], output_format, options)
    lesson = looked.lesson
    assert lesson is not None
    whose = _whose(lesson, options["program"])
    place = place_in(lesson, profile.name, whose)
    if isinstance(place, Diagnostic):
        refuse(Exit.PROGRAM, [place], output_format)
    _step(output_format, f"1. The court in {video}\n{court_words(looked)}")
    balls = look_for_balls(looked, output_format, options)
    if output_format == "text":
        print_diagnostics((*looked.troubles(), *balls.troubles), {})
    _step(output_format, f"\n2. The balls of {whose}\n{balls.words}")
    from feedscript.watch.found import landings_csv
    from feedscript.watch.marked import marked_csv

    mine = [one for one in balls.found.landed if one.launcher == place + 1]
    marks = _marks(options["journal_path"], lesson.number)
    rows, marked = marked_csv(
        lesson, place, marks, tape.along_m, beside=[one.number for one in mine]
    )
    if not mine and not marked:
        refuse(Exit.PROGRAM, [_nothing(video, whose, len(balls.found.balls))], output_format)
    text = landings_csv(balls.found, lesson, place + 1) + rows
    landings = kept(lesson, place, text, profile, beside, _mark(lesson, options["program"]))
    if isinstance(landings, Diagnostic):
        refuse(Exit.PROGRAM, [landings], output_format)
    others = f" and {marked} that were marked by hand" if marked else ""
    _step(output_format, f"\n3. Tuned by {len(mine)} balls{others}, kept in {landings.path}")
    _step(output_format, f"   the same again: {again(beside, landings, lesson)}\n")
    return landings


def _lesson_filmed(profile: Profile, output_format: str, options: dict[str, Any]) -> int | None:
    """The lesson of the film; None where a program is named instead."""
    if options["number"] is not None or options["program"] is not None:
        number: int | None = options["number"]
        return number
    newest = newest_with(options["journal_path"], profile.name)
    if isinstance(newest, Diagnostic):
        refuse(Exit.PROGRAM, [newest], output_format)
    return newest


def _whose(lesson: AskedLesson, program: str | None) -> str:
    return f"the program {program}" if lesson.number is None else f"lesson {lesson.number}"


def _mark(lesson: AskedLesson, program: str | None) -> str:
    """What the table's file is called by, beside the profile's name."""
    return Path(program or "").stem if lesson.number is None else f"lesson-{lesson.number}"


def again(profile: Path, landings: Landings, lesson: AskedLesson) -> str:
    """The command that tunes by the table alone, in the lesson's air and with its balls."""
    court, balls = lesson.plan.court, lesson.plan.balls
    words = ["feedscript", "tune", str(profile), "--landings", str(landings.path)]
    words += ["--air", f"{court.air_c:g} C", "--ball", balls.kind]
    words += ["--altitude", f"{court.altitude_m:g} m"] if court.altitude_m else []
    words += ["--pressure", f"{court.pressure_hpa:g} hPa"] if court.pressure_hpa else []
    words += ["--humidity", f"{100 * court.humidity:g} %"] if court.humidity else []
    words += ["--wear", f"{balls.wear:g}"] if balls.wear else []
    wind = [
        f"{way[blows > 0]} {abs(blows):g} m/s"
        for way, blows in zip(_WINDS, court.wind_mps, strict=True)
        if blows
    ]
    words += ["--wind", ", ".join(wind)] if wind else []
    return shlex.join(words)


def kept(
    lesson: AskedLesson, place: int, text: str, profile: Profile, beside: Path, mark: str
) -> Landings | Diagnostic:
    """A table of landings, written beside the profile with ``mark`` in its name, in the lesson's
    own air."""
    calibration = msgspec.structs.replace(profile.calibration, drag_factor=1.0, lift_factor=1.0)
    plain = msgspec.structs.replace(profile, calibration=calibration)
    base = conditions_or_why(lesson.plan.court, lesson.plan.balls, plain)
    if isinstance(base, Diagnostic):
        return base
    path = write_beside(beside, text, mark=mark, ending=".csv")
    if isinstance(path, Diagnostic):
        return path
    height_m = lesson.plan.launchers[place].mouth_m[2]
    standing = msgspec.structs.replace(profile, mouth_height_m=height_m)
    return Landings(path=path, text=text, profile=standing, base=base)


def _marks(journal_path: Path, number: int | None) -> Mapping[int, FeedMarked]:
    """Where a person said that balls came down, in a lesson that measured."""
    if number is None:
        return {}
    from feedscript.watch.marked import marks_of

    journal = read_journal(journal_path)
    try:
        return marks_of(journal, number)
    finally:
        journal.close()


def newest_with(journal_path: Path, name: str) -> int | Diagnostic:
    """The newest real lesson on a launcher of this name. Raises FeedscriptError."""
    journal = read_journal(journal_path)
    try:
        for number in reversed(session_numbers(journal)):
            if name in _launchers(journal, number):
                return number
    finally:
        journal.close()
    return CANNOT_TUNE.report(
        f"no lesson in the journal was on {name!r}",
        help="say which lesson was filmed: --lesson NUMBER (feedscript journal list)",
        device=str(journal_path),
    )


def _launchers(journal: Journal, number: int) -> tuple[str, ...]:
    """The launchers of a real lesson; none where its head cannot be read."""
    head = session_of(journal, number)
    if head is None or head.rehearsal:
        return ()
    try:
        profiles = msgspec.json.decode(head.profiles, type=tuple[_Named, ...])
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return ()
    return tuple(one.name for one in profiles)


class _Named(msgspec.Struct, frozen=True):
    name: str


def place_in(lesson: AskedLesson, name: str, whose: str) -> int | Diagnostic:
    """Which of the lesson's launchers goes by this name, counted from 0; ``whose``: the lesson in
    words."""
    there = [one.name for one in lesson.profiles]
    if there.count(name) == 1:
        return there.index(name)
    how = "two or more launchers" if name in there else "no launcher"
    return CANNOT_TUNE.report(
        f"{whose} had {how} called {name!r}: {', '.join(there)}",
        help="give that launcher's own profile, or another lesson with --lesson",
        device="tune",
    )


def _nothing(video: Path, whose: str, balls: int) -> Diagnostic:
    return CANNOT_TUNE.report(
        f"none of the {balls} balls of {whose} was measured in the film",
        help="the reasons stand beside the balls; film from behind the receiver, high and fixed, "
        "and see with `feedscript watch VIDEO -o over.png` that the court was found",
        device=str(video),
    )


def _step(output_format: str, words: str) -> None:
    if output_format == "text":
        tell(words)
