"""A wheel built from the repository works in an empty environment elsewhere."""

from __future__ import annotations

import email
import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

SHIPPED = "thursday-juniors"
#: What people may add to it; a test of its own follows each part further.
EXTRAS = "[plots,tune,video,calendar,console,editor,desk,ble,cluster,club,club-oidc]"


def run(*words: str | Path, cwd: Path) -> subprocess.CompletedProcess[str]:
    """Run a command with nothing of the checkout on its path."""
    clean = {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}
    return subprocess.run(
        [str(word) for word in words], cwd=cwd, env=clean, capture_output=True, text=True
    )


@pytest.fixture(scope="module")
def wheel(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    built = run(sys.executable, "-m", "build", "--wheel", "--outdir", out, root, cwd=out)
    assert built.returncode == 0, built.stdout + built.stderr
    (found,) = out.glob("*.whl")
    return found


def installed(python: str | Path, wanted: str | Path, folder: Path) -> Path:
    """What an environment of this interpreter has in ``bin``: the wheel and what it asks for."""
    made = run(python, "-m", "venv", folder / "env", cwd=folder)
    assert made.returncode == 0, made.stdout + made.stderr
    there = folder / "env" / "bin"
    done = run(
        there / "python", "-m", "pip", "install", "--quiet", "--no-compile", wanted, cwd=folder
    )
    assert done.returncode == 0, done.stderr
    return there


@pytest.fixture(scope="module")
def elsewhere(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment that holds the wheel and what it asks for, without any extra."""
    folder = tmp_path_factory.mktemp("elsewhere")
    installed(sys.executable, wheel, folder)
    return folder


@pytest.mark.timeout(400)
def test_the_command_answers_for_help(elsewhere: Path) -> None:
    told = run(elsewhere / "env" / "bin" / "feedscript", "--help", cwd=elsewhere)
    assert told.returncode == 0, told.stderr
    assert "rehearse" in told.stdout


@pytest.mark.timeout(400)
def test_a_shipped_program_checks_and_rehearses(elsewhere: Path) -> None:
    feedscript = elsewhere / "env" / "bin" / "feedscript"
    checked = run(feedscript, "check", SHIPPED, "--format", "json", cwd=elsewhere)
    assert checked.returncode == 0, checked.stdout + checked.stderr
    assert json.loads(checked.stdout)["ok"] is True
    rehearsed = run(feedscript, "rehearse", SHIPPED, cwd=elsewhere)
    assert rehearsed.returncode == 0, rehearsed.stdout + rehearsed.stderr


@pytest.mark.timeout(400)
def test_the_wheel_holds_the_programs_and_none_of_the_tests(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert f"feedscript/shipped/programs/{SHIPPED}.feed" in names
    assert not [name for name in names if "tests/" in name or name.startswith(".")]


@pytest.mark.timeout(400)
def test_the_page_of_the_package_leads_somewhere_from_everywhere(wheel: Path, root: Path) -> None:
    """On a package index nothing of the repository stands beside the README."""
    archive = zipfile.ZipFile(wheel)
    (about,) = (name for name in archive.namelist() if name.endswith(".dist-info/METADATA"))
    told = email.message_from_bytes(archive.read(about))
    addresses = dict(line.split(", ", 1) for line in told.get_all("Project-URL", []))
    links = re.findall(r"\]\(([^)#]+)", str(told.get_payload()))
    assert len(links) > 5
    for link in links:
        assert link.startswith(addresses["Source"] + "/"), link
        assert (root / link.removeprefix(addresses["Source"] + "/")).exists(), link


def test_the_package_names_each_python_that_it_is_tested_on(root: Path) -> None:
    project = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))["project"]
    named = re.findall(r"Python :: (3\.\d+)", " ".join(project["classifiers"]))
    tested = re.search(r"python: (\[.*\])", (root / ".github/workflows/test.yml").read_text())
    assert tested is not None
    assert named == json.loads(tested[1])
    assert project["requires-python"] == f">={named[0]}"


def interpreters() -> list[str]:
    """The supported interpreters on the path that start, beside the one that runs this."""
    own = sys.version_info.minor
    names = [f"python3.{minor}" for minor in range(11, 15) if minor != own]
    found = [name for name in names if shutil.which(name)]
    return [name for name in found if run(name, "-c", "pass", cwd=Path()).returncode == 0]


@pytest.mark.long
@pytest.mark.timeout(900)
@pytest.mark.parametrize("python", [sys.executable, *interpreters()], ids=lambda one: one[-10:])
def test_every_interpreter_takes_it_with_all_that_may_be_added(
    python: str, wheel: Path, tmp_path: Path
) -> None:
    """Put others on the path to try them: ``PATH=...:$PATH pytest --long tests/test_wheel.py``."""
    there = installed(python, f"{wheel}{EXTRAS}", tmp_path)
    for line in (
        ("python", "-m", "pip", "check"),
        ("feedscript", "check", SHIPPED),
        ("feedscript", "rehearse", SHIPPED, "--results", "drawn", "--journal", "j.sqlite"),
        ("feedscript", "review", "--journal", "j.sqlite", "-o", "lesson.html"),
        ("feedscript", "draw", SHIPPED, "-o", "picture.png"),
        ("feedscript", "link-check", "--on", "sim:"),
        ("feedscript", "desk", "--help"),
    ):
        done = run(there / line[0], *line[1:], cwd=tmp_path)
        assert done.returncode == 0, f"{line}\n{done.stdout}{done.stderr}"
