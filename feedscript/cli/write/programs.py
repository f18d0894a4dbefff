"""``feedscript programs``: the programs that come with feedscript, and a copy to start from."""

from __future__ import annotations

import shutil
from pathlib import Path

import click

from feedscript.cli.options import FOLDER, format_option, out_option
from feedscript.cli.output import answer, tell
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
    width = max(map(len, programs), default=0)
    rows = [f"{key:<{width}}  {path}" for key, path in programs.items()]
    answer(output_format, {key: str(path) for key, path in programs.items()}, "\n".join(rows))


def _copy(programs: dict[str, Path], name: str, folder: Path) -> None:
    source = programs.get(name.removesuffix(".feed"))
    if source is None:
        known = ", ".join(programs)
        raise click.UsageError(f"no shipped program is called {name!r}; there are: {known}")
    target = folder / source.name
    if target.exists():
        raise click.UsageError(f"{target} exists and is left as it is; name another folder: -o")
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(source, target)
    tell(f"copied to {target}")
