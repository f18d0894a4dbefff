"""Every mapping of the project: the shipped examples and those of the tests."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
_FOLDERS = (ROOT / "programs/launchers/mapped", Path(__file__).parent / "devices")
FILES = {file.stem: file for folder in _FOLDERS for file in sorted(folder.glob("*.toml"))}
MAPPINGS = tuple(FILES)


def text_of(name: str) -> str:
    return FILES[name].read_text("utf-8")
