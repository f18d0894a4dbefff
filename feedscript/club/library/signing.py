"""The key with which the club signs its library: in a file for its owner alone, never in the store,
so that who can write the store can sign nothing."""

from __future__ import annotations

import base64
from pathlib import Path

import msgspec
import platformdirs
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from feedscript.club.refusals import LIBRARY_KEY
from feedscript.club_library import Change
from feedscript.diagnostics import FeedscriptError
from feedscript.host.private_file import write_private
from feedscript.plain_file import read_plain


class ClubKey:
    """Signs what the club says of its texts."""

    def __init__(self, private: Ed25519PrivateKey) -> None:
        self._private = private
        self.public = base64.b64encode(private.public_key().public_bytes_raw()).decode()

    def signed(self, change: Change) -> Change:
        signature = base64.b64encode(self._private.sign(change.signed)).decode()
        return msgspec.structs.replace(change, signature=signature)


def default_key_path() -> Path:
    """Beside this user's journal."""
    return platformdirs.user_data_path("feedscript", appauthor=False) / "club-library.key"


def club_key(path: Path) -> ClubKey:
    """The key in this file; a new one where there is no file yet. Raises FeedscriptError."""
    try:
        raw = read_plain(path, 200)
        return ClubKey(Ed25519PrivateKey.from_private_bytes(base64.b64decode(raw, validate=True)))
    except FileNotFoundError:
        return _new_key(path)
    except OSError as trouble:
        raise _unusable(path, trouble.strerror or str(trouble)) from trouble
    except ValueError as trouble:
        raise _unusable(path, "it holds no key") from trouble


def _new_key(path: Path) -> ClubKey:
    private = Ed25519PrivateKey.generate()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_private(path, base64.b64encode(private.private_bytes_raw()))
    except OSError as trouble:
        raise _unusable(path, trouble.strerror or str(trouble)) from trouble
    return ClubKey(private)


def _unusable(path: Path, why: str) -> FeedscriptError:
    return FeedscriptError(
        LIBRARY_KEY.report(
            f"the key of the club's library cannot be used: {why}",
            device=str(path),
            help="put the club's own key back from its backup; courts believe no other",
        )
    )
