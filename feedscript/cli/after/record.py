"""What ``feedscript review --record`` and ``--family`` make: one player over all lessons."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

import click

from feedscript.cli.language import tongue_of
from feedscript.cli.output import print_diagnostics, print_json, tell, writing
from feedscript.host.private_file import write_private
from feedscript.journal.schema import is_club_store
from feedscript.journal.store import default_journal_path
from feedscript.review.record import forms
from feedscript.review.record.family import family_html
from feedscript.review.record.figures import Record, record_of
from feedscript.review.record.history import history_of
from feedscript.review.record.page import record_html
from feedscript.review.report.export import as_text
from feedscript.tongues.tongue import Tongue

RECORD_ENDINGS = (".html", ".csv", ".json")


def journals(named: Sequence[Path]) -> tuple[Path, ...]:
    """The journals that were named; without any, every one in the user's data folder."""
    if named:
        return tuple(dict.fromkeys(named))
    usual = default_journal_path()
    found = sorted(usual.parent.glob("*.sqlite"))
    return tuple(path for path in found if not _is_club_store(path)) or (usual,)


def _is_club_store(path: Path) -> bool:
    """A club's server may keep its store beside this user's journals. What cannot be read is told
    of when it is opened."""
    try:
        return is_club_store(path)
    except OSError:
        return False


def write_record(
    player: str,
    journal_paths: Sequence[Path],
    *,
    out: Path | None,
    family: bool,
    since: datetime | None,
    language: str | None,
    output_format: str,
) -> None:
    """The record of a player, or the page for the family, to where it was asked for."""
    endings = (".html",) if family else RECORD_ENDINGS
    if out is not None and out.suffix.lower() not in endings:
        raise click.UsageError(f"end the file's name with one of: {', '.join(endings)}")
    if family and out is None:
        raise click.UsageError("say where to write the family's page: -o family.html")
    since_utc_s = None if since is None else since.timestamp()
    record = record_of(history_of(journals(journal_paths), player, since_utc_s))
    print_diagnostics(record.history.passed_over, {})
    if out is not None:
        tongue = tongue_of(language, record.history.language)
        with writing(out):
            write_private(out, _content(record, out.suffix.lower(), tongue, family=family).encode())
        tell(f"wrote {out}")
    elif output_format == "json":
        print_json(forms.record_json(record))
    else:
        tell(forms.title(record))
        tell(forms.facts(record.history))
        tell("\n".join(forms.in_words(record)))


def _content(record: Record, ending: str, tongue: Tongue, *, family: bool) -> str:
    """What a file of this ending holds; its ending was checked before."""
    if family:
        return family_html(record, tongue)
    match ending:
        case ".html":
            return record_html(record, tongue)
        case ".csv":
            return forms.record_csv(record)
        case _:
            return as_text(forms.record_json(record))
