"""What a profile's types say of their keys: words, bounds, choices."""

from __future__ import annotations

import math
import types
import typing
from typing import Any

import msgspec

from feedscript.launcher.profile.drives import Range


def hints_of(struct: type[msgspec.Struct]) -> dict[str, Any]:
    """Every key of a table with its type."""
    # Profiles' classes keep real types, not texts, so that nothing is evaluated here.
    return struct.__annotations__


def plain(hint: Any) -> tuple[Any, msgspec.Meta | None]:
    """A type without what is said of it, and what is said."""
    if typing.get_origin(hint) is typing.Annotated:
        inner, meta, *_ = typing.get_args(hint)
        return inner, meta
    return hint, None


def without_none(kind: Any) -> Any:
    """The type of a table that may be left out."""
    parts = [each for each in typing.get_args(kind) if each is not types.NoneType]
    is_optional = isinstance(kind, types.UnionType) and len(parts) == 1
    return parts[0] if is_optional else kind


def words_of(hint: Any) -> str:
    """What a key means, in a few words; empty where nothing is said."""
    _, meta = plain(hint)
    return (meta.description or "") if meta else ""


def tags_of(union: Any) -> tuple[str, dict[str, type[msgspec.Struct]]]:
    """The key that chooses among the structs of a union, and each by its word."""
    structs = typing.get_args(union)
    configs = [(struct.__struct_config__, struct) for struct in structs]
    return str(configs[0][0].tag_field), {str(config.tag): struct for config, struct in configs}


def bounds_of(meta: msgspec.Meta | None) -> tuple[float, float]:
    """The least and the most that a number may be."""
    if meta is None:
        return -math.inf, math.inf
    extra = meta.extra or {}
    least = meta.ge if meta.ge is not None else extra.get("ge", -math.inf)
    most = meta.le if meta.le is not None else extra.get("le", math.inf)
    return float(least), float(most)


def choices_of(kind: Any) -> tuple[str, ...]:
    """The words of a list of words; empty for any other kind."""
    if typing.get_origin(kind) is not tuple:
        return ()
    words: tuple[str, ...] = typing.get_args(typing.get_args(kind)[0])
    return words


def is_numbers(kind: Any) -> bool:
    """Whether a key holds a list of numbers."""
    return typing.get_origin(kind) is tuple and typing.get_args(kind)[0] is float


def is_pairs(kind: Any) -> bool:
    """Whether a key holds a list of pairs of numbers."""
    return typing.get_origin(kind) is tuple and typing.get_origin(typing.get_args(kind)[0]) is tuple


def pair_bounds_of(meta: msgspec.Meta | None) -> tuple[msgspec.Meta, msgspec.Meta]:
    """What is said of the first number of each pair, and of the second."""
    assert meta is not None
    assert meta.extra is not None
    first, second = (msgspec.Meta(ge=least, le=most) for least, most in meta.extra["pairs"])
    return first, second


def sample_of(hint: Any) -> str:
    """What to write after a key, for a message that asks for it."""
    inner, _ = plain(hint)
    if inner is Range:
        return "[least, most]"
    if is_pairs(inner):
        return "[[..., ...], ...]"
    return {str: '"..."', bool: "true"}.get(inner, "...")
