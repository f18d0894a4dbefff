"""What lies in the folders of whoever runs the tests changes no test, and no test changes it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

#: A test that opens a launcher, where a key that was kept for its serial number would be found.
OPENS_A_LAUNCHER = "tests/session/engine/test_engine.py::test_a_whole_lesson_runs_to_its_end"


def _a_home_with_a_paired_launcher(folder: Path) -> dict[str, str]:
    keys = folder / "feedscript" / "keys"
    keys.mkdir(parents=True)
    (keys / "example-1.key").write_text("aa" * 32 + "\n")
    (folder / "feedscript" / "journal.sqlite").write_text("no journal")
    (folder / "feedscript" / "questions.toml").write_text("no questions")
    home = {"HOME": str(folder), "XDG_DATA_HOME": str(folder), "XDG_CONFIG_HOME": str(folder)}
    inherited = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST_")}
    return inherited | home


def _contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_a_launcher_that_the_user_has_paired_fails_no_test(tmp_path: Path, root: Path) -> None:
    environment = _a_home_with_a_paired_launcher(tmp_path)
    before = _contents(tmp_path)
    words = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", OPENS_A_LAUNCHER]
    done = subprocess.run(words, cwd=root, env=environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr
    assert _contents(tmp_path) == before


def test_a_process_that_a_test_starts_keeps_off_them_too(tmp_path: Path) -> None:
    """Where a command says that it looks, nothing of the user's lies."""
    words = [sys.executable, "-m", "feedscript.cli", "journal", "list"]
    done = subprocess.run(words, cwd=tmp_path, capture_output=True, text=True)
    home = Path(os.environ["XDG_DATA_HOME"])
    assert home.parent.name.startswith("feedscript-tests-")
    assert str(home / "feedscript" / "journal.sqlite") in done.stdout + done.stderr
