"""Keys of paired launchers, kept for this user alone."""

from __future__ import annotations

import re
import secrets
from pathlib import Path

import platformdirs

from feedscript.host.private_file import private_folder, write_private
from feedscript_drivers.wire.seal import KEY_BYTES


def key_folder() -> Path:
    """Where keys lie; only this user may read them."""
    return Path(platformdirs.user_data_dir("feedscript")) / "keys"


def _file(serial: str) -> Path:
    return key_folder() / (re.sub(r"[^A-Za-z0-9._-]", "-", serial) + ".key")


def new_key() -> bytes:
    """A fresh random key."""
    return secrets.token_bytes(KEY_BYTES)


def keep_key(serial: str, key: bytes) -> Path:
    """Keep the key of the launcher with this serial number."""
    path = _file(serial)
    private_folder(path.parent)
    write_private(path, key.hex().encode("ascii") + b"\n")
    return path


def find_key(serial: str) -> bytes | None:
    """The key of a launcher, or None if it was never paired with this user or is spoilt."""
    try:
        text = _file(serial).read_text(encoding="ascii").strip()
        key = bytes.fromhex(text)
    except (OSError, ValueError):
        return None
    return key if len(key) == KEY_BYTES else None
