"""A coach's own library: the folder that ``use "my/NAME"`` and the name ``my/NAME`` look into.

Its programs are only ever named with ``my/`` before them, so that none takes the place of one that
comes with feedscript.
"""

from __future__ import annotations

from pathlib import Path

import platformdirs

from feedscript.plain_file import is_plain, real_path
from feedscript.settings import VARIABLES, setting

#: What stands before the name of a program in it.
OWN = "my/"
#: How the file of a season ends, so that a folder of programs holds programs only.
SEASON_ENDING = ".season"
#: Names the folder, where no command does.
VARIABLE = VARIABLES["library"]


def library_folder(named: Path | None = None) -> Path:
    """The folder: the one ``named``, else the settings', else the usual one, there or not. Raises
    FeedscriptError for a settings file that cannot be used."""
    if named is not None:
        return named
    said = setting("library")
    return usual_library() if said is None else Path(said)


def usual_library() -> Path:
    """Where it lies unless somebody says otherwise."""
    return platformdirs.user_data_path("feedscript", appauthor=False) / "library"


def own_programs(folder: Path) -> dict[str, Path]:
    """Every program in the folder by its name; what a link leads to elsewhere is not in it."""
    return _named(folder, ".feed")


def own_seasons(folder: Path) -> dict[str, Path]:
    """Every season in the folder, as :func:`own_programs`."""
    return _named(folder, SEASON_ENDING)


def _named(folder: Path, ending: str) -> dict[str, Path]:
    inside = real_path(folder)
    return {
        OWN + path.relative_to(folder).with_suffix("").as_posix(): path
        for path in sorted(folder.rglob(f"*{ending}"))
        if is_plain(path) and real_path(path).is_relative_to(inside)
    }
