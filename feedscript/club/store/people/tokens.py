"""Secrets that only their holder keeps: 256 random bits, of which the store has the hash."""

from __future__ import annotations

import hashlib
import secrets


def new_token() -> str:
    """As it may stand in a link or a cookie."""
    return secrets.token_urlsafe(32)


def new_id() -> str:
    """What names a row; no secret."""
    return secrets.token_hex(8)


def hash_of(token: str) -> str:
    """What is kept. It cannot be guessed back, for want of time."""
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
