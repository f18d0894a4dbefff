"""One ball's way, as the contributor's guide tells it, is the way that a ball takes."""

from __future__ import annotations

import importlib
import inspect
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import CodeType, FrameType

import pytest
from click.testing import CliRunner

from feedscript.cli import verbs

PROGRAM = """feedscript 1
title "One ball"
court { surface hard }
balls { type 2  load 10 }
launcher { stands 1 m behind centre mark }
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h }
lesson { show speed of deep  send deep after 8 s }
"""


@pytest.fixture
def stations(root: Path) -> list[tuple[str, CodeType]]:
    """Each numbered step of the guide: the function it names, and that function's code."""
    guide = (root / "DEVELOPERS.md").read_text("utf-8")
    chapter = guide.split("\n## One ball's way")[1].split("\n## ")[0]
    named = re.findall(r"^\d\. .*?`(?:drivers/|simulator/)?([\w/]+)\.py: ([\w.]+)`", chapter, re.M)
    assert len(named) == len(re.findall(r"^\d\. ", chapter, re.M))
    found = []
    for path, name in named:
        thing = importlib.import_module(path.replace("/", "."))
        for part in name.split("."):
            thing = getattr(thing, part)
        assert inspect.isfunction(thing), name
        found.append((name, thing.__code__))
    return found


@contextmanager
def entered() -> Iterator[list[CodeType]]:
    """The code of each function, in the order in which they were first entered."""
    first: dict[CodeType, None] = {}

    def note(frame: FrameType, event: str, _: object) -> None:
        if event == "call":
            first.setdefault(frame.f_code)

    found: list[CodeType] = []
    sys.setprofile(note)
    try:
        yield found
    finally:
        sys.setprofile(None)
        found.extend(first)


def test_the_way_has_at_most_eight_stations(stations: list[tuple[str, CodeType]]) -> None:
    assert 5 <= len(stations) <= 8


def test_a_ball_passes_the_stations_in_their_order(
    stations: list[tuple[str, CodeType]], tmp_path: Path
) -> None:
    program, journal = tmp_path / "one.feed", tmp_path / "journal.sqlite"
    program.write_text(PROGRAM, encoding="utf-8")
    with entered() as codes:
        done = CliRunner().invoke(verbs, ["rehearse", str(program), "--journal", str(journal)])
    assert done.exit_code == 0, done.output
    passed = {code: place for place, code in enumerate(codes)}
    assert [name for name, code in stations if code not in passed] == []
    in_order = sorted(stations, key=lambda one: passed[one[1]])
    assert [name for name, _ in in_order] == [name for name, _ in stations]
