"""What a file says of itself, whether or not it has a lesson."""

from __future__ import annotations

from functools import partial

import msgspec

from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.resolve.declarations import Declarations
from feedscript.language.resolve.files import Files
from feedscript.language.resolve.findings import Findings
from feedscript.language.resolve.loading import Load
from feedscript.language.resolve.planning.suits import read_suits
from feedscript.language.resolve.properties import text_of
from feedscript.language.resolve.values import Evaluator


class Heading(msgspec.Struct, frozen=True):
    """The title, where one is written, and what the file suits."""

    title: str
    suits: p.SuitsDecl


def read_heading(text: str, source_name: str, load: Load) -> Heading:
    """The heading of a text that was read before: what is wrong with it is not said again."""
    main = Files(load, Findings()).read(source_name, text)
    declared = Declarations(main, Evaluator(main, {}))
    titles = [text_of(item.text) for item in main.items(t.Title)]
    suits = declared.only("suits", partial(read_suits, declared))
    return Heading(titles[0] if titles else "", suits or p.SuitsDecl())
