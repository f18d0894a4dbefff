"""The commands of the examples for forges do what their page says, and fail where it says so."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from feedscript.bench.trials import read_trials
from feedscript.cli import verbs
from tests.bench.trials.programs import LESSON
from tests.conftest import ROOT

pytest_plugins = ["pytester"]

FILES = sorted((ROOT / "shared" / "ci").glob("*.yml"))
EXPECTS = "expect { balls <= 30 }\n"
INSTALLS = "python -m pip install feedscript pytest"


def commands(path: Path) -> list[str]:
    """Every command of a workflow, whatever it is called in it."""
    steps = re.findall(r"^ *- (?:run: )?((?:feedscript|pytest|python) .*)$", path.read_text(), re.M)
    assert steps[0] == INSTALLS
    return steps[1:]


def test_all_forges_run_the_same_and_the_page_says_what() -> None:
    assert len(FILES) == 3
    (one,) = {tuple(commands(path)) for path in FILES}
    page = (ROOT / "shared" / "ci" / "README.md").read_text()
    assert [command for command in one if f"`{command}`" not in page] == []
    assert [path.name for path in FILES if f"({path.name})" not in page] == []


def typed(command: str) -> int:
    return CliRunner().invoke(verbs, shlex.split(command)[1:]).exit_code


@pytest.fixture
def lessons(pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of lessons with its baseline; three of the forty faults are enough here."""
    folder = pytester.mkdir("lessons")
    (folder / "lesson.feed").write_text(LESSON + EXPECTS)
    assert typed("feedscript baseline keep lessons --kept lessons/kept") == 0
    few = pytester.path / "few.toml"
    head, *faults = read_trials.shipped_faults().read_text().split("[[fault]]")
    few.write_text("[[fault]]".join([head, *faults[:3]]))
    monkeypatch.setattr(read_trials, "shipped_faults", lambda: few)
    return folder


def outcomes(pytester: pytest.Pytester) -> dict[str, int]:
    found = {}
    for command in commands(FILES[0]):
        if command.startswith("pytest"):
            done = pytester.runpytest_inprocess(*command.split()[1:], "-p", "no:cacheprovider")
            found[command] = int(done.ret)
        else:
            found[command] = typed(command)
    return found


def test_each_command_passes_where_all_is_well(pytester: pytest.Pytester, lessons: Path) -> None:
    assert set(outcomes(pytester).values()) == {0}
    for report in ("expectations.xml", "faults.xml"):
        root = ElementTree.parse(pytester.path / report).getroot()
        assert (root.get("failures"), root.get("skipped")) == ("0", "0")


def test_each_command_fails_where_a_lesson_is_another(
    pytester: pytest.Pytester, lessons: Path
) -> None:
    """It expects what is not so, is slower than it was, and is over before the faults come."""
    changed = LESSON.replace("repeat 4", "repeat 1").replace("speed 75", "speed 70")
    changed = re.sub(r"    for each.*?\n|    collect.*?\n|    repeat 3.*?\n", "", changed)
    (lessons / "lesson.feed").write_text(changed + "expect { balls >= 2 }\n")
    assert set(outcomes(pytester).values()) == {1}
