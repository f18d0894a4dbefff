"""Every mapping of the project."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
FILES = {file.stem: file for file in sorted((ROOT / "programs/launchers/mapped").glob("*.toml"))}
MAPPINGS = tuple(FILES)


def text_of(name: str) -> str:
    return FILES[name].read_text("utf-8")
