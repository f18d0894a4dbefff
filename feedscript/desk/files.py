"""The programs that a desk opens: one small port, and the folder that stands behind it today.

A file is saved over the version that was read, and over no other: whoever saves over words that he
has not seen is told what stands there now, and nothing is lost. Every version that a desk has saved
is kept beside the programs as a plain file.
"""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
import threading
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

import msgspec

from feedscript.diagnostics import FeedscriptError, Page
from feedscript.language.resolve.loading import MOST_BYTES
from feedscript.own_library import SEASON_ENDING
from feedscript.plain_file import is_plain, read_plain
from feedscript.shipped import shipped_programs, shipped_seasons
from feedscript.text_file import NotText, text_of
from feedscript.tongues.text import _

BAD_NAME = Page(
    slug="bad-program-name",
    title="A program cannot be called that",
    why=(
        "The desk keeps every program as a file of its own in one folder. Its name is made of "
        "letters, figures, blanks, `-` and `_`, so that it is the same on every machine."
    ),
)

NO_PROGRAM = Page(
    slug="no-such-program",
    title="There is no program of that name",
    why="The desk opens programs of its folder, and those that come with feedscript.",
)

NOT_SAVED = Page(
    slug="not-saved",
    title="A program could not be saved",
    why=(
        "The words stay on the page until they are saved. The disk may be full, or the folder may "
        "belong to somebody else."
    ),
)

#: Versions kept of each program; older ones go. Design value: weeks of work on one lesson.
MOST_VERSIONS = 400
_NAME = re.compile(r"[^\W_][\w -]{0,79}")
PROGRAM_ENDING = ".feed"
_KEPT = re.compile(r"(\d{8}T\d{6}\.\d{6}Z)-([0-9a-f]{16})\.feed")


class Text(msgspec.Struct, frozen=True, kw_only=True):
    """A program's words, and the version that they are."""

    name: str
    words: str
    version: str


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """A program or a season as a list shows it; ``shipped`` ones are copied to be changed, and so
    are those of a ``club``'s library.

    ``name`` is what it is asked for by: a season's has its ending. ``refused``: why it cannot be
    opened, where it cannot.
    """

    name: str
    title: str
    shipped: bool
    season: bool = False
    club: bool = False
    refused: str = ""


class Version(msgspec.Struct, frozen=True, kw_only=True):
    """A version that was saved once."""

    version: str
    saved: str  # ISO 8601, UTC


class Clash(msgspec.Struct, frozen=True):
    """Not saved: somebody else has saved since. ``now`` is what stands there."""

    now: Text


class Programs(Protocol):
    """What a desk needs of wherever programs are kept. Every method may raise FeedscriptError."""

    def listed(self) -> tuple[Entry, ...]:
        """Every program and season, own ones first."""
        ...

    def path(self, name: str) -> Path:
        """The place that a program's own ``use`` is looked up from."""
        ...

    def read(self, name: str) -> Text:
        """The program as it stands."""
        ...

    def save(self, name: str, words: str, based_on: str) -> Text | Clash:
        """Save words that were made from the version ``based_on`` ("" for a new program)."""
        ...

    def versions(self, name: str) -> tuple[Version, ...]:
        """Every version still kept, the newest first."""
        ...

    def version(self, name: str, version: str) -> Text:
        """The words of one of them."""
        ...


def version_of(words: str) -> str:
    """What names a version: a hash of its words."""
    return hashlib.sha256(words.encode()).hexdigest()[:16]


