"""A mistake in a profile before its place is looked up: which key, what is wrong, what fixes it."""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from feedscript.diagnostics import Page

#: A key under its tables, such as ``("limits", "speed_mps")``.
KeyPath: TypeAlias = tuple[str, ...]


class ProfileIssue(msgspec.Struct, frozen=True):
    """One mistake. ``at_value`` points at the key's value instead of the key."""

    page: Page
    path: KeyPath
    message: str
    fix: str
    at_value: bool = True
