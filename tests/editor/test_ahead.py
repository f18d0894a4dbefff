"""What the editor asks for, at every place of a program and of broken ones: an answer, no trace."""

from __future__ import annotations

import random
from pathlib import Path

from feedscript.editor.completion import offers
from feedscript.editor.document import names_in
from feedscript.language.tools.formatter import format_text
from tests.language.syntax_errors.test_any_text import SKETCH, mutated

PATH = Path("/nowhere/x.feed")


def test_offers_at_every_place() -> None:
    scope, names = names_in(PATH, SKETCH)
    for offset in range(0, len(SKETCH), 3):
        offers(scope, SKETCH, offset)
        names.at(offset)


def test_broken_programs_are_answered_too() -> None:
    rng = random.Random(4)
    for _ in range(60):
        text = mutated(SKETCH, SKETCH, rng)
        scope, names = names_in(PATH, text)
        for _ in range(3):
            offset = rng.randrange(len(text) + 1)
            offers(scope, text, offset)
            names.at(offset)
        format_text(text, "x.feed")
