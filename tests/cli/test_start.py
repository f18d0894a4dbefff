"""What a command's process takes along from its start."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from feedscript.journal.store import default_journal_path, open_journal
from feedscript.one_thread import ONE_THREAD

#: A check, and what its process looks like when it ends.
_LOOK = """
import gc, json, os, sys
from feedscript.cli import main
sys.argv = ["feedscript", "check", "wednesday-six"]
try:
    main()
finally:
    told = {"collects": gc.isenabled(), "kept": gc.get_freeze_count()}
    told["left"] = len(gc.get_objects())
    told["threads"] = len(os.listdir("/proc/self/task")) if os.path.isdir("/proc/self/task") else 1
    print(json.dumps(told), file=sys.stderr)
"""


@pytest.fixture(scope="module")
def checked() -> dict[str, int]:
    own = {name: value for name, value in os.environ.items() if name not in ONE_THREAD}
    done = subprocess.run(
        [sys.executable, "-c", _LOOK], env=own, capture_output=True, text=True, check=True
    )
    told: dict[str, int] = json.loads(done.stderr.splitlines()[-1])
    return told


def test_a_check_is_one_thread(checked: dict[str, int]) -> None:
    assert checked["threads"] == 1


def test_the_collector_leaves_alone_what_modules_are_made_of(checked: dict[str, int]) -> None:
    assert checked["collects"]
    assert checked["kept"] > checked["left"]


#: Of these nothing is needed unless a program speaks of it, a mistake stands in it, or JSON is
#: asked for.
_UNSPOKEN_OF = {
    "anyio",
    "feedscript.check.as_json",
    "feedscript.check.expected",
    "feedscript.check.season",
    "feedscript.journal",
    "feedscript.language.syntax_errors.recognise",
    "feedscript.plan.expect.evaluation",
    "scipy",
    "sqlite3",
}
_PLAIN = """feedscript 1
court { surface hard }
balls { type 2 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
feed deep { land 2 m inside baseline, on centre line  speed 80 km/h }
lesson { show speed of deep  repeat 4 { send deep after 5 s } }
"""


def _imported(*words: str) -> set[str]:
    command = [sys.executable, "-X", "importtime", "-m", "feedscript.cli", *words]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return {line.rpartition("|")[2].strip() for line in done.stderr.splitlines()}


def test_a_check_imports_nothing_of_what_its_program_does_not_speak_of(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where a coach's lessons are kept, which are asked how long collecting takes."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    open_journal(default_journal_path()).close()
    assert (tmp_path / "feedscript" / "journal.sqlite").exists()
    program = tmp_path / "plain.feed"
    program.write_text(_PLAIN)
    imported = _imported("check", str(program))
    assert "feedscript.safety.certify" in imported
    assert not _UNSPOKEN_OF & imported
    program.write_text(_PLAIN + "expect { balls <= 5 }\n")
    assert _UNSPOKEN_OF & _imported("check", str(program)) == {
        "feedscript.check.expected",
        "feedscript.plan.expect.evaluation",
    }
