"""``feedscript watch``: where the camera of a film stands, and where a lesson's balls landed.

Nothing is kept of a film but numbers; a picture is written only where one is asked for.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click

from feedscript.cli.after.journal import reports_trouble
from feedscript.cli.after.review import Time
from feedscript.cli.options import (
    FILE,
    OF_THE_PROGRAM,
    format_option,
    journal_option,
    launcher_option,
    library_option,
    out_option,
    seed_option,
)
from feedscript.cli.output import (
    Exit,
    answer,
    leave,
    nobody_may_read,
    print_diagnostics,
    refuse,
    tell,
    writing,
)
from feedscript.cli.prove.surroundings import BadOptionError, quantity_of, within
from feedscript.court.landmarks import End
from feedscript.court.lines import COURTS, Court
from feedscript.diagnostics import Diagnostic, as_json
from feedscript.flight.aim.what_if import Bound
from feedscript.formats import headed
from feedscript.host.private_file import write_private
from feedscript.told_units import ball_words
from feedscript.units import Dimension
from feedscript.watch.frames.pages import NEEDS_VIDEO, STOPPED

if TYPE_CHECKING:
    from feedscript.cli.after.watch_balls import Balls, Looked, Opened, Seen
    from feedscript.watch.camera.camera import Camera
    from feedscript.watch.frames.video import Video
    from feedscript.watch.ruler.find import Ruler

F = TypeVar("F", bound=Callable[..., Any])

_SURE = Bound("a standard deviation on the ground", 0.005, 1.0, "m")


#: How a film, and a lesson in it, are named: also for ``feedscript tune --watch``.
_FILM_OPTIONS = (
    click.option(
        "--court",
        type=click.Choice(list(COURTS)),
        default="singles",
        show_default=True,
        help="Whose lines are on the ground.",
    ),
    click.option(
        "--camera-at",
        type=click.Choice([end.value for end in End]),
        help="On whose side of the net the camera stands.",
    ),
    click.option(
        "--mirrored",
        is_flag=True,
        help="The film is mirrored, as some phones' front cameras do: exchange left and right.",
    ),
    click.option("--points", type=FILE, help="Points of the court shown in the picture (TOML)."),
    click.option(
        "--sure", default="5 cm", show_default=True, help="How surely places must be known."
    ),
    click.option("--lesson", "number", type=int, help="The lesson of this number: find its balls."),
    journal_option(),
    click.option("--program", help="This program's balls, by its own times: without a journal."),
    library_option,
    seed_option,
    click.option("--offset", type=Time(), help="Where in the video the first ball leaves: '12 s'."),
    click.option("--at-ball", type=int, help="The ball that --offset is the place of, by number."),
)


def film_options(command: F) -> F:
    """``--court`` … ``--at-ball``."""
    for option in reversed(_FILM_OPTIONS):
        command = option(command)
    return command


@click.command()
@click.argument("video", type=FILE)
@film_options
@launcher_option(OF_THE_PROGRAM)
@out_option(
    "a picture (.png) with the court drawn over the film's still; with --lesson what was found "
    "(.json), or the landings for tune (.csv)."
)
@click.option("--by-sound", is_flag=True, help="Flight times by sound alone: no picture is needed.")
@click.option("--shots", is_flag=True, help="Also look for players' shots on their way back.")
@click.option(
    "--into-journal",
    "record",
    is_flag=True,
    help="Keep in the journal where the lesson's balls landed.",
)
@click.option("--clips", is_flag=True, help="Keep pictures of each ball beside the journal.")
@click.option("--look", is_flag=True, help="Look at court and balls on a page of this machine.")
@click.option("--no-browser", is_flag=True, help="Show the link only.")
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="The page's port.")
@click.option("--points-out", type=FILE, help="Also write where the court's points were found.")
@format_option
@reports_trouble
def command(video: Path, court: str, output_format: str, **options: Any) -> None:
    """Find the court in a film, and with --lesson (or --program) where its balls landed.

    Do the lines of the court lie where they should? --look shows them on a page, where you put
    them right and say yes or no to each ball. Without it look at the picture that -o FILE.png
    writes, and correct the points of --points-out. The film stays on this machine.
    """
    _see_that_options_fit(options["out"], options)
    try:
        if options["by_sound"]:
            _listened(video, court, output_format, options)
        _watched(video, court, output_format, options)
    except KeyboardInterrupt:
        _stopped(video, options["out"], output_format)


def _listened(video: Path, court: str, output_format: str, options: dict[str, Any]) -> NoReturn:
    _needs_video(output_format)
    from feedscript.cli.after.watch_sound import listened

    listened(video, COURTS[court], output_format, options)


def _watched(video: Path, court: str, output_format: str, options: dict[str, Any]) -> None:
    out: Path | None = options["out"]
    drawn = out if not _of_balls(options) or _ending(out) == ".png" else None
    if options["look"]:
        from feedscript.cli.after.watch_look import looked_at

        looked, balls = looked_at(open_film(video, court, output_format, options), options)
        files = _written(looked, drawn, options["points_out"])
    else:
        looked = look_for_the_court(video, court, output_format, options)
        files = _written(looked, drawn, options["points_out"])
        balls = look_for_balls(looked, output_format, options) if looked.lesson else None
    if balls is not None:
        for path, text in balls.files(out):
            with writing(path):
                write_private(path, text)
            files.append(path)
        if options["record"]:
            balls = _recorded(looked, balls, options["journal_path"])
        if options["clips"]:
            balls = _with_clips(looked, balls, output_format, options["journal_path"])
        forget(out)
    _answer(looked, files, output_format, balls)


def forget(out: Path | None) -> None:
    """What was kept of an interrupted run is of no use any more."""
    from feedscript.watch.unfinished import answers_beside, beside

    if out is not None:
        beside(out).unlink(missing_ok=True)
        answers_beside(out).unlink(missing_ok=True)


def _stopped(video: Path, out: Path | None, output_format: str) -> NoReturn:
    """Ctrl-C: what is done, and how to go on."""
    from feedscript.watch.unfinished import balls_in_file, beside

    count = 0 if out is None else balls_in_file(beside(out))
    if count:
        message = f"stopped; {ball_words(count)} done and kept in {beside(out or Path())}"
        then = "give the same command again: it goes on from there"
    else:
        message = "stopped before a ball was kept"
        then = "with --lesson and -o FILE.json or FILE.csv each ball is kept as soon as it is done"
    refuse(Exit.PROGRAM, [STOPPED.report(message, help=then, device=str(video))], output_format)


def _recorded(looked: Looked, balls: Balls, journal_path: Path) -> Balls:
    from feedscript.cli.after.watch_balls import recorded

    return recorded(looked.seen, balls, journal_path)


def _with_clips(looked: Looked, balls: Balls, output_format: str, journal_path: Path) -> Balls:
    from feedscript.cli.after.watch_clips import with_clips

    return with_clips(looked.seen, balls, journal_path, _told(output_format))


def _told(output_format: str) -> Callable[[float], None] | None:
    return None if output_format == "json" else _progress


def open_film(video: Path, court: str, output_format: str, options: dict[str, Any]) -> Opened:
    """The film with the court as it is found in it, and the lesson of ``number``."""
    _needs_video(output_format)
    sure_m = _sure_m(options)
    from feedscript.cli.after.watch_balls import Opened, Seen, lesson_of
    from feedscript.watch.frames.sound import silent
    from feedscript.watch.frames.video import open_video, turned_over
    from feedscript.watch.ruler.anew import standings
    from feedscript.watch.ruler.stands import stills_of

    film = turned_over(open_video(video)) if options["mirrored"] else open_video(video)
    start = _start(film, COURTS[court], options["points"], output_format)
    lesson = lesson_of(COURTS[court], options, output_format) if _of_balls(options) else None
    if lesson is not None and options["offset"] is None and not film.has_sound:
        raise silent(video)  # before anybody waits for the court
    stills, unread = stills_of(film, progress=_told(output_format))
    at = None if options["camera_at"] is None else End(options["camera_at"])
    places = standings(stills, COURTS[court], camera_at=at, start=start, most_sd_m=sure_m)
    return Opened(Seen(film, places, COURTS[court], unread), lesson, at, sure_m)


def look_for_the_court(
    video: Path, court: str, output_format: str, options: dict[str, Any]
) -> Looked:
    """The court in the film, and the lesson of ``number``; ends the command where there is none."""
    opened = open_film(video, court, output_format, options)
    from feedscript.cli.after.watch_balls import Looked
    from feedscript.watch.ruler.anew import why_not

    seen = opened.seen
    if not any(one.known for one in seen.places):
        why = why_not(seen.places, seen.court, str(video))
        refuse(Exit.PROGRAM, [why, *seen.unread], output_format)
    return Looked(opened.seen, opened.lesson)


def look_for_balls(looked: Looked, output_format: str, options: dict[str, Any]) -> Balls:
    """The lesson's balls; ends the command where film and lesson cannot be laid together."""
    from feedscript.cli.after.watch_balls import balls_in

    assert looked.lesson is not None
    told = _told(output_format)
    balls = balls_in(looked.seen, looked.ruler.camera, looked.lesson, options, told)
    if isinstance(balls, Diagnostic):
        refuse(Exit.PROGRAM, [balls], output_format)
    return balls