class Folder:
    """Programs of one folder, and the shipped ones behind them."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._lock = threading.Lock()  # two tabs of one desk

    def listed(self) -> tuple[Entry, ...]:
        own = [
            path
            for ending in (PROGRAM_ENDING, SEASON_ENDING)
            for path in sorted(self.root.glob(f"*{ending}"))
            if is_plain(path) and not path.name.startswith(".")
        ]
        shipped = [path for name, path in shipped_programs().items() if "/" not in name]
        shipped += shipped_seasons().values()
        return (
            *(_entry(path, shipped=False) for path in own),
            *(_entry(path, shipped=True) for path in shipped),
        )

    def path(self, name: str) -> Path:
        own = self.own_path(name.removeprefix("shipped/"))
        if not name.startswith("shipped/"):
            return own
        shipped = shipped_seasons() if own.suffix == SEASON_ENDING else shipped_programs()
        found = shipped.get(own.stem)
        if found is None:
            raise missing(name)
        return found

    def read(self, name: str) -> Text:
        path = self.path(name)
        try:
            raw = read_plain(path, MOST_BYTES)
            if len(raw) > MOST_BYTES:
                raise missing(name, f"it is larger than {MOST_BYTES} bytes")
        except OSError as trouble:
            raise missing(name, trouble.strerror or str(trouble)) from trouble
        words = text_of(raw)
        if isinstance(words, NotText):
            raise missing(name, words.cause, words.fix)
        return Text(name=name, words=words, version=version_of(words))

    def save(self, name: str, words: str, based_on: str) -> Text | Clash:
        path = self.own_path(name)
        if len(words.encode()) > MOST_BYTES:
            raise unsaved(name, f"it is longer than {MOST_BYTES} bytes", "split the program")
        with self._lock:
            now = self.read(name) if is_plain(path) else None
            if now is not None and now.version not in (based_on, version_of(words)):
                return Clash(now)
            try:
                if now is not None:
                    self._keep(name, now.words)  # also what another editor has written
                _replace(path, words)
                self._keep(name, words)
            except OSError as trouble:
                why = trouble.strerror or str(trouble)
                raise unsaved(name, why, "choose another folder, or make room") from trouble
        return Text(name=name, words=words, version=version_of(words))

    def versions(self, name: str) -> tuple[Version, ...]:
        kept = reversed(self._kept(name))
        return tuple(Version(version=match[2], saved=_iso(match[1])) for match, _path in kept)

    def version(self, name: str, version: str) -> Text:
        for match, path in self._kept(name):
            if match[2] == version:
                words = read_plain(path, MOST_BYTES).decode()
                return Text(name=name, words=words, version=version)
        raise missing(name, "that version is not kept any more")

    def own_path(self, name: str) -> Path:
        """The file of an own program, there or not. Raises FeedscriptError for no name of one."""
        if not _is_name(name):
            raise FeedscriptError(
                BAD_NAME.report(
                    f"`{name}` cannot be the name of a program",
                    help="write a name such as `tuesday juniors`",
                )
            )
        return self.root / (name if name.endswith(SEASON_ENDING) else f"{name}{PROGRAM_ENDING}")

    def _history(self, name: str) -> Path:
        return self.root / ".history" / self.own_path(name).name.removesuffix(PROGRAM_ENDING)

    def _kept(self, name: str) -> list[tuple[re.Match[str], Path]]:
        """Every kept version's file, the oldest first."""
        history = self._history(name)
        paths = sorted(history.iterdir()) if history.is_dir() else ()
        found = [(_KEPT.fullmatch(path.name), path) for path in paths]
        return [(match, path) for match, path in found if match is not None]

    def _keep(self, name: str, words: str) -> None:
        """Put a version into the history, once in a row."""
        kept = self._kept(name)
        version = version_of(words)
        if kept and kept[-1][0][2] == version:
            return
        history = self._history(name)
        history.mkdir(parents=True, exist_ok=True)
        now = datetime.now(UTC).strftime("%Y%m%dT%H%M%S.%fZ")
        _replace(history / f"{now}-{version}.feed", words)
        for _match, old in kept[: max(0, len(kept) + 1 - MOST_VERSIONS)]:
            with suppress(OSError):
                old.unlink()


def _replace(path: Path, words: str) -> None:
    """Write a file whole or not at all, whatever happens meanwhile. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    descriptor, temporary = tempfile.mkstemp(prefix=".", suffix=".tmp", dir=path.parent)
    try:
        with open(descriptor, "w", encoding="utf-8", newline="") as file:
            file.write(words)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).replace(path)
    except BaseException:
        with suppress(OSError):
            Path(temporary).unlink()
        raise


def _is_name(name: str) -> bool:
    """Whether a program or a season can be called so."""
    stem = name.removesuffix(SEASON_ENDING)
    return _NAME.fullmatch(stem) is not None and stem == stem.strip()


def _entry(path: Path, *, shipped: bool) -> Entry:
    name = path.name.removesuffix(PROGRAM_ENDING)
    return Entry(
        name=f"shipped/{name}" if shipped else name,
        title=title_of(path),
        shipped=shipped,
        season=path.suffix == SEASON_ENDING,
        refused=""
        if _is_name(name)
        else _("call the file otherwise: letters, figures, blanks, `-` and `_` are its name"),
    )


def title_of(path: Path) -> str:
    """The program's title as it is written; its name where there is none."""
    with suppress(OSError, UnicodeDecodeError):
        head = read_plain(path, MOST_BYTES)[:4000].decode("utf-8", "ignore")
        return title_in(head) or path.stem
    return path.stem


def title_in(words: str) -> str:
    """The title that words begin with; "" where they have none."""
    found = re.search(r'^\s*(?:title|season)\s+"((?:[^"\\\n]|\\.)*)"', words[:4000], re.MULTILINE)
    return "" if found is None else found[1]


def _iso(stamp: str) -> str:
    return datetime.strptime(stamp, "%Y%m%dT%H%M%S.%f%z").isoformat(timespec="seconds")


def missing(
    name: str, why: str = "there is none", fix: str = "choose one of the list"
) -> FeedscriptError:
    """Why a program is not opened."""
    return FeedscriptError(NO_PROGRAM.report(f"`{name}` cannot be opened: {why}", help=fix))


def unsaved(name: str, why: str, fix: str) -> FeedscriptError:
    """Why words were not saved."""
    return FeedscriptError(NOT_SAVED.report(f"`{name}` was not saved: {why}", help=fix))
