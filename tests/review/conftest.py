"""A journal with the invented calendar in it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from feedscript.journal.store import open_journal
from tests.review.calendar import FIRST_UTC_S, WEEK_S, write_lesson

WEEKS = 4
SYNC_TONE_UTC_S = FIRST_UTC_S + 3 * WEEK_S + 5.0


@pytest.fixture(scope="session")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Written once: every ball of a journal waits for the disk."""
    path = tmp_path_factory.mktemp("calendar") / "journal.sqlite"
    journal = open_journal(path)
    for week in range(WEEKS):
        tone = SYNC_TONE_UTC_S if week == WEEKS - 1 else None
        write_lesson(journal, week, sync_tone_utc_s=tone)
    journal.close()
    return path


@pytest.fixture
def calendar(written: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(written, tmp_path / "journal.sqlite"))