def _of_balls(options: dict[str, Any]) -> bool:
    """Whether balls are asked for, and not the court alone."""
    return options["number"] is not None or options.get("program") is not None


def _ending(out: Path | None) -> str:
    return "" if out is None else out.suffix.lower()


def _see_that_options_fit(out: Path | None, options: dict[str, Any]) -> None:
    endings = (".png", ".json", ".csv") if _of_balls(options) else (".png",)
    if out is not None and _ending(out) not in endings:
        raise click.UsageError(f"end the name of what -o writes with {' or '.join(endings)}")
    see_that_the_program_is_enough(options)
    if options["launcher"] is not None and options["program"] is None:
        raise click.UsageError("--launcher goes with --program")
    if options["offset"] is not None and not _of_balls(options):
        raise click.UsageError("--offset goes with --lesson or --program")
    for name, option in (("record", "into-journal"), ("clips", "clips"), ("shots", "shots")):
        if options["number"] is None and options[name]:
            raise click.UsageError(f"--{option} goes with --lesson")
    if options["by_sound"]:
        _see_that_sound_is_enough(out, options)
    if options["at_ball"] is not None and options["offset"] is None and not options["program"]:
        raise click.UsageError("--at-ball goes with --offset")


def see_that_the_program_is_enough(options: dict[str, Any]) -> None:
    """Raises UsageError where options do not go with a program, or with none."""
    if options["program"] is None:
        for name in ("library", "seed"):
            if options[name] is not None:
                raise click.UsageError(f"--{name} goes with --program")
    elif options["number"] is not None:
        raise click.UsageError("give --lesson, or --program for a lesson that no journal has")


