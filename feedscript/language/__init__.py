"""The language: text to a resolved program, or to what is wrong with the text."""

from __future__ import annotations

from feedscript.diagnostics import Diagnostic
from feedscript.language.program import Program, Season
from feedscript.language.resolve.loading import Load, load_nothing
from feedscript.language.resolve.read_program import read_program
from feedscript.memo import Memo

__all__ = ["Load", "Program", "Season", "program", "read", "syntax", "words"]


def read(
    text: str, source_name: str, *, load: Load = load_nothing, memo: Memo | None = None
) -> tuple[Program | Season | None, tuple[Diagnostic, ...]]:
    """The program, or the season, that ``text`` says, and everything that is wrong with it.

    It is None exactly when one of the diagnostics is an error. Never raises for any text.
    ``load`` finds the files that ``use`` names; ``memo`` is of earlier checks.
    """
    return read_program(text, source_name, load, Memo() if memo is None else memo)
