"""Texts are marked where Babel finds them, and nowhere has the mark's name another meaning."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

from feedscript.tongues.refresh import ROOT, SOURCES, marked

MARKS = {"_", "n_", "p_"}
MODULES = sorted(path for folder in SOURCES for path in folder.rglob("*.py"))
FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda)


def calls(tree: ast.AST) -> Iterator[ast.Call]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in MARKS:
            yield node


def own(function: ast.AST) -> Iterator[ast.AST]:
    """What stands in a function, but not in those inside it."""
    for child in ast.iter_child_nodes(function):
        if not isinstance(child, FUNCTIONS):
            yield child
            yield from own(child)


def throws_away(function: ast.AST) -> bool:
    """Whether a name of a mark is bound in it."""
    return any(
        isinstance(node, ast.Name) and node.id in MARKS and isinstance(node.ctx, ast.Store)
        for node in own(function)
    )


def bound_in(module: Path) -> list[str]:
    """The functions of a module that mark texts and bind a mark's name."""
    tree = ast.parse(module.read_text("utf-8"))
    functions = [node for node in ast.walk(tree) if isinstance(node, FUNCTIONS)]
    wrong = [one for one in functions if throws_away(one) and any(calls(one))]
    return [f"{module.relative_to(ROOT)}:{one.lineno}" for one in wrong]


def test_no_function_marks_texts_and_gives_the_marks_name_to_something_else() -> None:
    """``_, second = both()`` in a function that says ``_("…")`` would call a number."""
    assert [one for module in MODULES for one in bound_in(module)] == []


def test_babel_finds_every_marked_text() -> None:
    """A text inside an f-string, or one that is no literal, would never be found."""
    found = {
        (one.file, one.words if isinstance(one.words, str) else one.words[0]) for one in marked()
    }
    for module in MODULES:
        for call in calls(ast.parse(module.read_text("utf-8"))):
            at = 1 if call.func.id == "p_" else 0
            words = call.args[at]
            assert isinstance(words, ast.Constant), f"{module}:{call.lineno}"
            assert (module.relative_to(ROOT).as_posix(), words.value) in found, call.lineno