def _see_that_sound_is_enough(out: Path | None, options: dict[str, Any]) -> None:
    if not _of_balls(options) or options["camera_at"] is None:
        raise click.UsageError(
            "--by-sound goes with --lesson or --program, and --camera-at for the microphone"
        )
    named = {"record": "into-journal", "points_out": "points-out"}
    pictures = ("record", "clips", "shots", "look", "points", "points_out", "mirrored")
    if (name := next((one for one in pictures if options[one]), None)) is not None:
        raise click.UsageError(f"--{named.get(name, name)} needs pictures: leave --by-sound out")
    if out is not None and _ending(out) != ".json":
        raise click.UsageError("what is heard is written as .json")


def _needs_video(output_format: str) -> None:
    missing = [name for name in ("av", "cv2", "scipy") if find_spec(name) is None]
    if missing:
        message = f"films are read with packages that are not installed: {', '.join(missing)}"
        found = NEEDS_VIDEO.report(message, help="pip install 'feedscript[video]'", device="watch")
        refuse(Exit.USAGE, [found], output_format)


def _sure_m(options: dict[str, Any]) -> float:
    try:
        sure_m = quantity_of(options, "sure", Dimension.LENGTH) or 0.0
        within("sure", sure_m, _SURE)
    except BadOptionError as error:
        raise click.UsageError(str(error)) from error
    return sure_m


