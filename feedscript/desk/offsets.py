"""Places in a text as a browser counts them: in UTF-16, in which some characters take two."""

from __future__ import annotations

import bisect


class BrowserOffsets:
    """From characters of a text to its browser's units."""

    def __init__(self, text: str) -> None:
        long = () if text.isascii() else enumerate(text)
        self._long = [at for at, letter in long if ord(letter) > 0xFFFF]

    def __call__(self, characters: int) -> int:
        return characters + bisect.bisect_left(self._long, characters)
