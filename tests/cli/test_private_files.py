"""Whatever holds a player's name is written for its owner alone, however open the folder is."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.cli import verbs
from feedscript.journal.store import open_journal
from tests.journal.test_keeping import NAME, write_everywhere
from tests.review.calendar import FIRST_UTC_S, write_ball

PROGRAM = f"""feedscript 1
title "Two (invented)"
court {{ surface hard }}
balls {{ type 2  load 60 }}
launcher {{ stands 1 m behind centre mark }}
group {{ players "{NAME}", "Birch" }}
feed deep {{ land 3 m inside baseline, on centre line  speed 80 km/h }}
lesson {{ show speed of deep  for each player {{ send deep after 5 s  rest 20 s }} }}
expect {{ no player waits longer than 10 min }}
"""

#: Commands that write, with the file that each makes.
WRITING = [
    ("review", "-o", "sheet.html"),
    ("review", "-o", "sheet.csv"),
    ("review", "-o", "sheet.json"),
    ("review", "-o", "sheet.vtt"),
    ("review", "--charts", "charts"),
    ("review", "--player", NAME, "--record", "-o", "record.html"),
    ("review", "--player", NAME, "--record", "-o", "record.csv"),
    ("review", "--player", NAME, "--record", "-o", "record.json"),
    ("review", "--player", NAME, "--family", "-o", "family.html"),
    ("journal", "export", "-o", "all.csv"),
    ("journal", "export", "-o", "all.json"),
    ("journal", "back-up", "-o", "copy.sqlite"),
    ("bundle", "-o", "report.zip"),
    ("certify", "lesson.feed", "-o", "lesson.plan"),
    ("test", "lesson.feed", "--junit", "tests.xml"),
    ("rehearse", "lesson.feed", "--journal", "other.sqlite"),
]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder that everybody may read, with a program, a journal, and an open umask."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "lesson.feed").write_text(PROGRAM)
    journal = open_journal(tmp_path / "journal.sqlite")
    number = write_everywhere(journal)
    for feed_id in range(20, 30):
        write_ball(journal, number, feed_id, FIRST_UTC_S + 4 * feed_id, NAME, "deep", "in")
    journal.close()
    before = os.umask(0)
    yield tmp_path
    os.umask(before)


def run(*words: str) -> None:
    journal = [] if words[0] in ("certify", "test", "rehearse") else ["--journal", "journal.sqlite"]
    done = CliRunner().invoke(verbs, [*words, *journal])
    assert done.exit_code == 0, done.output


def open_to_others(files: set[Path]) -> list[str]:
    return sorted(file.name for file in files if stat.S_IMODE(file.stat().st_mode) & 0o077)


@pytest.mark.parametrize("words", WRITING, ids=" ".join)
def test_for_its_owner_alone(words: tuple[str, ...], folder: Path) -> None:
    there = set(folder.rglob("*"))
    run(*words)
    made = set(folder.rglob("*")) - there
    assert made
    assert open_to_others(made) == []


def test_a_file_that_others_could_read_is_closed_to_them(folder: Path) -> None:
    sheet = folder / "sheet.csv"
    sheet.touch(0o666)
    run("review", "-o", "sheet.csv")
    assert open_to_others({sheet}) == []
