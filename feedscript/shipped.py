"""Where the programs and profiles that come with feedscript lie."""

from __future__ import annotations

import os
from pathlib import Path

_HERE = Path(__file__).resolve().parent


def shipped_folder() -> Path:
    """The folder of shipped programs: inside an installed wheel, or beside a source checkout."""
    installed = _HERE / "shipped" / "programs"
    return installed if installed.is_dir() else _HERE.parent / "programs"


def shipped_programs() -> dict[str, Path]:
    """Every shipped program by the name it can be asked for: its path without the ending."""
    folder = shipped_folder()
    return {
        path.relative_to(folder).with_suffix("").as_posix(): path
        for path in sorted(folder.rglob("*.feed"))
    }


def program_path(name: str) -> Path:
    """The program file a person means: a file, or failing that a shipped program by its name.

    A name that is neither comes back as the path it would be, so that reading it says what is
    wrong.
    """
    path = Path(name)
    if os.path.lexists(path):
        return path
    return shipped_programs().get(name.removesuffix(".feed"), path)


def shipped_profiles() -> dict[str, Path]:
    """The shipped profiles by file name."""
    return {path.name: path for path in sorted((shipped_folder() / "launchers").glob("*.toml"))}


def profile_path(name: str) -> Path:
    """The profile a person means: a file, or failing that a shipped profile by its name.

    A name that is neither comes back as the path it would be, as in :func:`program_path`.
    """
    path = Path(name)
    if os.path.lexists(path):
        return path
    return shipped_profiles().get(name.removesuffix(".toml") + ".toml", path)
