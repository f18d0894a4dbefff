"""From the tables of a profile to its types, every mistake collected with its key."""

from __future__ import annotations

import math
import types
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import msgspec

from feedscript.diagnostics import Page
from feedscript.launcher.profile.drives import Range
from feedscript.launcher.profile.issue import ProfileIssue
from feedscript.launcher.profile.key_types import (
    bounds_of,
    choices_of,
    hints_of,
    is_numbers,
    is_pairs,
    pair_bounds_of,
    plain,
    sample_of,
    tags_of,
    without_none,
    words_of,
)
from feedscript.launcher.profile.model import PROFILE_FORMAT
from feedscript.launcher.profile.pages import (
    PROFILE_IMPLAUSIBLE,
    PROFILE_MISSING_KEY,
    PROFILE_RANGE_ORDER,
    PROFILE_UNKNOWN_KEY,
    PROFILE_WRONG_TYPE,
)
from feedscript.nearest import nearest
from feedscript.tables import KeyPath
from feedscript.visible import has_hidden


class TableReader(msgspec.Struct):
    """Walks the data beside the types, collecting what is wrong."""

    issues: list[ProfileIssue]

    def report(
        self, page: Page, path: KeyPath, message: str, fix: str, *, value: bool = True
    ) -> None:
        self.issues.append(ProfileIssue(page, path, message, fix, value))

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
        hints = hints_of(struct)
        tag_field = struct.__struct_config__.tag_field
        self.unknown_keys(set(table) - {tag_field}, hints, path)
        values = {
            field.name: field.default
            for field in msgspec.structs.fields(struct)
            if field.default is not msgspec.NODEFAULT and field.name not in table
        }
        given = [name for name in hints if name not in values]
        for name, hint in hints.items():
            if name not in given:
                continue
            if name not in table:
                self.missing(name, hint, path)
                continue
            values[name] = self.value(hint, table[name], (*path, name))
        whole = len(values) == len(hints) and all(values[name] is not None for name in given)
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
        inner, _ = plain(hint)
        what = words_of(hint)
        is_table = isinstance(inner, types.UnionType) or (
            isinstance(inner, type) and issubclass(inner, msgspec.Struct) and inner is not Range
        )
        full = ".".join((*path, name))
        where = f"[{'.'.join(path)}]" if path else "the profile"
        sample = f"`[{full}]`" if is_table else f"`{name} = {sample_of(hint)}`"
        self.report(
            PROFILE_MISSING_KEY,
            path,
            f"{where} does not state {name}" + (f" ({what})" if what else ""),
            f"add {sample}; nothing is assumed in its place",
            value=False,
        )

    def value(self, hint: Any, value: Any, path: KeyPath) -> Any:
        inner, meta = plain(without_none(hint))
        if isinstance(inner, types.UnionType):
            return self.union(inner, value, path)
        if inner is Range:
            return self.range(value, meta, path)
        if isinstance(inner, type) and issubclass(inner, msgspec.Struct):
            return self.struct(inner, value, path)
        if inner is float:
            return self.number(value, meta, path)
        if is_pairs(inner):
            return self.pairs(value, meta, path)
        if is_numbers(inner):
            return self.steps(value, meta, path)
        if choices_of(inner):
            return self.words(value, choices_of(inner), path)
        return self.simple(inner, value, meta, path)

    def union(self, union: Any, table: Any, path: KeyPath) -> Any:
        tag_field, structs = tags_of(union)
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

    def steps(
        self, value: Any, meta: msgspec.Meta | None, path: KeyPath
    ) -> tuple[float, ...] | None:
        """Whole numbers, each greater than the one before."""
        if not isinstance(value, list) or not value:
            self.wrong_type(path, value, "a list of numbers", "write them rising: `[900, 1400]`")
            return None
        found = [self.number(each, meta, path) for each in value]
        numbers = tuple(number for number in found if number is not None)
        if len(numbers) < len(found):
            return None
        broken = next((number for number in numbers if not number.is_integer()), None)
        if broken is not None:
            self.report(
                PROFILE_IMPLAUSIBLE, path, f"{path[-1]} holds {broken:g}",
                "write whole numbers: a setting is sent in whole units",
            )  # fmt: skip
            return None
        if any(after <= before for before, after in pairwise(numbers)):
            rising = ", ".join(f"{number:g}" for number in sorted(set(numbers)))
            self.report(
                PROFILE_RANGE_ORDER, path, f"{path[-1]} does not rise from each to the next",
                f"write `[{rising}]`",
            )  # fmt: skip
            return None
        return numbers

    def pairs(
        self, value: Any, meta: msgspec.Meta | None, path: KeyPath
    ) -> tuple[tuple[float, float], ...] | None:
        """A measured table: a whole number to be set and what it gives, both rising."""
        assert meta is not None
        fix = "write pairs of numbers: `[[15, 10.2], [20, 14.1]]`"
        if not isinstance(value, list) or not value:
            self.wrong_type(path, value, "a list of pairs", fix)
            return None
        if wrong := [row for row in value if not isinstance(row, list) or len(row) != 2]:
            self.wrong_type(path, wrong[0], "a pair of numbers", fix)
            return None
        least, most = meta.min_length or 0, meta.max_length or 0
        if not least <= len(value) <= most:
            self.report(
                PROFILE_IMPLAUSIBLE, path, f"{path[-1]} has {len(value)} pairs",
                f"measure {least} to {most} of them",
            )  # fmt: skip
            return None
        set_to, gives = pair_bounds_of(meta)
        firsts = self.steps([row[0] for row in value], set_to, path)
        found = [self.number(row[1], gives, path) for row in value]
        numbers = tuple(number for number in found if number is not None)
        if firsts is None or len(numbers) < len(found):
            return None
        for (before, after), first in zip(pairwise(numbers), firsts[1:], strict=True):
            if after <= before:
                self.report(
                    PROFILE_RANGE_ORDER, path,
                    f"{path[-1]} gives {after:g} at {first:g} and {before:g} at less",
                    "leave that pair out, or measure both again, more balls each",
                )  # fmt: skip
                return None
        return tuple(zip(firsts, numbers, strict=True))

    def simple(self, kind: type, value: Any, meta: msgspec.Meta | None, path: KeyPath) -> Any:
        words = {int: "a whole number", str: "text in double quotes", bool: "true or false"}[kind]
        if type(value) is not kind:
            self.wrong_type(path, value, words, f"write {words}")
            return None
        if isinstance(value, str):
            return value if self.fitting(value, meta, path) else None
        assert isinstance(value, int)
        return value if self.plausible(min(value, 10**15), meta, path) else None

    def words(self, value: Any, known: tuple[str, ...], path: KeyPath) -> tuple[str, ...] | None:
        """A list of words out of those that are known."""
        choices = ", ".join(f'"{word}"' for word in known)
        if not isinstance(value, list):
            self.wrong_type(path, value, "a list of words", f"write some of: {choices}")
            return None
        strange = [word for word in value if word not in known]
        for word in strange:
            near = nearest(word, known) if isinstance(word, str) else None
            fix = f'did you mean "{near}"? ' if near else ""
            self.wrong_type(path, word, "one of its words", f"{fix}its words: {choices}")
        return None if strange else tuple(dict.fromkeys(value))

    def fitting(self, text: str, meta: msgspec.Meta | None, path: KeyPath) -> bool:
        least = (meta.min_length or 0) if meta else 0
        most = (meta.max_length or 10**6) if meta else 10**6
        if has_hidden(text):
            self.report(
                PROFILE_IMPLAUSIBLE, path, f"{path[-1]} holds a character that is not seen",
                "write the words again, on one line",
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
        least, most = bounds_of(meta)
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
