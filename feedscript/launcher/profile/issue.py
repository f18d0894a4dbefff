"""A mistake in a profile before its place is looked up: which key, what is wrong, what fixes it."""

from __future__ import annotations

import msgspec

from feedscript.diagnostics import Page
from feedscript.tables import KeyPath


class ProfileIssue(msgspec.Struct, frozen=True):
    """One mistake. ``at_value`` points at the key's value instead of the key."""

    page: Page
    path: KeyPath
    message: str
    fix: str
    at_value: bool = True
