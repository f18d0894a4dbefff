"""The tables beside the grammar are the grammar's, and stale ones are never used."""

from __future__ import annotations

import json
import re
import subprocess
import sys

from feedscript.language.parse import tables
from feedscript.language.parse.builder import Builder
from feedscript.units import UNITS


def test_the_stored_tables_are_those_of_the_grammar() -> None:
    fresh = tables.as_text(tables.generate(tables.grammar_text()))
    stored = tables.TABLES_FILE.read_text(encoding="utf-8")
    assert json.loads(stored) == json.loads(fresh), "run python -m feedscript.language.parse.tables"


def test_stale_tables_are_made_anew(tmp_path, monkeypatch) -> None:
    stale = json.loads(tables.TABLES_FILE.read_text(encoding="utf-8"))
    stale["stamp"], stale["actions"] = "1:of another grammar", []
    file = tmp_path / "grammar_tables.json"
    file.write_text(json.dumps(stale), encoding="utf-8")
    monkeypatch.setattr(tables, "TABLES_FILE", file)
    made = tables.tables.__wrapped__()
    assert made.actions == tables.tables().actions


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


def test_reading_a_program_does_not_import_lark() -> None:
    code = (
        "import sys; from feedscript.language import read; "
        "read('feedscript 1\\nlesson { }', 'x'); sys.exit('lark' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
