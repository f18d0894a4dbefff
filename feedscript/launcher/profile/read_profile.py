"""Reading a profile from TOML: every mistake found, each with its place, cause and fix."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from pathlib import Path

import msgspec

from feedscript.diagnostics import Diagnostic, Span
from feedscript.launcher.profile.issue import ProfileIssue
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.pages import (
    PROFILE_SYNTAX,
    PROFILE_UNREADABLE,
)
from feedscript.launcher.profile.sense import promises_broken
from feedscript.launcher.profile.table_reader import TableReader
from feedscript.memo import Memo
from feedscript.plain_file import read_plain
from feedscript.text_file import NotText, text_of

#: A profile is a short text of short lines. Reading TOML takes long for keys of thousands of parts.
_MOST_BYTES = 100_000
_MOST_IN_A_LINE = 1_000
#: How ``tomllib`` says where it stopped.
_AT = r"^(?P<what>.*?) \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)$"


class ProfileReading(msgspec.Struct, frozen=True):
    """What became of a profile's text: the profile, or None with at least one error."""

    source: str
    text: str
    profile: Profile | None
    diagnostics: tuple[Diagnostic, ...]


def read_profile(path: Path, memo: Memo | None = None) -> ProfileReading:
    """Read a profile from a file. Never raises for what a file may hold.

    With a ``memo`` the same text is parsed once.
    """
    source = str(path)
    try:
        raw = read_plain(path, _MOST_BYTES)
    except OSError as error:
        return _unreadable(
            source, error.strerror or "it cannot be read", "check its name and folder"
        )
    return profile_in(raw, source, memo)


def profile_in(raw: bytes, source: str, memo: Memo | None = None) -> ProfileReading:
    """Read a profile from a file's content, which was read already."""
    if len(raw) > _MOST_BYTES:
        return _unreadable(
            source, f"it is longer than {_MOST_BYTES} bytes", "a profile is a short text"
        )
    text = text_of(raw)
    if isinstance(text, NotText):
        return _unreadable(source, text.cause, text.fix)
    memo = Memo() if memo is None else memo
    return memo.one("profile", (source, text), lambda: parse_profile(text, source))


def parse_profile(text: str, source: str) -> ProfileReading:
    """Read a profile from its text; ``source`` is the name that diagnostics show."""
    text = text.replace("\r\n", "\n")
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > _MOST_IN_A_LINE:
            said = f"a line of {len(line)} characters (at line {number}, column {_MOST_IN_A_LINE})"
            return ProfileReading(source, text, None, (_syntax(text, source, said),))
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError also for endless digits
        return ProfileReading(source, text, None, (_syntax(text, source, str(error)),))
    reader = TableReader([])
    reader.check_format(data)
    profile = reader.struct(Profile, data, ())
    found = reader.issues or promises_broken(profile)
    return ProfileReading(
        source, text, None if reader.issues else profile, _shown(found, text, source)
    )


def _shown(issues: Sequence[ProfileIssue], text: str, source: str) -> tuple[Diagnostic, ...]:
    """The issues at their places; a text without any is not searched for places."""
    if not issues:
        return ()
    from feedscript.toml_places import key_places, span_of

    places = key_places(text, source)
    return tuple(
        issue.page.report(
            issue.message,
            help=issue.fix,
            span=span_of(places, issue.path, source, value=issue.at_value),
        )
        for issue in issues
    )


def _unreadable(source: str, why: str, fix: str) -> ProfileReading:
    found = PROFILE_UNREADABLE.report(
        f"the launcher profile cannot be read: {why}", help=fix, device=source
    )
    return ProfileReading(source, "", None, (found,))


def _syntax(text: str, source: str, said: str) -> Diagnostic:
    lines = text.split("\n")
    match = re.match(_AT, said)
    line, column = len(lines), len(lines[-1]) + 1
    if match and match["line"]:
        line, column = int(match["line"]), int(match["column"])
    return PROFILE_SYNTAX.report(
        f"the profile is not valid TOML here: {match['what'] if match else said}",
        help="one `key = value` a line, tables as `[name]`, text in double quotes",
        span=Span(source, line, column, line, column + 1),
    )
