"""``feedscript programs``: the programs that come with feedscript, and a copy to start from."""

from __future__ import annotations

import shutil
from pathlib import Path

import click

from feedscript.cli.options import FOLDER, format_option, out_option
from feedscript.cli.output import Exit, leave, print_json, tell
from feedscript.shipped import shipped_programs


@click.command()
@click.option("--copy", "name", help="Copy this program into a folder, to make it your own.")
@out_option("the folder to copy into; without it, this one.", kind=FOLDER)
@format_option
def command(name: str | None, out: Path | None, output_format: str) -> None:
    """List the programs that come with feedscript, or copy one to change it."""
    programs = shipped_programs()
    if name is not None:
        _copy(programs, name, out or Path())
        return
    if output_format == "json":
        print_json({key: str(path) for key, path in programs.items()})
        return
    width = max(map(len, programs), default=0)
    for key, path in programs.items():
        tell(f"{key:<{width}}  {path}")


def _copy(programs: dict[str, Path], name: str, folder: Path) -> None:
    source = programs.get(name.removesuffix(".feed"))
    if source is None:
        tell(f"no shipped program is called {name!r}; there are: {', '.join(programs)}")
        leave(Exit.USAGE)
    target = folder / source.name
    if target.exists():
        tell(f"{target} exists and is left as it is; choose another folder with -o")
        leave(Exit.USAGE)
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(source, target)
    tell(f"copied to {target}")
