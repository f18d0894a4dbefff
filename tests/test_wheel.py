"""A wheel built from the repository works in an empty environment elsewhere."""

from __future__ import annotations

import email
import json
import os
import re
import subprocess
import sys
import tomllib
import venv
import zipfile
from pathlib import Path

import pytest

SHIPPED = "thursday-juniors"


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


@pytest.fixture(scope="module")
def elsewhere(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment that holds the wheel and what it asks for, without any extra."""
    folder = tmp_path_factory.mktemp("elsewhere")
    venv.create(folder / "env", with_pip=True)
    python = folder / "env" / "bin" / "python"
    installed = run(python, "-m", "pip", "install", "--quiet", wheel, cwd=folder)
    assert installed.returncode == 0, installed.stderr
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
