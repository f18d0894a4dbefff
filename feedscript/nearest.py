"""The known name most like a misspelt one."""

from __future__ import annotations

from collections.abc import Iterable


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known name that an unknown one was most likely meant to be; None when nothing is alike.

    Capital letters do not count, nor whether a name has hyphens or underscores.
    """
    import difflib  # only a mistake pays for it

    plain = {_plain(name): name for name in reversed(list(known))}
    wanted = _plain(word)
    if wanted in plain:
        return plain[wanted]
    cutoff = 0.8 if len(word) <= 3 else 0.66
    close = difflib.get_close_matches(wanted, list(plain), n=1, cutoff=cutoff)
    return plain[close[0]] if close else None


def _plain(name: str) -> str:
    return name.lower().replace("-", "_")
