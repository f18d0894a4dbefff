"""A file that comes with feedscript, copied to become one's own."""

from __future__ import annotations

import shutil
from pathlib import Path

import click


def free(target: Path) -> Path:
    """The place of a copy, its folder made if need be. Raises UsageError where a file is there."""
    if target.exists():
        raise click.UsageError(f"{target} exists and is left as it is; name another folder: -o")
    target.parent.mkdir(parents=True, exist_ok=True)
    return target


def copied(source: Path, folder: Path) -> Path:
    """The copy in the folder. Raises UsageError where a file of that name is there already."""
    return Path(shutil.copyfile(source, free(folder / source.name)))
