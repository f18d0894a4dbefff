"""Sheet, record and family page come in the language that the player speaks by the program."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.review.commands import run
from tests.review.record.seasons import quick, write_week

GIVEN = ("in", "in", "net", "in", "long", "in") * 2
PAGES = (("--family",), ("--record",), ())


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    """Ash spoke French in the first lesson's program and German in the next, which said it last."""
    path = tmp_path / "j.sqlite"
    kept = quick(path)
    write_week(kept, 0, {"Ash": GIVEN}, speaks={"Ash": "fr"})
    write_week(kept, 1, {"Ash": GIVEN, "Birch": GIVEN}, speaks={"Ash": "de"})
    write_week(kept, 2, {"ASH": GIVEN, "Birch": GIVEN}, speaks={"Birch": "tlh"})
    kept.close()
    return path


def written(journal: Path, *words: str) -> str:
    out = journal.with_name("out.html")
    run("--journal", journal, *words, "-o", out)
    return out.read_text("utf-8").partition(">")[2][:40]


@pytest.mark.parametrize("kind", PAGES, ids=lambda kind: " ".join(kind) or "sheet")
def test_what_is_about_one_player_is_in_that_players_language(
    journal: Path, kind: tuple[str, ...]
) -> None:
    lesson = () if kind else ("2",)
    assert '<html lang="de">' in written(journal, *lesson, "--player", "Ash", *kind)
    chosen = ("--language", "es")
    assert '<html lang="es">' in written(journal, *lesson, "--player", "Ash", *kind, *chosen)


def test_a_report_for_everyone_is_in_english_and_so_is_one_in_a_language_that_there_is_not(
    journal: Path,
) -> None:
    assert '<html lang="en">' in written(journal, "2")
    assert '<html lang="en">' in written(journal, "3", "--player", "Birch")
