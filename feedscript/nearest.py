"""The known name most like a misspelt one."""

from __future__ import annotations

from collections.abc import Iterable


def nearest(word: str, names: Iterable[str]) -> str | None:
    """The known name most like ``word``, or None when nothing is alike."""
    import difflib  # only a mistake pays for it

    close = difflib.get_close_matches(word, list(names), n=1, cutoff=0.6)
    return close[0] if close else None
