"""A word, number or mark of a text, and where it stands."""

from __future__ import annotations


class Token(str):
    """A string that knows its kind and its place in the text."""

    __slots__ = ("end_pos", "start_pos", "type")

    type: str
    start_pos: int
    end_pos: int

    def __new__(cls, kind: str, words: str, start_pos: int = 0, end_pos: int = 0) -> Token:
        """The words at ``start_pos`` up to ``end_pos``, of a kind that the grammar names."""
        token = str.__new__(cls, words)
        token.type = kind
        token.start_pos = start_pos
        token.end_pos = end_pos
        return token

    def moved(self, by: int) -> Token:
        """The same words, so much further on."""
        return Token(self.type, self, self.start_pos + by, self.end_pos + by)

    def __repr__(self) -> str:
        return f"Token({self.type}, {str.__repr__(self)})"
