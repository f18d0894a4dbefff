"""The corpus of unsafe programs and their nearest safe twins, one pair a file.

Lines that begin with ``-`` stand in the unsafe program only, with ``+`` in the safe one only, all
others in both. The first comment says what is wrong, the second which slug must refuse it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

CORPUS = Path(__file__).parent / "corpus"


@dataclass(frozen=True)
class Pair:
    name: str
    why: str
    slug: str
    unsafe: str
    safe: str


def pairs() -> list[Pair]:
    return [_read(path) for path in sorted(CORPUS.glob("*.pair"))]


def _read(path: Path) -> Pair:
    why, slug, *lines = path.read_text(encoding="utf-8").splitlines()
    return Pair(
        name=path.stem,
        why=why.removeprefix("# "),
        slug=slug.removeprefix("# refused: "),
        unsafe=_only(lines, "+", "-"),
        safe=_only(lines, "-", "+"),
    )


def _only(lines: list[str], without: str, with_: str) -> str:
    """The program without the other's lines; a marked line keeps its column."""
    kept = [line for line in lines if not line.startswith(without)]
    return "\n".join(" " + line[1:] if line.startswith(with_) else line for line in kept)
