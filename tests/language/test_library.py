"""The library: at least twelve patterns, each documented, checked, and true to its expectations."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.check.check_program import check_program
from feedscript.cli.prove.test import command as run_expectations
from feedscript.diagnostics import has_errors
from feedscript.language import read
from feedscript.language.parse import tree
from feedscript.language.parse.source import Source
from feedscript.language.resolve.loading import load_beside
from feedscript.language.syntax import parse
from feedscript.shipped import shipped_folder

FILES = sorted((shipped_folder() / "library").glob("*.feed"))
NAMES = [path.stem for path in FILES]


def items(path: Path, kind: type) -> list:
    parsed = parse(Source(path.name, path.read_text(encoding="utf-8")))
    return [item for item in parsed.tree.items if isinstance(item, kind)]


def test_there_are_at_least_twelve() -> None:
    assert len(FILES) >= 12


@pytest.mark.parametrize("path", FILES, ids=NAMES)
def test_each_is_checked_and_expected_something_of(path: Path) -> None:
    verdict = check_program(path)
    assert verdict.ok, verdict.diagnostics
    assert not has_errors(verdict.diagnostics)
    assert sum(len(item.expectations) for item in items(path, tree.Expect)) >= 3


@pytest.mark.parametrize("path", FILES, ids=NAMES)
def test_each_is_documented(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert "# Trains: " in text
    assert f'use "library/{path.name}"' in text
    pattern = next(p for p in items(path, tree.Pattern) if str(p.name) == path.stem)
    for param in pattern.params:
        assert re.search(rf"^# {param.name}\s", text, re.MULTILINE), param.name
        assert param.default is not None, "a coach can call it with nothing but its name"


def test_a_program_uses_them_all(tmp_path) -> None:
    uses = "".join(f'use "library/{name}.feed"\n' for name in NAMES)
    calls = "".join(f"    {name}.{name}()\n    mirror {name}.{name}()\n" for name in NAMES)
    text = f"feedscript 1\n{uses}court {{ surface hard }}\nballs {{ type 2  load 60 }}\n"
    text += f"launcher {{ stands 1 m behind centre mark }}\nlesson {{\n{calls}}}\n"
    program = tmp_path / "all.feed"
    made, diagnostics = read(text, str(program), load=load_beside(program, shipped_folder()))
    assert diagnostics == ()
    assert made is not None
    assert "warm_up.full_court" in made.feeds
    assert set(made.sources) == {str(program), *(str(path) for path in FILES)}


def test_every_expectation_of_the_library_holds() -> None:
    run = CliRunner().invoke(
        run_expectations, [*map(str, FILES), "--draws", "300", "--draw-seed", "3", "--jobs", "1"]
    )
    assert run.exit_code == 0, run.output
