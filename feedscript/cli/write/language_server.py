"""``feedscript language-server``: editor support over the Language Server Protocol."""

from __future__ import annotations

from pathlib import Path

import click

from feedscript.cli.options import library_option
from feedscript.cli.output import Exit, leave, tell


@click.command("language-server")
@library_option
def command(library: Path | None) -> None:
    """Serve an editor on standard input and output (Language Server Protocol).

    An editor starts this by itself; feedscript/editor/extension shows how.
    """
    try:
        from feedscript.editor.server import new_server
    except ModuleNotFoundError as missing:
        tell(
            f"the language server needs {missing.name}, which is not installed\n"
            "  fix: pip install 'feedscript[editor]'",
            error=True,
        )
        leave(Exit.USAGE)
    server = new_server()
    server.library = library
    server.start_io()
