"""Where the programs and profiles that come with feedscript lie, and what a name means."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from feedscript import club_library
from feedscript.club_library import CLUB, PROFILE
from feedscript.nearest import nearest
from feedscript.own_library import (
    OWN,
    SEASON_ENDING,
    library_folder,
    own_programs,
    own_seasons,
)
from feedscript.plain_file import STANDARD_INPUT

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


def program_path(name: str, library: Path | None = None) -> Path:
    """The program file a person means: a file, or failing that a program by its name, one of the
    coach's own as ``my/NAME`` (``library`` as in :func:`library_folder`), else a shipped one.

    A name that is neither comes back as the path it would be, so that reading it says what is
    wrong. ``-`` is standard input.
    """
    if name == "-":
        return STANDARD_INPUT
    path = Path(name)
    if os.path.lexists(path):
        return path
    name = name.removeprefix("programs/")
    known = own_programs(library_folder(library)) if name.startswith(OWN) else shipped_programs()
    return known.get(name.removesuffix(".feed"), path)


PROGRAM_ENDING = ".feed"


def program_meant(path: Path) -> str:
    """What to do where no program lies at this path: the nearest name there is, if one is near."""
    with suppress(OSError, ValueError):
        own = sorted(one.name for one in path.parent.glob(f"*{PROGRAM_ENDING}"))
        near = f"{path.name}{PROGRAM_ENDING}"
        shipped = () if path.parent != Path() else shipped_programs()
        meant = near if near in own else nearest(path.name, (*own, *shipped))
        if meant is not None:
            return f"did you mean `{path.with_name(meant)}`?"
    return "give the path of a program"


def files_in(path: Path, endings: tuple[str, ...] = (PROGRAM_ENDING,)) -> list[Path]:
    """The file itself, or what a folder and those in it hold of these endings, by their paths.

    A hidden folder is nobody's to look into unless it is named: version control and editors keep
    copies there. A folder behind a symbolic link is not gone into, so there is no way round.
    """
    if not os.path.isdir(path):
        return [path]
    found: list[Path] = []
    for folder, folders, names in os.walk(path):
        folders[:] = [one for one in folders if not one.startswith(".")]
        found += [Path(folder, one) for one in names if Path(one).suffix in endings]
    return sorted(found)


def shipped_seasons() -> dict[str, Path]:
    """Every shipped season by its name."""
    folder = shipped_folder()
    return {path.stem: path for path in sorted(folder.glob(f"*{SEASON_ENDING}"))}


def season_path(name: str, library: Path | None = None) -> Path:
    """The season's file a person means, as in :func:`program_path`."""
    path = Path(name)
    if os.path.lexists(path):
        return path
    own = name.startswith(OWN)
    known = own_seasons(library_folder(library)) if own else shipped_seasons()
    return known.get(name.removesuffix(SEASON_ENDING), path)


def shipped_profiles() -> dict[str, Path]:
    """The shipped profiles by file name."""
    return {path.name: path for path in sorted((shipped_folder() / "launchers").glob("*.toml"))}


def profile_path(name: str) -> Path:
    """The profile a person means: a file, or failing that the club's as ``club/NAME`` or a shipped
    one by its name.

    A name that is none comes back as the path it would be, as in :func:`program_path`.
    """
    path = Path(name)
    if os.path.lexists(path):
        return path
    if name.startswith(CLUB):
        with suppress(club_library.LibraryError):  # club_profile says why
            return club_profile(name)[0]
        return path
    name = name.removeprefix("launchers/")
    return shipped_profiles().get(name.removesuffix(".toml") + ".toml", path)


def shipped_mappings() -> dict[str, Path]:
    """The shipped descriptions of devices that speak a language of their own, by name."""
    folder = shipped_folder() / "launchers" / "mapped"
    return {path.stem: path for path in sorted(folder.glob("*.toml"))}


def mapping_path(name: str) -> Path:
    """The mapping a person means: a file, or failing that a shipped one by its name, as in
    :func:`profile_path`."""
    path = Path(name)
    if os.path.lexists(path):
        return path
    return shipped_mappings().get(name.removeprefix("mapped/").removesuffix(".toml"), path)


#: A longer file is no profile.
MOST_PROFILE_BYTES = 100_000


def club_profile(name: str) -> tuple[Path, bytes]:
    """The club's profile ``club/NAME``, as it was approved there last and verified; its file and
    content. Raises LibraryError."""
    short = name.removeprefix(CLUB).removesuffix(PROFILE) + PROFILE
    return club_library.read_text(club_library.club_folder(), short, MOST_PROFILE_BYTES)
