"""``-o -``: what a command writes goes to standard output, and its words to the other one."""

from __future__ import annotations

import contextlib
import shutil
import sys
import tempfile
from pathlib import Path

import click

from feedscript.cli.output import TO_STANDARD_OUTPUT
from feedscript.cli.written import WrittenFile
from feedscript.override import override

#: What it is called where a message names the file.
NAME = "standard output"


class OutFile(WrittenFile):
    """A file to write. ``-`` is standard output, in the command's usual kind; ``-.png`` another
    kind, by the ending that a file would have. Without a kind the command's file is none that can
    go there."""

    def __init__(self, ending: str | None, *, only_new: bool = False) -> None:
        super().__init__(only_new=only_new)
        self._ending = ending

    @override
    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> Path:
        if not isinstance(value, str) or not (value == "-" or value.startswith("-.")):
            return super().convert(value, param, ctx)
        if self._ending is None or ctx is None:
            self.fail("this goes into a file only: give it a name", param, ctx)
        return _to_standard_output(value[1:] or self._ending, ctx)


def _to_standard_output(ending: str, ctx: click.Context) -> Path:
    """A file for the command to write, which is told on standard output when it is done."""
    folder = Path(tempfile.mkdtemp(prefix="feedscript-"))
    file = folder / f"{NAME}{ending}"
    ctx.meta[TO_STANDARD_OUTPUT] = str(folder)
    ctx.call_on_close(lambda: _tell(file, wanted=bool(ctx.meta[TO_STANDARD_OUTPUT])))
    return file


def _tell(file: Path, *, wanted: bool) -> None:
    try:
        data = file.read_bytes() if wanted and file.exists() else b""
    finally:
        shutil.rmtree(file.parent, ignore_errors=True)
    with contextlib.suppress(BrokenPipeError):
        sys.stdout.flush()
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
