"""``feedscript review``: what a lesson came to: a report, its figures, cue marks for the video.

Or what all lessons of one player came to.
"""

from __future__ import annotations

from datetime import datetime
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import click
import msgspec
from click.core import ParameterSource

from feedscript.cli.after.journal import reports_trouble
from feedscript.cli.after.record import write_record
from feedscript.cli.language import language_option, tongue_of
from feedscript.cli.options import (
    FILE,
    FOLDER,
    format_option,
    journals_option,
    out_option,
    player_option,
)
from feedscript.cli.output import print_json, tell, writing
from feedscript.diagnostics import Diagnostic, FeedscriptError, Page
from feedscript.host.private_file import write_private
from feedscript.journal.redaction import player_names
from feedscript.journal.store import Journal, default_journal_path, read_journal
from feedscript.override import override
from feedscript.review.report import words
from feedscript.review.report.export import as_text, balls_csv, review_json
from feedscript.review.report.film.section import film_lines
from feedscript.review.report.html import Review, report_html, review_of
from feedscript.review.report.lesson import (
    Lesson,
    earlier_lessons,
    lesson_of_player,
    read_lesson,
    sync_tones_utc_s,
)
from feedscript.review.report.pictures import write_pictures
from feedscript.review.video.chapters import as_ffmetadata, as_matroska, chapters_of
from feedscript.review.video.cues import Cue, Track, as_webvtt, by_the_video, cues_of
from feedscript.review.video.sync import VideoClock, tones_in, video_clock
from feedscript.tongues.tongue import Tongue
from feedscript.units import Dimension, UnitError, parse_quantity
from feedscript.watch.frames.pages import NEEDS_VIDEO

#: What a file marks in a video, for players, for ffmpeg and for programs that make Matroska.
MARKS = (".vtt", ".ffmetadata", ".xml")
ENDINGS = (".html", ".csv", ".json", *MARKS)
#: Copies of a film, with chapters in them.
FILMS = (".mkv", ".mp4", ".mov")

NO_SUCH_MARK = Page(
    slug="no-such-mark",
    title="The moment that lines the video up is not in the lesson",
    why=(
        "`--offset` is the place in the video at which a ball leaves, the lesson's first if none "
        "is named; `--tone` is the number of a sync tone that the lesson played."
    ),
)


