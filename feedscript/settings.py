"""What holds where a command is not told: which launcher, which language, which library.

An environment variable counts before a project's ``feedscript.toml`` (in the current folder or the
nearest one above it that has one), and that before the user's ``config.toml``. An option of the
command line counts before all of them.
"""

# No postponed annotations here: the file's keys are made from these types as they stand.

import os
from pathlib import Path
from typing import Annotated, Literal

import msgspec
import platformdirs
from msgspec import UNSET, Meta, UnsetType

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.told_units import SYSTEMS
from feedscript.toml_file import read_toml

PROJECT_FILE, USER_FILE = "feedscript.toml", "config.toml"

SETTINGS_FILE = Page(
    slug="settings-file",
    title="A settings file that cannot be used",
    why=(
        "A settings file is TOML with a line for each thing that it sets: `launcher`, `language`, "
        "`library`, `units` (`metric` or `imperial`), each with a text. A name that nothing reads "
        "would be a wish that nobody grants, so it is an error; so is a file that is no TOML."
    ),
)

#: Each setting, and its environment variable.
VARIABLES = {
    "launcher": "FEEDSCRIPT_LAUNCHER",
    "language": "FEEDSCRIPT_LANGUAGE",
    "library": "FEEDSCRIPT_LIBRARY",
    "units": "FEEDSCRIPT_UNITS",
}


def _said(description: str, example: str) -> Meta:
    return Meta(min_length=1, description=description, examples=[example])


class SettingsFile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What holds in a project (`feedscript.toml`) or for a user (`config.toml`) where no option is
    given."""

    launcher: (
        Annotated[str, _said("a shipped profile, or a file beside this one", "garage")] | UnsetType
    ) = UNSET
    language: (
        Annotated[str, _said("in which reports, sheets and calls are told", "de")] | UnsetType
    ) = UNSET
    library: (
        Annotated[str, _said("a folder of programs, beside this file", "library")] | UnsetType
    ) = UNSET
    units: (
        Annotated[Literal["metric", "imperial"], Meta(description="in which figures are told")]
        | UnsetType
    ) = UNSET


class Set(msgspec.Struct, frozen=True):
    """One setting: its value, and where it stands (a variable, a file)."""

    value: str
    where: str


def user_file() -> Path:
    """The user's file, there or not."""
    return platformdirs.user_config_path("feedscript", appauthor=False) / USER_FILE


def project_file(folder: Path | None = None) -> Path | None:
    """The nearest project's file, from this folder upwards. One that cannot be read is not passed
    over: what lies further up is not what was wished for here."""
    start = Path.cwd() if folder is None else folder
    places = (one / PROJECT_FILE for one in (start, *start.parents))
    return next(filter(os.path.lexists, places), None)


def settings() -> dict[str, Set]:
    """What is set anywhere. Raises FeedscriptError (``settings-file``)."""
    found: dict[str, Set] = {}
    for file in (user_file(), project_file()):
        if file is not None and os.path.lexists(file):
            found |= _in_file(file)
    for name, variable in VARIABLES.items():
        value = os.environ.get(variable)
        if value:
            found[name] = Set(value, variable)
            _see_that_it_may_be(name, value, variable)
    return found


def setting(name: str) -> str | None:
    """One of them. Raises FeedscriptError."""
    found = settings().get(name)
    return None if found is None else found.value


def _in_file(file: Path) -> dict[str, Set]:
    told = msgspec.to_builtins(read_toml(file, SettingsFile, SETTINGS_FILE).good())
    return {name: Set(_beside(name, value, file), str(file)) for name, value in told.items()}


def _see_that_it_may_be(name: str, value: str, variable: str) -> None:
    """Raise FeedscriptError where a variable's words are none of those that may be."""
    if name == "units" and value not in SYSTEMS:
        fix = f"set {name} to one of {', '.join(SYSTEMS)}"
        raise FeedscriptError(
            SETTINGS_FILE.report(f"{name} is {value!r}", device=variable, help=fix)
        )


def _beside(name: str, value: str, file: Path) -> str:
    """A file or folder that a settings file names lies where that file says: beside it."""
    if name in ("language", "units"):
        return value
    there = file.parent / Path(value).expanduser()
    return str(there) if name == "library" or os.path.lexists(there) else value
