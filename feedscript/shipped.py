"""Where the programs and profiles that come with feedscript lie."""

from __future__ import annotations

from pathlib import Path

_HERE = Path(__file__).resolve().parent


def shipped_folder() -> Path:
    """The folder of shipped programs: inside an installed wheel, or beside a source checkout."""
    installed = _HERE / "shipped" / "programs"
    return installed if installed.is_dir() else _HERE.parent / "programs"
