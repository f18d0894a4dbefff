"""A file that comes with feedscript, copied to become one's own."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import click

from feedscript.cli.output import writing
from feedscript.documents.shipped import file_of


def free(target: Path) -> Path:
    """The place of a copy, its folder made if need be. Raises UsageError where a file is there."""
    if os.path.lexists(target):
        raise click.UsageError(f"{target} exists and is left as it is; name another folder: -o")
    with writing(target.parent):
        target.parent.mkdir(parents=True, exist_ok=True)
    return target


def copied(source: Path, folder: Path, schema: tuple[str, str] | None = None) -> Path:
    """The copy in the folder. Raises UsageError where a file of that name is there already.

    A schema, by its name and its text, is laid beside the copy and named in its first line, where
    editors that know TOML look for it.
    """
    target = free(folder / source.name)
    with writing(target):
        if schema is None:
            return Path(shutil.copyfile(source, target))
        name, text = schema
        beside = folder / file_of(name)
        if not beside.exists():
            beside.write_text(text, encoding="utf-8")
        target.write_bytes(f"#:schema ./{beside.name}\n".encode() + source.read_bytes())
    return target
