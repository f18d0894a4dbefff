"""``feedscript journal``: the lessons kept on this machine: copied, exported, forgotten."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from functools import wraps
from pathlib import Path
from typing import ParamSpec

import click
import msgspec

from feedscript.cli.options import (
    FOLDER,
    format_option,
    journal_option,
    out_option,
    player_option,
)
from feedscript.cli.output import Exit, answer, refuse, writing
from feedscript.diagnostics import FeedscriptError
from feedscript.formats import headed
from feedscript.host.private_file import write_private
from feedscript.journal.clips import ClipKept, clips_folder, clips_there, lessons_with
from feedscript.journal.queries import session_numbers
from feedscript.journal.redaction import player_names
from feedscript.journal.retention import back_up, delete_lessons, forget_player
from feedscript.journal.store import read_journal
from feedscript.review.report.export import as_text, balls_csv, lessons_document
from feedscript.review.report.lesson import Lesson, lessons_of_player, read_lesson
from feedscript.review.report.words import day, iso
from feedscript.review.tables.files import Form, files_of, see_that_it_is_there
from feedscript.review.tables.tables import tables_of
from feedscript.told_units import ball_words

P = ParamSpec("P")


def reports_trouble(command: Callable[P, None]) -> Callable[P, None]:
    """Turn a diagnostic that was raised into the rendered one and exit code 1."""

    @wraps(command)
    def guarded(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            command(*args, **kwargs)
        except FeedscriptError as trouble:
            asked = str(kwargs.get("output_format", "text"))
            refuse(Exit.PROGRAM, [trouble.diagnostic], asked)

    return guarded


@click.group()
def command() -> None:
    """The lessons kept on this machine: list, copy, export or delete them, forget a player."""


@command.command("list")
@journal_option()
@format_option
@reports_trouble
def list_lessons(journal_path: Path, output_format: str) -> None:
    """List the lessons, oldest first."""
    lessons, _ = _kept(journal_path)
    rows = [_row(lesson) for lesson in lessons] or ["the journal is empty"]
    plain = headed("journal-list", {"lessons": [_as_json(lesson) for lesson in lessons]})
    answer(output_format, plain, "\n".join(rows))


def _kept(journal_path: Path) -> tuple[list[Lesson], tuple[str, ...]]:
    """Every lesson, oldest first, and every player's name."""
    journal = read_journal(journal_path)
    try:
        lessons = [read_lesson(journal, number) for number in session_numbers(journal)]
        return lessons, tuple(player_names(journal.rows))
    finally:
        journal.close()


def _row(lesson: Lesson) -> str:
    kind = "rehearsal, " if lesson.rehearsal else ""
    return (
        f"{lesson.number:>4}  {day(lesson.begun_utc_s)}  {lesson.title}  "
        f"({kind}{ball_words(len(lesson.balls))}, {lesson.ending or 'not ended'})"
    )


def _as_json(lesson: Lesson) -> dict[str, object]:
    return {
        "lesson": lesson.number,
        "title": lesson.title,
        "begun": iso(lesson.begun_utc_s),
        "ending": lesson.ending,
        "rehearsal": lesson.rehearsal,
        "balls": len(lesson.balls),
    }


@command.command("back-up")
@out_option("a whole copy, where no file is yet.", required=True, only_new=True)
@journal_option()
@format_option
@reports_trouble
def copy(out: Path, journal_path: Path, output_format: str) -> None:
    """Write a whole copy of the journal to a new file, also while a lesson runs."""
    back_up(journal_path, out)
    plain = headed("journal-back-up", {"ok": True, "file": str(out)})
    answer(output_format, plain, f"copied to {out}")


@command.command()
@out_option("the balls, .csv or .json.", required=True, piped=".csv")
@player_option
@journal_option()
@format_option
@reports_trouble
def export(out: Path, player: str | None, journal_path: Path, output_format: str) -> None:
    """Write every ball of every lesson, or one player's alone, and say which clips there are."""
    if out.suffix.lower() not in (".csv", ".json"):
        raise click.UsageError("end the file's name with .csv or .json")
    lessons, names = _kept(journal_path)
    if player is not None:
        lessons = lessons_of_player(lessons, player, names)
    clips = _clips(journal_path, player)
    csv = out.suffix.lower() == ".csv"
    text = balls_csv(lessons) if csv else as_text(lessons_document(lessons, clips))
    with writing(out):
        write_private(out, text.encode())
    plain = {
        "ok": True,
        "file": str(out),
        "lessons": len(lessons),
        "clips": [_clips_plain(journal_path, *one) for one in clips.items()],
    }
    rows = [f"wrote {out}: {len(lessons)} lessons"]
    rows += [_clips_row(journal_path, *one) for one in clips.items()]
    answer(output_format, headed("journal-export", plain), "\n".join(rows))


