"""Reading a profile from TOML: every mistake found, each with its place, cause and fix."""

from __future__ import annotations

import math
import re
import tomllib
import types
import typing
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import msgspec

from feedscript.diagnostics import Diagnostic, Page, Span
from feedscript.launcher.profile.drives import Range
from feedscript.launcher.profile.issue import KeyPath, Slip
from feedscript.launcher.profile.model import PROFILE_FORMAT, Profile
from feedscript.launcher.profile.pages import (
    PROFILE_IMPLAUSIBLE,
    PROFILE_MISSING_KEY,
    PROFILE_RANGE_ORDER,
    PROFILE_SYNTAX,
    PROFILE_UNKNOWN_KEY,
    PROFILE_UNREADABLE,
    PROFILE_WRONG_TYPE,
)
from feedscript.launcher.profile.sense import promises_broken
from feedscript.nearest import nearest
from feedscript.plain_file import read_plain
from feedscript.visible import has_hidden

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


def read_profile(path: Path) -> ProfileReading:
    """Read a profile from a file. Never raises for what a file may hold."""
    source = str(path)
    try:
        raw = read_plain(path, _MOST_BYTES)
    except OSError as error:
        return _unreadable(
            source, error.strerror or "it cannot be read", "check its name and folder"
        )
    if len(raw) > _MOST_BYTES:
        return _unreadable(
            source, f"it is longer than {_MOST_BYTES} bytes", "a profile is a short text"
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return _unreadable(source, f"byte {error.start} is not UTF-8", "save it as UTF-8 text")
    return parse_profile(text, source)


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
    reader = _Reader([])
    reader.check_format(data)
    profile = reader.struct(Profile, data, ())
    found = reader.slips or promises_broken(profile)
    return ProfileReading(
        source, text, None if reader.slips else profile, _shown(found, text, source)
    )


def _shown(slips: Sequence[Slip], text: str, source: str) -> tuple[Diagnostic, ...]:
    """The slips at their places; a text without any is not searched for places."""
    if not slips:
        return ()
    from feedscript.launcher.profile.toml_places import key_places, span_of

    places = key_places(text, source)
    return tuple(
        slip.page.report(
            slip.message,
            help=slip.fix,
            span=span_of(places, slip.path, source, value=slip.at_value),
        )
        for slip in slips
    )


def keys_of(struct: type[msgspec.Struct]) -> Mapping[str, str]:
    """The keys of one table and what each says, for a reference page."""
    return {name: _words(hint) for name, hint in _hints(struct).items()}


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


def _hints(struct: type[msgspec.Struct]) -> dict[str, Any]:
    # Profiles' classes keep real types, not texts, so that nothing is evaluated here.
    return struct.__annotations__


def _plain(hint: Any) -> tuple[Any, msgspec.Meta | None]:
    if typing.get_origin(hint) is typing.Annotated:
        inner, meta, *_ = typing.get_args(hint)
        return inner, meta
    return hint, None


def _words(hint: Any) -> str:
    _, meta = _plain(hint)
    return (meta.description or "") if meta else ""


def _tags(union: Any) -> tuple[str, dict[str, type[msgspec.Struct]]]:
    """The key that chooses among the structs of a union, and each by its word."""
    structs = typing.get_args(union)
    configs = [(struct.__struct_config__, struct) for struct in structs]
    return str(configs[0][0].tag_field), {str(config.tag): struct for config, struct in configs}


class _Reader(msgspec.Struct):
    """Walks the data beside the types, collecting what is wrong."""

    slips: list[Slip]

    def report(
        self, page: Page, path: KeyPath, message: str, fix: str, *, value: bool = True
    ) -> None:
        self.slips.append(Slip(page, path, message, fix, value))

    def check_format(self, data: dict[str, Any]) -> None:
        version = data.pop("format", None)
        if version is None:
            self.report(
                PROFILE_MISSING_KEY, (), "the profile does not say its format",
                f"begin it with `format = {PROFILE_FORMAT}`", value=False,
            )  # fmt: skip
        elif version != PROFILE_FORMAT or isinstance(version, bool):
            self.report(
                PROFILE_WRONG_TYPE, ("format",), f"format {version!r} is not one that this reads",
                f"this feedscript reads format {PROFILE_FORMAT}",
            )  # fmt: skip

    def struct(self, struct: type[msgspec.Struct], table: Any, path: KeyPath) -> Any:
        """The struct that the table holds, or None after reporting why not."""
        if not isinstance(table, dict):
            self.wrong_type(path, table, "a table", f"write `[{'.'.join(path)}]` and its keys")
            return None
        hints = _hints(struct)
        tag_field = struct.__struct_config__.tag_field
        self.unknown_keys(set(table) - {tag_field}, hints, path)
        values = {}
        for name, hint in hints.items():
            if name not in table:
                self.missing(name, hint, path)
                continue
            values[name] = self.value(hint, table[name], (*path, name))
        whole = len(values) == len(hints) and all(value is not None for value in values.values())
        return struct(**values) if whole else None

    def unknown_keys(self, keys: set[str], hints: Mapping[str, Any], path: KeyPath) -> None:
        for key in sorted(keys - set(hints)):
            near = nearest(key, hints)
            where = f"[{'.'.join(path)}]" if path else "the top of a profile"
            self.report(
                PROFILE_UNKNOWN_KEY,
                (*path, key),
                f"{where} has no key {key!r}",
                f"did you mean `{near}`?" if near else f"its keys: {', '.join(hints)}",
                value=False,
            )

    def missing(self, name: str, hint: Any, path: KeyPath) -> None:
        inner, _ = _plain(hint)
        what = _words(hint)
        is_table = isinstance(inner, types.UnionType) or (
            isinstance(inner, type) and issubclass(inner, msgspec.Struct) and inner is not Range
        )
        full = ".".join((*path, name))
        where = f"[{'.'.join(path)}]" if path else "the profile"
        sample = f"`[{full}]`" if is_table else f"`{name} = {_sample(hint)}`"
        self.report(
            PROFILE_MISSING_KEY,
            path,
            f"{where} does not state {name}" + (f" ({what})" if what else ""),
            f"add {sample}; nothing is assumed in its place",
            value=False,
        )

    def value(self, hint: Any, value: Any, path: KeyPath) -> Any:
        inner, meta = _plain(hint)
        if isinstance(inner, types.UnionType):
            return self.union(inner, value, path)
        if inner is Range:
            return self.range(value, meta, path)
        if isinstance(inner, type) and issubclass(inner, msgspec.Struct):
            return self.struct(inner, value, path)
        if inner is float:
            return self.number(value, meta, path)
        return self.simple(inner, value, meta, path)

    def union(self, union: Any, table: Any, path: KeyPath) -> Any:
        tag_field, structs = _tags(union)
        choices = ", ".join(f'"{tag}"' for tag in structs)
        if not isinstance(table, dict):
            self.wrong_type(path, table, "a table", f"write `[{'.'.join(path)}]` and its keys")
            return None
        chosen = table.get(tag_field)
        if chosen is None:
            self.report(
                PROFILE_MISSING_KEY, path, f"[{'.'.join(path)}] does not state {tag_field}",
                f"add `{tag_field} = ...` with one of: {choices}", value=False,
            )  # fmt: skip
            return None
        struct = structs.get(chosen) if isinstance(chosen, str) else None
        if struct is None:
            self.wrong_type((*path, tag_field), chosen, f"one of {choices}", f"write {choices}")
            return None
        return self.struct(struct, table, path)

    def number(self, value: Any, meta: msgspec.Meta | None, path: KeyPath) -> float | None:
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.wrong_type(path, value, "a number", "write it bare; the key's name has the unit")
            return None
        try:
            number = float(value) + 0.0
        except OverflowError:
            number = math.inf
        return number if self.plausible(number, meta, path) else None

    def range(self, value: Any, meta: msgspec.Meta | None, path: KeyPath) -> Range | None:
        if not isinstance(value, list) or len(value) != 2:
            self.wrong_type(path, value, "a range", "write two numbers: `[least, most]`")
            return None
        ends = [self.number(end, meta, path) for end in value]
        least, most = ends
        if least is None or most is None:
            return None
        if least > most:
            self.report(
                PROFILE_RANGE_ORDER, path, f"the range begins at {least:g} and ends at {most:g}",
                f"write the least first: `[{most:g}, {least:g}]`",
            )  # fmt: skip
            return None
        return Range(least, most)

    def simple(self, kind: type, value: Any, meta: msgspec.Meta | None, path: KeyPath) -> Any:
        words = {int: "a whole number", str: "text in double quotes", bool: "true or false"}[kind]
        if type(value) is not kind:
            self.wrong_type(path, value, words, f"write {words}")
            return None
        if isinstance(value, str):
            return value if self.fitting(value, meta, path) else None
        assert isinstance(value, int)
        return value if self.plausible(min(value, 10**15), meta, path) else None

    def fitting(self, text: str, meta: msgspec.Meta | None, path: KeyPath) -> bool:
        least = (meta.min_length or 0) if meta else 0
        most = (meta.max_length or 10**6) if meta else 10**6
        if has_hidden(text):
            self.report(
                PROFILE_IMPLAUSIBLE, path, f"{path[-1]} holds a character that is not seen",
                "write the words anew, on one line",
            )  # fmt: skip
            return False
        if least <= len(text.strip()) and len(text) <= most:
            return True
        self.report(
            PROFILE_IMPLAUSIBLE, path, f"{path[-1]} is {len(text)} characters long",
            f"write {least} to {most} characters",
        )  # fmt: skip
        return False

    def plausible(self, number: float, meta: msgspec.Meta | None, path: KeyPath) -> bool:
        least, most = _bounds(meta)
        if math.isfinite(number) and least <= number <= most:
            return True
        self.report(
            PROFILE_IMPLAUSIBLE, path, f"{'.'.join(path)} is {number:g}",
            f"it lies between {least:g} and {most:g}; look at the unit in the key's name",
        )  # fmt: skip
        return False

    def wrong_type(self, path: KeyPath, value: Any, wanted: str, fix: str) -> None:
        shown = repr(value) if len(repr(value)) <= 40 else repr(value)[:37] + "..."
        self.report(
            PROFILE_WRONG_TYPE,
            path,
            f"{'.'.join(path)} is {shown}, and {wanted} belongs here",
            fix,
        )


def _bounds(meta: msgspec.Meta | None) -> tuple[float, float]:
    if meta is None:
        return -math.inf, math.inf
    extra = meta.extra or {}
    least = meta.ge if meta.ge is not None else extra.get("ge", -math.inf)
    most = meta.le if meta.le is not None else extra.get("le", math.inf)
    return float(least), float(most)


def _sample(hint: Any) -> str:
    inner, _ = _plain(hint)
    if inner is Range:
        return "[least, most]"
    return {str: '"..."', bool: "true"}.get(inner, "...")
