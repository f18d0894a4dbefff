"""Every word of the glossary is a word of the code, and stands there once."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

SOURCES = ("feedscript", "drivers/feedscript_drivers", "simulator/feedscript_simulator")


def words(root: Path) -> list[str]:
    text = (root / "shared" / "glossary.md").read_text("utf-8")
    return [word for word in re.findall(r"^\| ([a-z -]+) \|", text, re.M) if word != "word"]


def identifiers(root: Path) -> set[str]:
    """The parts of every name that the code defines, in small letters."""
    defined = re.compile(r"^\s*(?:async )?(?:def|class) (\w+)|^\s*(\w+)\s*[:=]", re.M)
    parts: set[str] = set()
    for source in SOURCES:
        for path in (root / source).rglob("*.py"):
            parts.update(_parts(path.stem))
            for found in defined.findall(path.read_text("utf-8")):
                parts.update(_parts(next(filter(None, found))))
    return parts


def _parts(name: str) -> list[str]:
    apart = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", name)
    return [part.lower() for part in apart.split("_") if part]


def test_each_word_stands_once(root: Path) -> None:
    twice = {word: count for word, count in Counter(words(root)).items() if count > 1}
    assert len(words(root)) > 40
    assert not twice


def test_each_word_is_used_by_the_code(root: Path) -> None:
    known = identifiers(root)
    missing = [
        word
        for word in words(root)
        if not all({part, part + "s"} & known for part in re.split(r"[ -]", word))
    ]
    assert not missing