def _progress(share: float) -> None:
    """Told where a person waits: not into a file or another program."""
    if sys.stderr.isatty():
        with nobody_may_read():
            end = "\n" if share >= 1 else ""
            tell(f"\rlooking at the film: {share:4.0%}", error=True, end=end)


def _start(film: Video, court: Court, points: Path | None, output_format: str) -> Camera | None:
    """The camera by the points that were given, before anybody waits for the film."""
    from feedscript.watch.ruler.points import read_points, solve

    if points is None:
        return None
    start = solve(read_points(points, court), court, (film.width_px, film.height_px))
    if isinstance(start, Diagnostic):
        refuse(Exit.PROGRAM, [start], output_format)
    return start


def _written(looked: Looked, out: Path | None, points_out: Path | None) -> list[Path]:
    """The court drawn over each place's still, and the points of the first."""
    from feedscript.cli.after.watch_balls import numbered
    from feedscript.watch.ruler.overlay import overlay
    from feedscript.watch.ruler.points import points_text

    files: list[Path] = []
    known = [one for one in looked.seen.places if one.known is not None]
    for number, place in enumerate(known if out else (), 1):
        assert out is not None
        assert place.known is not None
        path = numbered(out, number, len(known))
        with writing(path):
            write_private(path, overlay(place.still.grey, place.known.camera, looked.seen.court))
        files.append(path)
    if points_out is not None:
        with writing(points_out):
            text = points_text(looked.ruler.camera, looked.seen.court)
            write_private(points_out, text.encode())
        files.append(points_out)
    return files


def _answer(looked: Looked, files: list[Path], output_format: str, balls: Balls | None) -> None:
    troubles = looked.troubles() + (balls.troubles if balls else ())
    if output_format == "json":
        plain = _plain(looked.seen, looked.ruler, files)
        plain["diagnostics"] = [as_json(one) for one in troubles]
        answer(output_format, headed("watch", plain | (balls.plain if balls else {})))
    else:
        print_diagnostics(troubles, {})
        tell(court_words(looked, files) + (f"\n{balls.words}" if balls else ""))
    leave(Exit.FINE)


def _plain(seen: Seen, ruler: Ruler, files: list[Path]) -> dict[str, Any]:
    film, camera = seen.film, ruler.camera
    return {
        "ok": True,
        "width_px": film.width_px,
        "height_px": film.height_px,
        "rate_hz": film.rate_hz,
        "steady": film.steady,
        "tick_s": film.tick_s,
        "duration_s": film.duration_s,
        "has_sound": film.has_sound,
        "court": seen.court.name,
        "camera": {
            "position_m": list(camera.position_m),
            "rotation": list(camera.rotation),
            "focal_px": camera.focal_px,
            "k1": camera.k1,
        },
        "lines_found": ruler.by_lines,
        "worst_sd_m": ruler.worst_sd_m,
        "area_shown": ruler.shown,
        "files": [str(path) for path in files],
    }


def court_words(looked: Looked, files: Sequence[Path] = ()) -> str:
    """A line a fact: the film, the camera, how surely the ground is known."""
    ruler, film = looked.ruler, looked.seen.film
    x, y, z = ruler.camera.position_m
    even = "" if film.steady else ", unevenly"
    rounded = f" told to {film.tick_s * 1000:.0f} ms" if film.tick_s > 0.0005 else ""
    side = "right" if x >= 0 else "left"
    whose = End.RECEIVER if y >= 0 else End.LAUNCHER
    by = "the court's lines" if ruler.by_lines else "the points alone: its lines were not found"
    sound = "with sound" if film.has_sound else "without sound"
    rows = [
        f"film      {film.width_px} x {film.height_px}, {film.rate_hz:.4g} pictures a second"
        f"{even}{rounded}, {film.duration_s:.1f} s, {sound}",
        f"camera    {z:.2f} m high, {abs(y):.2f} m from the net on the {whose.value}'s side, "
        f"{abs(x):.2f} m to the {side} of the middle as seen from the launcher",
        f"known by  {by}",
        f"ground    places are known to {ruler.worst_sd_m * 100:.1f} cm or better (one standard "
        f"deviation); {ruler.shown:.0%} of where balls land is in the picture",
    ]
    rows += [f"wrote {path}" for path in files]
    return "\n".join(rows)
