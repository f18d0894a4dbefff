"""What of a text could not be read, so that later stages do not report its consequences."""

from __future__ import annotations

import re

import msgspec

_WORD = re.compile(r"[^\W\d][\w-]*")


class Damage(msgspec.Struct):
    """The parts of a text that did not make it into the tree, and the names in them."""

    parts: list[tuple[int, int]] = []
    words: set[str] = set()
    hopeless: bool = False  # reading stopped early
    nameless: bool = False  # the name of a definition was lost
    unbalanced: bool = False  # a brace is missing, so blocks may begin and end elsewhere
    guessed_lines: set[int] = set()  # what is said there is hardly meant

    @property
    def none(self) -> bool:
        """Whether all of the text was read as it stands."""
        return self == _NONE

    def copied(self) -> Damage:
        """The same, to be added to."""
        return msgspec.structs.replace(
            self,
            parts=[*self.parts],
            words=set(self.words),
            guessed_lines=set(self.guessed_lines),
        )

    def add(self, text: str, start: int, end: int) -> None:
        """Remember the text from ``start`` up to ``end``."""
        if end > start:
            self.parts.append((start, end))
            self.words.update(_WORD.findall(text[start:end]))

    def touches(self, start: int, end: int) -> bool:
        """Whether any damage lies between these two or at their edge."""
        return any(first <= end and start <= last for first, last in self.parts)

    def follows(self, end: int) -> bool:
        """Whether what stands right behind this offset could not be read."""
        return any(end <= first <= end + 2 and last > first for first, last in self.parts)


_NONE = Damage()
