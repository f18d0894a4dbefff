"""``feedscript desk``: write a lesson and see it, in a browser."""

from __future__ import annotations

import webbrowser
from pathlib import Path

import click

from feedscript.cli.options import format_option
from feedscript.cli.output import Exit, answer, leave, refuse, tell
from feedscript.diagnostics import FeedscriptError
from feedscript.formats import headed


@click.command()
@click.argument(
    "folder", type=click.Path(path_type=Path, file_okay=False, exists=True), default=Path()
)
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    show_default="any that is free",
    help="The page's port.",
)
@click.option("--no-browser", is_flag=True, help="Show the link only.")
@format_option
def command(folder: Path, port: int, no_browser: bool, output_format: str) -> None:
    """Write the programs of FOLDER and see them, in a browser.

    The page is served by this machine to itself alone, until Ctrl-C. The link lets one browser in,
    once.
    """
    try:
        from feedscript.console.extra import what_is_missing

        missing = what_is_missing()
        if missing is not None:
            refuse(Exit.USAGE, (missing,), output_format)
        from feedscript.console.listening import listen
        from feedscript.desk.serve import serve_desk
    except ModuleNotFoundError as missing_module:
        tell(
            f"the desk needs {missing_module.name}, which is not installed\n"
            "  fix: pip install 'feedscript[desk]'",
            error=True,
        )
        leave(Exit.USAGE)
    try:
        listening = listen(False, port)
    except FeedscriptError as failed:
        refuse(Exit.USAGE, (failed.diagnostic,), output_format)

    def told(link: str) -> None:
        words = f"The desk: {link}\nIt writes in {folder.resolve()}. Ctrl-C ends it."
        plain = headed("desk", {"link": link, "folder": str(folder.resolve())})
        answer(output_format, plain, words)
        if not no_browser:
            webbrowser.open(link)

    serve_desk(folder, listening, told)
