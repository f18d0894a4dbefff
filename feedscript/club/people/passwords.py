"""Passwords: what is taken for one, and what is kept of it.

Argon2id (RFC 9106) with the second set of parameters that it recommends (section 4: 3 passes over
64 MiB in 4 lanes); length before all else, as NIST SP 800-63B (5.1.1) has it.
"""

from __future__ import annotations

import os
import unicodedata

import msgspec
from cryptography.exceptions import InvalidKey
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id

from feedscript.tongues.text import Text, _

LEAST_LETTERS, MOST_LETTERS = 12, 200


class Cost(msgspec.Struct, frozen=True):
    """What one hash costs."""

    passes: int = 3
    memory_kib: int = 64 * 1024
    lanes: int = 4


COST = Cost()


def what_is_wrong(password: str, again: str, login: str) -> Text | None:
    """Why these are not taken for a password; None where they are."""
    plain = _plain(password)
    if plain != _plain(again):
        return _("The two passwords differ.")
    if len(plain) < LEAST_LETTERS:
        return _("A password has {n} letters or more.", n=LEAST_LETTERS)
    if len(plain) > MOST_LETTERS:
        return _("A password has {n} letters at most.", n=MOST_LETTERS)
    if len(set(plain)) < 4 or (login and login.casefold() in plain.casefold()):
        return _(
            "That is too easily guessed: take a few words that nobody else would put together."
        )
    return None


def hashed(password: str, cost: Cost = COST) -> str:
    """What is kept, in the PHC's form, its salt and cost with it."""
    made = Argon2id(
        salt=os.urandom(16),
        length=32,
        iterations=cost.passes,
        lanes=cost.lanes,
        memory_cost=cost.memory_kib,
    )
    return made.derive_phc_encoded(_plain(password).encode())


def is_right(password: str, kept: str) -> bool:
    """Whether this password was hashed so. What is no hash fits none."""
    try:
        Argon2id.verify_phc_encoded(_plain(password).encode(), kept)
    except (InvalidKey, ValueError):
        return False
    return True


def _plain(password: str) -> str:
    """However a keyboard writes its accents (NFKC: NIST SP 800-63B, 5.1.1.2)."""
    return unicodedata.normalize("NFKC", password).encode("utf-8", "replace").decode()
