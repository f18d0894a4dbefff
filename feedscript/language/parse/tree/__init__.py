"""The syntax tree: what was written, with the place of every part; nothing is looked up yet.

``start`` and ``end`` are offsets into the text. A name or word keeps its spelling; ``Token`` is a
string that knows its place. Two trees say the same when :func:`shape` gives the same for both.
"""

from __future__ import annotations

from feedscript.language.parse.tree.expectations import *
from feedscript.language.parse.tree.items import *
from feedscript.language.parse.tree.shape import *
from feedscript.language.parse.tree.steps import *
from feedscript.language.parse.tree.values import *
