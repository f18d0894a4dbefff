"""Spin and wind as people write them, read into numbers.

``top 1200 rpm, side ad 300 rpm`` and ``head 3 m/s, towards deuce 1 m/s``: parts joined by commas,
each a word for the way and a quantity with its unit.
"""

from __future__ import annotations

from typing import NamedTuple

from feedscript.units import Dimension, UnitError, parse_quantity


class Spin(NamedTuple):
    """Signed parts of a spin in rpm: back and deuce are negative."""

    top_rpm: float = 0.0
    side_rpm: float = 0.0
    gyro_rpm: float = 0.0


#: The words for a way to spin, each with the part of :class:`Spin` it means and the sign.
_SPINS: dict[str, tuple[int, float]] = {
    "top": (0, 1.0),
    "back": (0, -1.0),
    "side ad": (1, 1.0),
    "side deuce": (1, -1.0),
    "side": (1, 1.0),
    "gyro": (2, 1.0),
}

#: Where the air goes: part of (+x, +y) and sign.
_WINDS: dict[str, tuple[int, float]] = {
    "tail": (1, 1.0),
    "head": (1, -1.0),
    "towards ad": (0, 1.0),
    "towards deuce": (0, -1.0),
}


def read_spin(text: str) -> Spin:
    """``top 1200 rpm, side ad 300 rpm`` or ``none``. UnitError says what is wrong."""
    if text.strip() in ("", "none"):
        return Spin()
    parts = _read(text, "spin", _SPINS, Dimension.SPIN)
    return Spin(parts.get(0, 0.0), parts.get(1, 0.0), parts.get(2, 0.0))


def read_wind(text: str) -> tuple[float, float]:
    """``head 3 m/s, towards ad 1 m/s`` or ``none`` as metres a second towards (+x, +y)."""
    if text.strip() in ("", "none"):
        return (0.0, 0.0)
    parts = _read(text, "wind", _WINDS, Dimension.SPEED)
    return (parts.get(0, 0.0), parts.get(1, 0.0))


def _read(
    text: str, what: str, words: dict[str, tuple[int, float]], dimension: Dimension
) -> dict[int, float]:
    found: dict[int, float] = {}
    for piece in text.split(","):
        tidy = " ".join(piece.split())
        word = next((w for w in words if tidy.startswith(w + " ")), None)
        if word is None:
            raise UnitError(f"{tidy!r} does not begin with a {what} word: {', '.join(words)}")
        part, sign = words[word]
        if part in found:
            raise UnitError(f"{tidy!r} names a {what} that was given before")
        value = parse_quantity(tidy[len(word) :], dimension)
        if value < 0:
            raise UnitError(f"{tidy!r} is negative; use the word for the other way instead")
        found[part] = sign * value
    return found
