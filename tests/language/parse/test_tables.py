"""The tables beside the grammar are the grammar's, and reading a program needs nothing else."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

from feedscript.language.parse import tables
from feedscript.language.parse.builder import Builder
from feedscript.language.tools import parser_tables
from feedscript.units import UNITS


def test_the_stored_tables_are_those_of_the_grammar() -> None:
    fresh = parser_tables.as_text(parser_tables.generate(parser_tables.grammar_text()))
    stored = tables.TABLES_FILE.read_text(encoding="utf-8")
    assert json.loads(stored) == json.loads(fresh), (
        "run python -m feedscript.language.tools.parser_tables"
    )


def test_another_grammar_has_other_tables() -> None:
    grammar = parser_tables.grammar_text().replace('"collect"', '"gather"')
    other = parser_tables.generate(grammar)
    assert "gather" in other["words"]
    assert "gather" not in tables.tables().words


def test_every_rule_that_makes_a_node_has_its_method() -> None:
    missing = {
        rule.build
        for rule in tables.tables().rules
        if rule.build is not None and not rule.single and not hasattr(Builder, rule.build)
    }
    assert missing == set()


def test_every_unit_can_be_written() -> None:
    pattern = re.compile(tables.tables().patterns["UNIT"][0], re.IGNORECASE)
    unwritten = [unit for unit in UNITS if pattern.fullmatch(unit) is None]
    assert unwritten == []


def test_reading_a_program_needs_neither_lark_nor_the_grammar(tmp_path: Path) -> None:
    """An installed package in which both are missing."""
    here = tables.TABLES_FILE.parents[2]
    shutil.copytree(
        here, tmp_path / "feedscript", ignore=shutil.ignore_patterns("*.lark", "shipped")
    )
    (tmp_path / "lark.py").write_text("raise ImportError", encoding="utf-8")
    text = (
        "feedscript 1\nfeed f { land middle of ad box  speed 60 km/h }\nlesson { send f after 5 s }"
    )
    code = (
        f"import feedscript.language as it; program, _ = it.read({text!r}, 'x'); "
        "print(it.__file__, len(program.lesson))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert ran.stdout.split() == [str(tmp_path / "feedscript/language/__init__.py"), "1"]
