"""Builds the editor's parts of the desk: ``python feedscript/desk/bundle/build.py``.

Takes CodeMirror in the versions of ``package-lock.json`` and makes one file of what ``words.js``
names, with the licences of everything in it.
"""

from __future__ import annotations

from pathlib import Path

from feedscript.bundled import bundle

HERE = Path(__file__).parent
STATIC = HERE.parent / "static"
BUNDLE = STATIC / "words.js"
LICENCES = STATIC / "words.LICENCES.txt"


def build(into: Path) -> None:
    """Write the bundle and its licences into a folder. Raises OSError or CalledProcessError."""
    how = ("--format=esm", "--target=es2022")
    licences = bundle(HERE, "words.js", how, into / BUNDLE.name)
    (into / LICENCES.name).write_text(licences, encoding="utf-8")


if __name__ == "__main__":
    STATIC.mkdir(exist_ok=True)
    build(STATIC)
    print(f"built {BUNDLE} ({BUNDLE.stat().st_size:,} bytes) and {LICENCES}")
