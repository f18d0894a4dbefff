"""A report's bundle holds what is needed and no player's name."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.cli import verbs
from feedscript.diagnostics import FeedscriptError
from feedscript.session.bundle import write_bundle
from feedscript.session.journal import BallIntent, SessionStart, open_journal
from feedscript.session.keeping import names_in
from feedscript.shipped import shipped_folder

NAMES = ("Quennell", "Ottoline", "Isambard")
GARAGE = shipped_folder() / "launchers" / "garage.toml"


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    """A lesson with one player in the plan, one in the roster and one who joined later."""
    path = tmp_path / "journal.sqlite"
    book = open_journal(path)
    number = book.begin_session(
        SessionStart(
            token=1,
            begun_utc_s=0.0,
            title=f"For {NAMES[0]}",
            source="/home/somebody/lesson.feed",
            rehearsal=False,
            plan=json.dumps({"group": {"players": [{"name": NAMES[0]}]}}).encode(),
            group_json=json.dumps({"players": [{"name": NAMES[0]}, {"name": NAMES[1]}]}),
        )
    )
    book.intend(
        number,
        BallIntent(
            feed_id=1,
            ball_no=1,
            launcher=0,
            feed="groove",
            player=NAMES[2],
            leave_at_device_s=1.0,
            intent_utc_s=1.0,
        ),
    )
    book.close()
    return path


def test_no_name_and_no_folder_is_in_any_part(journal: Path, tmp_path: Path) -> None:
    assert names_in(journal) == set(NAMES)
    target = tmp_path / "report.zip"
    parts = write_bundle(target, journal=journal, profile=GARAGE, capture=None)
    assert parts == ["versions.json", "journal.sqlite", "profile.toml"]
    with zipfile.ZipFile(target) as archive:
        for inside in archive.namelist():
            data = archive.read(inside)
            assert not [name for name in NAMES if name.encode() in data], inside
            assert b"somebody" not in data
    assert names_in(journal) == set(NAMES), "the user's own journal stays as it was"


def test_a_part_that_is_not_there_is_a_diagnostic(tmp_path: Path) -> None:
    with pytest.raises(FeedscriptError) as caught:
        write_bundle(
            tmp_path / "report.zip", journal=None, profile=tmp_path / "none.toml", capture=None
        )
    assert caught.value.diagnostic.slug == "bundle-file"


def test_the_command_packs_versions(tmp_path: Path) -> None:
    target = tmp_path / "report.zip"
    done = CliRunner().invoke(verbs, ["bundle", "--no-journal", "-o", str(target)])
    assert done.exit_code == 0, done.output
    with zipfile.ZipFile(target) as archive:
        assert "python" in json.loads(archive.read("versions.json"))