@command.command()
@out_option("the tables and what they hold, into this folder.", required=True, kind=FOLDER)
@click.option(
    "--kind",
    type=click.Choice(["csv", "xlsx", "parquet"]),
    default="csv",
    show_default=True,
    help="A CSV each, one workbook (extra: tables), or Parquet (extra: parquet).",
)
@player_option
@journal_option()
@format_option
@reports_trouble
def tables(
    out: Path, kind: Form, player: str | None, journal_path: Path, output_format: str
) -> None:
    """Write lessons, balls, exercises, players, goals and landings as tables, for a spreadsheet or
    a program; CSV and Parquet as a data package that says what each column means."""
    see_that_it_is_there(kind)
    lessons, names = _kept(journal_path)
    if player is not None:
        lessons = lessons_of_player(lessons, player, names)
    made = tables_of(lessons)
    written = files_of(made, kind, datetime.now(UTC))
    with writing(out):
        out.mkdir(parents=True, exist_ok=True)
        for name, content in written.items():
            write_private(out / name, content)
    rows = {table.name: len(table.rows) for table in made}
    paths = [str(out / name) for name in written]
    words = [f"wrote {path}" for path in paths]
    words.append(", ".join(f"{name}: {count} rows" for name, count in rows.items()))
    plain = headed("journal-tables", {"ok": True, "files": paths, "rows": rows})
    answer(output_format, plain, "\n".join(words))


def _clips(journal_path: Path, player: str | None) -> dict[int, list[ClipKept]]:
    """The clips that there are of every lesson, or of those that a player was in: one may show
    whoever stood about."""
    journal = read_journal(journal_path)
    try:
        rows = journal.rows
        numbers = session_numbers(journal) if player is None else lessons_with(rows, player)
        found = {number: clips_there(journal, number) for number in numbers}
        return {number: clips for number, clips in found.items() if clips}
    finally:
        journal.close()


def _clips_plain(journal_path: Path, number: int, clips: list[ClipKept]) -> dict[str, object]:
    folder = clips_folder(journal_path, number)
    return {"lesson": number, "files": [str(folder / one.file) for one in clips]}


def _clips_row(journal_path: Path, number: int, clips: list[ClipKept]) -> str:
    balls = ", ".join(str(one) for one in sorted({one.feed_id for one in clips}))
    folder = clips_folder(journal_path, number)
    return f"pictures of lesson {number} (other people may be in them): {folder}, balls {balls}"


@command.command()
@click.argument("name")
@journal_option()
@format_option
@reports_trouble
def forget(name: str, journal_path: Path, output_format: str) -> None:
    """Take the player NAME out of every lesson. What was recorded stays, without the name."""
    held: dict[str, int] = msgspec.to_builtins(forget_player(journal_path, name))
    where = _counts(held, "lessons", "balls", "notes")
    words = f"{name} is forgotten: taken out of {where}; what was recorded stays"
    if gone := _counts(held, "shots", "clips"):
        words += f"\ndeleted with it: {gone} (shots that a film suggested, clips of these lessons)"
    still = "copies, reports and programs that you made hold the name still"
    plain = headed("journal-forget", {"ok": True, **held})
    answer(output_format, plain, f"{words}\n{still}")


def _counts(held: dict[str, int], *words: str) -> str:
    told = [(held[word], word) for word in words if held[word]]
    return ", ".join(f"{n} {word if n != 1 else word.removesuffix('s')}" for n, word in told)


@command.command()
@click.argument("numbers", metavar="LESSON...", type=int, nargs=-1)
@click.option("--before", type=click.DateTime(["%Y-%m-%d"]), help="All lessons before this day.")
@click.confirmation_option(prompt="The lessons are gone for good then. Delete them?")
@journal_option()
@format_option
@reports_trouble
def delete(
    numbers: tuple[int, ...], before: datetime | None, journal_path: Path, output_format: str
) -> None:
    """Delete whole lessons, by their numbers or by age."""
    if bool(numbers) == (before is not None):
        raise click.UsageError("name lessons, or give --before 2027-01-31")
    if before is not None:
        journal = read_journal(journal_path)
        try:
            numbers = session_numbers(journal, before.timestamp())
        finally:
            journal.close()
    balls = delete_lessons(journal_path, numbers)
    words = f"deleted: {', '.join(map(str, numbers))} (with {ball_words(balls)})"
    plain = {"ok": True, "lessons": list(numbers), "balls": balls}
    answer(output_format, headed("journal-delete", plain), words)
