"""Whoever asks about a program compiles it once, and its scene is built once."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

import pytest
from click.testing import CliRunner

from feedscript.cli import verbs
from feedscript.editor.document import open_document
from feedscript.plan import scenery
from feedscript.plan.aiming import aimed
from feedscript.plan.compile import compile_program
from feedscript.shipped import program_path

PROGRAM = program_path("thursday-juniors")
COUNTED = {one.__code__: one.__name__ for one in (compile_program, scenery.scene, aimed.aim_shots)}


def calls(work: Callable[[], Any]) -> Counter[str]:
    """How often each of the counted functions is entered, whoever calls it by whatever name."""
    seen: Counter[str] = Counter()

    def note(frame: FrameType, event: str, _: Any) -> None:
        if event == "call" and frame.f_code in COUNTED:
            seen[COUNTED[frame.f_code]] += 1

    before = sys.getprofile()
    sys.setprofile(note)
    try:
        work()
    finally:
        sys.setprofile(before)
    return seen


@pytest.mark.parametrize("out", ["check", "certify out.plan", "draw out.svg"])
def test_a_command_compiles_its_program_once(out: str, tmp_path: Path) -> None:
    verb, *to = out.split()
    arguments = [
        verb,
        str(PROGRAM),
        *(word for name in to for word in ("-o", str(tmp_path / name))),
    ]

    def run() -> None:
        assert CliRunner().invoke(verbs, arguments).exit_code == 0

    assert calls(run) == {"compile_program": 1, "scene": 1, "aim_shots": 1}


def test_the_editor_compiles_a_text_once() -> None:
    text = PROGRAM.read_text("utf-8")
    found = calls(lambda: open_document(PROGRAM, text))
    assert found == {"compile_program": 1, "scene": 1, "aim_shots": 1}