class Time(click.ParamType[float]):
    """A time with its unit, as the language writes it."""

    name = "time"

    @override
    def convert(
        self, value: str, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        try:
            return parse_quantity(value, Dimension.TIME)
        except UnitError as problem:
            self.fail(str(problem), param, ctx)


@click.command()
@click.argument("number", metavar="[LESSON]", type=int, required=False)
@journals_option
@out_option(f"{', '.join(ENDINGS)}.", piped=".json")
@player_option
@click.option("--record", is_flag=True, help="All lessons of --player, in all journals.")
@click.option("--family", is_flag=True, help="A page in plain words for the family of --player.")
@click.option("--since", type=click.DateTime(["%Y-%m-%d"]), help="Only lessons from this day on.")
@click.option(
    "--charts",
    type=FOLDER,
    help="Also write each player's charts into this folder, as PNG (extra: plots).",
)
@click.option("--sound", type=FILE, help="The video's sound (WAV), to find the sync tone in.")
@click.option(
    "--tone", type=click.IntRange(1), help="Which of the lesson's tones is the first in --sound."
)
@click.option("--offset", type=Time(), help="Where in the video the first ball leaves: '12.5 s'.")
@click.option("--at-ball", type=int, help="The ball that --offset is the place of, by its number.")
@click.option(
    "--cues",
    type=click.Choice([track.value for track in Track]),
    default=Track.TURNS.value,
    show_default=True,
    help="What is marked in a video: chapters by turn or by ball, or metadata of each ball (.vtt).",
)
@click.option(
    "--film",
    type=FILE,
    help="The video itself: -o FILE.mkv, .mp4 or .mov is a copy with the chapters in it (extra: "
    "video).",
)
@language_option
@format_option
@reports_trouble
def command(
    number: int | None,
    journal_paths: tuple[Path, ...],
    out: Path | None,
    player: str | None,
    record: bool,
    family: bool,
    since: datetime | None,
    language: str | None,
    output_format: str,
    **of_a_lesson: Any,
) -> None:
    """Review a lesson by its number in the journal; the latest one if none is named.

    With --record or --family: all lessons of one player.
    """
    if not (record or family):
        if since is not None:
            raise click.UsageError("--since goes with --record or --family")
        if len(journal_paths) > 1:
            raise click.UsageError("a lesson stands in one journal: give --journal once")
        path = next(iter(journal_paths), default_journal_path())
        of_a_lesson |= {"language": language, "output_format": output_format}
        review_lesson(number, path, out, player, **of_a_lesson)
        return
    if player is None:
        raise click.UsageError("say whose lessons: --player NAME")
    _see_that_nothing_is_of_a_lesson(number)
    if record and family:
        raise click.UsageError("give --record or --family, not both")
    write_record(
        player,
        journal_paths,
        out=out,
        family=family,
        since=since,
        language=language,
        output_format=output_format,
    )


#: What is about one lesson, and nothing to say of all of them.
_OF_A_LESSON = ("charts", "sound", "tone", "offset", "at_ball", "cues", "film")


def _see_that_nothing_is_of_a_lesson(number: int | None) -> None:
    context = click.get_current_context()
    given = (
        f"--{name.replace('_', '-')}"
        for name in _OF_A_LESSON
        if context.get_parameter_source(name) is ParameterSource.COMMANDLINE
    )
    odd = next(given, None if number is None else f"lesson {number}")
    if odd is not None:
        raise click.UsageError(f"{odd} is about one lesson; --record and --family go over all")


def review_lesson(
    number: int | None,
    journal_path: Path,
    out: Path | None,
    player: str | None,
    charts: Path | None,
    cues: str,
    film: Path | None,
    language: str | None,
    output_format: str,
    **mark: Any,
) -> None:
    """One lesson's review, to where it was asked for."""
    _see_that_it_can_be_written(out, film, Track(cues))
    if mark["sound"] is not None and mark["offset"] is not None:
        raise click.UsageError("give --sound or --offset, not both")
    journal = read_journal(journal_path)
    try:
        whole = read_lesson(journal, number)
        clock = _clock(journal, whole, **mark)
        earlier = earlier_lessons(journal, whole)
        names = player_names(journal.rows)
    finally:
        journal.close()
    lesson = whole if player is None else lesson_of_player(whole, player, names)
    review = review_of(lesson, earlier, sheet=player is not None)
    if charts is not None:
        _write_charts(review, charts)
    if out is not None:
        own = "" if player is None else next(iter(lesson.languages.values()), "")
        marked = Marked(clock=clock, track=Track(cues), film=film)
        _write(review, out, marked, tongue_of(language, own))
    elif output_format == "json":
        print_json(review_json(review))
    elif charts is None:
        _print(review)


def _write_charts(review: Review, folder: Path) -> None:
    with writing(folder):
        drawn = write_pictures(review, folder)
    if isinstance(drawn, Diagnostic):
        raise FeedscriptError(drawn)
    for path in drawn:
        tell(f"wrote {path}")
    if not drawn:
        tell(f"nothing to draw into {folder}: no ball of this lesson was recorded")


class Marked(msgspec.Struct, frozen=True, kw_only=True):
    """A video: its clock, what is marked in it, and the video itself where it is to be copied."""

    clock: VideoClock
    track: Track
    film: Path | None

    def cues(self, lesson: Lesson) -> tuple[Cue, ...]:
        """The marks of a lesson."""
        return cues_of(by_the_video(lesson, self.clock), self.clock.start_utc_s, self.track)


def _see_that_it_can_be_written(out: Path | None, film: Path | None, track: Track) -> None:
    endings, ending = (
        (ENDINGS if film is None else FILMS),
        "" if out is None else out.suffix.lower(),
    )
    if (film is not None or out is not None) and ending not in endings:
        raise click.UsageError(f"end the file's name (-o) with one of: {', '.join(endings)}")
    if track is Track.METADATA and ending in (*FILMS, *MARKS[1:]):
        raise click.UsageError("--cues metadata is for .vtt; chapters are by turn or by ball")
    if film is None or out is None:
        return
    if find_spec("av") is None:
        message = "films are copied with a package that is not installed: av"
        help_words = "pip install 'feedscript[video]'"
        raise FeedscriptError(NEEDS_VIDEO.report(message, help=help_words, device="review"))
    if out.exists() and film.exists() and out.samefile(film):
        raise click.UsageError(f"{out} is the video itself: name another file for the copy")


def _write(review: Review, out: Path, marked: Marked, tongue: Tongue) -> None:
    ending, clock = out.suffix.lower(), marked.clock
    with writing(out):
        if marked.film is not None:
            from feedscript.review.video.film import write_with_chapters

            write_private(out, b"")
            chapters = chapters_of(marked.cues(review.lesson), tongue)
            write_with_chapters(marked.film, out, review.title, chapters)
        else:
            write_private(out, _content(review, ending, marked, tongue).encode())
    told = clock.tones and ending in (*MARKS, *FILMS)
    tell(f"wrote {out}" + (f", {clock.words()}" if told else ""))


def _clock(
    journal: Journal,
    lesson: Lesson,
    sound: Path | None,
    tone: int | None,
    offset: float | None,
    at_ball: int | None,
) -> VideoClock:
    """The video's clock; one that begins with the lesson where no video is named."""
    if sound is not None:
        played = sync_tones_utc_s(journal, lesson)
        if tone is not None and tone > len(played):
            raise _no_such_mark(f"the lesson played {len(played)} sync tone(s)")
        first = None if tone is None else tone - 1
        return video_clock(tones_in(sound) if played else (), played, str(sound), first)
    if offset is None:
        return VideoClock(lesson.begun_utc_s)
    left = [one.left_utc_s for one in lesson.balls if at_ball in (None, one.number)]
    if not left:
        raise _no_such_mark("no ball left" if at_ball is None else f"no ball {at_ball} left")
    return VideoClock(left[0] - offset)


def _no_such_mark(message: str) -> FeedscriptError:
    help_words = "`feedscript review -o balls.csv` lists the balls with their numbers"
    return FeedscriptError(NO_SUCH_MARK.report(message, help=help_words))


def _content(review: Review, ending: str, marked: Marked, tongue: Tongue) -> str:
    """What a file of this ending holds; its ending was checked before."""
    match ending:
        case ".html":
            return report_html(review, tongue)
        case ".csv":
            return balls_csv([review.lesson])
        case ".json":
            return as_text(review_json(review))
        case ".ffmetadata":
            chapters = chapters_of(marked.cues(review.lesson), tongue)
            return as_ffmetadata(review.title, chapters)
        case ".xml":
            return as_matroska(chapters_of(marked.cues(review.lesson), tongue), tongue)
        case _:
            is_data, cues = marked.track is Track.METADATA, marked.cues(review.lesson)
            return as_webvtt(review.title, cues, metadata=is_data, tongue=tongue)


def _print(review: Review) -> None:
    tell(review.title)
    tell(words.facts(review.lesson, sheet=review.sheet))
    for one in review.players:
        whole = one.whole
        errors = ", ".join(f"{count} {error.value}" for error, count in whole.errors.items())
        tell(
            f"  {words.name_of(one.player)}: {whole.share.made} of {whole.share.recorded} in "
            f"({words.percent(whole.share.value)}; {errors}); "
            f"{words.waited(one.waiting)}suggestion: {whole.next_step.value}"
        )
    for line in () if review.sheet else film_lines(review.lesson):
        tell(line)
