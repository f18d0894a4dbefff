"""A club's key, and a library signed with it, as a court has fetched it."""

from __future__ import annotations

import base64
import hashlib
from pathlib import Path

import msgspec
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from feedscript.club_library import Change, Kind, keep

KEY = Ed25519PrivateKey.generate()
PUBLIC = base64.b64encode(KEY.public_key().public_bytes_raw()).decode()

VOLLEYS = (
    "feedscript 1\nfeed easy { land 2 m beyond service line, on centre line  speed 70 km/h }\n"
    "pattern pair() {\n    send easy after 4 s\n    send easy after 4 s\n}\n"
)


def sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def signed(change: Change, key: Ed25519PrivateKey = KEY) -> Change:
    signature = base64.b64encode(key.sign(change.signed)).decode()
    return msgspec.structs.replace(change, signature=signature)


def record(*said: tuple[Kind, str, str]) -> list[Change]:
    """Signed changes: what is done, to which name's which text."""
    return [
        signed(
            Change(
                number=number,
                kind=kind,
                name=name,
                sha256=sha256(text),
                by="the head coach" if kind is Kind.APPROVED else "a coach",
                utc_s=1.8e9 + number,
                words="the second ball comes too soon" if kind is Kind.WITHDRAWN else "",
            )
        )
        for number, (kind, name, text) in enumerate(said, 1)
    ]


def fetched(folder: Path, *said: tuple[Kind, str, str]) -> None:
    """A court's copy of a library of these changes, with all their texts."""
    keep(folder, PUBLIC, record(*said), {sha256(text): text.encode() for _, _, text in said})
