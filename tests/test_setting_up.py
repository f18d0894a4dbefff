"""What `make` says and installs on a machine that has never seen the project.

The whole of it is tried by `make clean-machine`, which takes two runs of every test.
"""

from __future__ import annotations

import os
import re
import subprocess
from pathlib import Path

import pytest

#: An ordinary user's machine: nothing is installed, sudo asks for a password that nobody types.
_STAND_INS = {"dpkg-query": "exit 1", "sudo": "exit 1", "id": "echo 1000", "apt-get": "exit 9"}


@pytest.fixture
def told(root: Path, tmp_path: Path) -> str:
    """What that user reads after `make test` where its packages are missing."""
    for name, does in _STAND_INS.items():
        (tmp_path / name).write_text(f"#!/bin/sh\n{does}\n")
        (tmp_path / name).chmod(0o755)
    path = f"{tmp_path}:{os.environ['PATH']}"
    done = subprocess.run(
        ["make", "--no-print-directory", "install-debian"],
        cwd=root,
        env=os.environ | {"PATH": path},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 2
    return done.stdout


def test_who_may_not_install_packages_gets_the_one_command_to_type(told: str) -> None:
    commands = [line for line in told.splitlines() if line.startswith("sudo ")]
    assert len(commands) == 1
    assert subprocess.run(["bash", "-n", "-c", commands[0]]).returncode == 0
    assert "apt-get update && sudo apt-get install" in commands[0]


def test_the_compilers_fuzzer_is_installed_by_name(told: str, root: Path) -> None:
    """No package that is installed without its recommendations brings it along."""
    assert "-fsanitize=fuzzer" in (root / "drivers" / "firmware" / "Makefile").read_text()
    assert re.search(r"^sudo .* libclang-rt-dev\b", told, re.M)
