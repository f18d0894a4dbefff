"""``feedscript review``: what a lesson came to: a report, its figures, cue marks for the video."""

from __future__ import annotations

import json
from pathlib import Path

import click

from feedscript.cli.journal import journal_option, reports_trouble
from feedscript.cli.output import format_option, print_json
from feedscript.diagnostics import FeedscriptError
from feedscript.review.cues import as_webvtt, ball_cues, chapter_cues
from feedscript.review.figures import PlayerFigures, player_figures
from feedscript.review.lesson import (
    NO_SUCH_PLAYER,
    NO_SYNC_TONE,
    Lesson,
    lesson_before,
    read_lesson,
    sync_tone_utc_s,
)
from feedscript.review.pictures import write_pictures
from feedscript.review.report import day, percent, report_csv, report_html, report_json
from feedscript.review.sync import find_tone, read_wav
from feedscript.session.journal import Journal, read_journal
from feedscript.units import Dimension, UnitError, parse_quantity

File = click.Path(path_type=Path, dir_okay=False)

ENDINGS = (".html", ".csv", ".json", ".vtt")


class Time(click.ParamType[float]):
    """A time with its unit, as the language writes it."""

    name = "time"

    def convert(
        self, value: str, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        try:
            return parse_quantity(value, Dimension.TIME)
        except UnitError as problem:
            self.fail(str(problem), param, ctx)


@click.command()
@click.argument("number", metavar="[LESSON]", type=int, required=False)
@journal_option
@click.option("-o", "--out", type=File, help="The file to write: .html, .csv, .json or .vtt.")
@click.option("--player", help="Only this player: a page to hand out that shows nobody else.")
@click.option(
    "--pictures",
    type=click.Path(path_type=Path, file_okay=False),
    help="Also write each player's charts into this folder, as PNG (extra: plots).",
)
@click.option("--sound", type=File, help="The video's sound (WAV), to find the sync tone in.")
@click.option(
    "--offset",
    type=Time(),
    help="Where in the video the sync tone is (the first ball, if no tone was played): '12.5 s'.",
)
@click.option(
    "--cues",
    type=click.Choice(["chapters", "balls"]),
    default="chapters",
    show_default=True,
    help="What a .vtt file marks: each turn as a chapter, or each ball as metadata.",
)
@format_option
@reports_trouble
def command(
    number: int | None,
    journal_path: Path,
    out: Path | None,
    player: str | None,
    pictures: Path | None,
    sound: Path | None,
    offset: float | None,
    cues: str,
    output_format: str,
) -> None:
    """Review a lesson by its number in the journal; the latest one if none is named."""
    if out is not None and out.suffix.lower() not in ENDINGS:
        raise click.UsageError(f"end the file's name with one of: {', '.join(ENDINGS)}")
    journal = read_journal(journal_path)
    try:
        lesson = read_lesson(journal, number)
        before = lesson_before(journal, lesson)
        video_start = _video_start(journal, lesson, sound, offset)
    finally:
        journal.close()
    players = _chosen(player_figures(lesson, before), player)
    if pictures is not None:
        for path in write_pictures(players, pictures):
            click.echo(f"wrote {path}")
    if out is not None:
        out.write_text(_text(lesson, players, before, out, player, video_start, cues), "utf-8")
        click.echo(f"wrote {out}")
    elif output_format == "json":
        print_json(report_json(lesson, players))
    elif pictures is None:
        _print(lesson, players)


def _chosen(players: tuple[PlayerFigures, ...], player: str | None) -> tuple[PlayerFigures, ...]:
    if player is None:
        return players
    found = tuple(one for one in players if one.player == player)
    if not found:
        names = ", ".join(one.player for one in players if one.player) or "nobody by name"
        raise FeedscriptError(
            NO_SUCH_PLAYER.report(
                f"{player!r} had no ball in this lesson", help=f"on turn were: {names}"
            )
        )
    return found


def _video_start(
    journal: Journal, lesson: Lesson, sound: Path | None, offset: float | None
) -> float | None:
    """The moment (UTC) at which the video begins; None when nothing says so."""
    if sound is None and offset is None:
        return None
    mark = sync_tone_utc_s(journal, lesson)
    if mark is None and lesson.balls and sound is None:
        mark = lesson.balls[0].left_utc_s
    if mark is None:
        raise FeedscriptError(
            NO_SYNC_TONE.report(
                "no sync tone was played in this lesson",
                help="give the first ball's place in the video instead: --offset '12.5 s'",
            )
        )
    return mark - (find_tone(read_wav(sound), str(sound)) if sound is not None else offset or 0.0)


def _text(
    lesson: Lesson,
    players: tuple[PlayerFigures, ...],
    before: Lesson | None,
    out: Path,
    player: str | None,
    video_start: float | None,
    cues: str,
) -> str:
    """What a file of this ending holds; its ending was checked before."""
    match out.suffix.lower():
        case ".html":
            return report_html(lesson, players, before)
        case ".csv":
            return report_csv(lesson, player)
        case ".json":
            return json.dumps(report_json(lesson, players), indent=2, ensure_ascii=False) + "\n"
        case _:
            start = lesson.begun_utc_s if video_start is None else video_start
            make = chapter_cues if cues == "chapters" else ball_cues
            return as_webvtt(lesson.title, make(lesson, start), metadata=cues == "balls")


def _print(lesson: Lesson, players: tuple[PlayerFigures, ...]) -> None:
    click.echo(f"{lesson.title}, lesson {lesson.number}, {day(lesson.begun_utc_s)}")
    click.echo(f"{len(lesson.balls)} balls left the launcher")
    for one in players:
        whole = one.whole
        errors = ", ".join(f"{count} {error.value}" for error, count in whole.errors.items())
        click.echo(
            f"  {one.player or 'nobody in particular'}: {percent(whole.share_in)} of "
            f"{whole.recorded} in ({errors}); suggestion: {whole.next_step.value}"
        )
