"""Files that a command writes: never over what a person wrote or a lesson left behind.

A name that was typed in the wrong place, or that the shell completed, must not cost a program or
the journal of a season. Pictures, tables and plans are made anew at any time; these are not.
"""

from __future__ import annotations

import os
from pathlib import Path

import click

from feedscript.override import override
from feedscript.plain_file import real_path

#: By the ending of its name, or of that to which a link leads.
NOT_MADE_ANEW = {
    ".feed": "a program",
    ".season": "a season",
    ".toml": "a profile, or settings",
    ".sqlite": "a journal",
}


class WrittenFile(click.Path):
    """A file to write. One that lies there already and is none of those that commands make anew is
    refused; by the command itself where it writes ``only_new`` files."""

    def __init__(self, *, only_new: bool = False) -> None:
        super().__init__(path_type=Path, dir_okay=False)
        self._only_new = only_new

    @override
    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> Path:
        path = Path(super().convert(value, param, ctx))  # type: ignore[arg-type]
        if not self._only_new and os.path.exists(path):
            for name in (path, real_path(path)):
                what = NOT_MADE_ANEW.get(name.suffix.lower())
                if what is not None:
                    self.fail(f"{path} lies there already, as {what}: name another", param, ctx)
        return path
