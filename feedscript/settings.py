"""What holds where a command is not told: which launcher, which language, which library.

An environment variable counts before a project's ``feedscript.toml`` (in the current folder or the
nearest one above it that has one), and that before the user's ``config.toml``. An option of the
command line counts before all of them.
"""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

import msgspec
import platformdirs

from feedscript.diagnostics import Diagnostic, FeedscriptError, Page
from feedscript.nearest import nearest
from feedscript.plain_file import is_plain, read_plain
from feedscript.told_units import SYSTEMS

PROJECT_FILE, USER_FILE = "feedscript.toml", "config.toml"
_MOST_BYTES = 100_000

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
#: What may be set, where that is one of a few words.
_CHOICES = {"units": tuple(SYSTEMS)}


class Set(msgspec.Struct, frozen=True):
    """One setting: its value, and where it stands (a variable, a file)."""

    value: str
    where: str


def user_file() -> Path:
    """The user's file, there or not."""
    return platformdirs.user_config_path("feedscript", appauthor=False) / USER_FILE


def project_file(folder: Path | None = None) -> Path | None:
    """The nearest project's file, from this folder upwards."""
    start = Path.cwd() if folder is None else folder
    return next(filter(is_plain, (one / PROJECT_FILE for one in (start, *start.parents))), None)


def settings() -> dict[str, Set]:
    """What is set anywhere. Raises FeedscriptError (``settings-file``)."""
    found: dict[str, Set] = {}
    for file in (user_file(), project_file()):
        if file is not None and is_plain(file):
            found |= _in_file(file)
    for name, variable in VARIABLES.items():
        value = os.environ.get(variable)
        if value:
            found[name] = Set(value, variable)
    for name, one in found.items():
        choices = _CHOICES.get(name, (one.value,))
        if one.value not in choices:
            fix = f"set {name} to one of {', '.join(choices)}"
            words = f"{name} is {one.value!r}"
            raise FeedscriptError(SETTINGS_FILE.report(words, device=one.where, help=fix))
    return found


def setting(name: str) -> str | None:
    """One of them. Raises FeedscriptError."""
    found = settings().get(name)
    return None if found is None else found.value


def _in_file(file: Path) -> dict[str, Set]:
    try:
        told = tomllib.loads(read_plain(file, _MOST_BYTES).decode("utf-8-sig"))
    except (OSError, ValueError) as trouble:
        words = getattr(trouble, "strerror", None) or str(trouble)
        raise FeedscriptError(_wrong(file, words, "mend it, or take it away")) from trouble
    for name, value in told.items():
        if name not in VARIABLES:
            close = nearest(name, VARIABLES)
            known = f"did you mean {close}?" if close else f"there are {', '.join(VARIABLES)}"
            raise FeedscriptError(_wrong(file, f"{name!r} is no setting", known))
        if not isinstance(value, str) or not value:
            fix = f'write {name} = "..."'
            raise FeedscriptError(_wrong(file, f"{name} is no text", fix))
    return {name: Set(_beside(name, value, file), str(file)) for name, value in told.items()}


def _beside(name: str, value: str, file: Path) -> str:
    """A file or folder that a settings file names lies where that file says: beside it."""
    if name in ("language", *_CHOICES):
        return value
    there = file.parent / Path(value).expanduser()
    return str(there) if name == "library" or os.path.lexists(there) else value


def _wrong(file: Path, words: str, fix: str) -> Diagnostic:
    return SETTINGS_FILE.report(words, device=str(file), help=fix)
