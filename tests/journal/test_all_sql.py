"""All SQL stands in the journal, and the club's in its store: nobody else writes it or opens a
database."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from feedscript.journal.stored import LessonEnd
from feedscript.session.operator.phases import ENDED

TOP = Path(__file__).parents[2]
PRODUCT = [
    path for tree in ("feedscript", "drivers", "simulator") for path in (TOP / tree).rglob("*.py")
]
#: The statements of SQLite that a string can begin with, in any case of letters.
STATEMENT = re.compile(
    r"\s*(select\s.*\bfrom\s|select\s+(count|max|min)\s*\(|insert\s+(or\s+\w+\s+)?into\s|replace\s+into\s"
    r"|update\s+\S+\s+set\s|delete\s+from\s|(create|drop|alter)\s+(table|index|view|trigger)\s"
    r"|with\s+(recursive\s+)?\w+.*\bas\s*\(|pragma\s+\w|begin\s+(immediate|exclusive)|(?-i:VACUUM)\s*$"
    r"|attach\s+database)",
    re.IGNORECASE | re.DOTALL,
)


def texts(source: str) -> Iterator[tuple[int, str]]:
    """Every string of a module with its line, an f-string as one with its values left out;
    docstrings are no strings."""
    tree = ast.parse(source)
    inside = {
        id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr | ast.Expr)
        for part in (node.values if isinstance(node, ast.JoinedStr) else [node.value])
    }  # fmt: skip
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            parts = [p.value if isinstance(p, ast.Constant) else "x" for p in node.values]
            yield node.lineno, "".join(map(str, parts))
        elif (
            isinstance(node, ast.Constant)
            and isinstance(node.value, str)
            and id(node) not in inside
        ):
            yield node.lineno, node.value


def statements(source: str) -> list[str]:
    return [f"{line}: {text}" for line, text in texts(source) if STATEMENT.match(text)]


def opens_a_database(source: str) -> bool:
    imports = [n for n in ast.walk(ast.parse(source)) if isinstance(n, ast.Import | ast.ImportFrom)]
    named = [getattr(node, "module", None) or "" for node in imports]
    named += [alias.name for node in imports for alias in node.names]
    return "sqlite3" in named


def test_no_sql_stands_outside_the_journal() -> None:
    rooms = {TOP / "feedscript" / "journal", TOP / "feedscript" / "club" / "store"}
    found = {path: path.read_text("utf-8") for path in PRODUCT}
    outside = {path: text for path, text in found.items() if rooms.isdisjoint(path.parents)}
    assert len(outside) > 300
    assert {path: told for path, text in outside.items() if (told := statements(text))} == {}
    assert [path for path, text in outside.items() if opens_a_database(text)] == []
    inside = [text for path, text in found.items() if path not in outside]
    assert sum(len(statements(text)) for text in inside) > 40  # they are seen at all


@pytest.mark.parametrize(
    "source",
    [
        'rows("SELECT id FROM session")',
        'rows(f"SELECT COUNT(*) FROM {table} WHERE session_id = ?")',
        '_BALLS = """\n  select *\n  from ball\n"""',
        'go("insert or ignore into ball values (1)")',
        'go("UPDATE ball SET outcome = 1")',
        'go(f"DELETE FROM {table}")',
        'go("PRAGMA user_version")',
        'go("WITH n(n) AS (SELECT 1) SELECT n FROM n")',
    ],
)
def test_a_statement_is_seen(source: str) -> None:
    assert statements(source)


@pytest.mark.parametrize(
    "source",
    ['"""Select a feed from the list."""', 'say("update the launcher")', 'say("begin again")'],
)
def test_words_are_no_statement(source: str) -> None:
    assert not statements(source)


def test_how_a_lesson_ends_has_the_names_of_its_phases() -> None:
    assert set(LessonEnd.__args__) == {phase.value for phase in ENDED}
