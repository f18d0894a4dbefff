"""The bytes of a file that somebody wrote as text, and in plain words why they are none.

Whoever wrote it with a word processor, or on a system that does not write UTF-8, hears what the
file is and how to save it anew. Nothing is guessed: a letter read wrongly would be another name.
"""

from __future__ import annotations

import codecs

import msgspec

_UTF_16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
#: How files begin that are no text, whatever they are called.
_NO_TEXT = (
    (b"PK\x03\x04", "the document of a word processor, or a packed folder"),
    (b"\xd0\xcf\x11\xe0", "the document of a word processor"),
    (b"{\\rtf", "a text with formats"),
    (b"%PDF-", "a page to print"),
)


class NotText(msgspec.Struct, frozen=True):
    """Why bytes are no text, and what to do."""

    cause: str
    fix: str


def text_of(raw: bytes) -> str | NotText:
    """The text, without a byte-order mark. Never raises."""
    for start, what in _NO_TEXT:
        if raw.startswith(start):
            return NotText(
                f"it is {what}, not plain text",
                "in the program that wrote it choose to save as plain text, encoding UTF-8",
            )
    if raw.startswith(_UTF_16) or _every_other_is_zero(raw):
        return NotText(
            "it is not UTF-8 text but UTF-16, which some programs call Unicode",
            "open it in an editor and save it anew, encoding UTF-8",
        )
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as trouble:
        return NotText(
            f"it is not UTF-8 text: {_where(raw, trouble.start)}",
            "open it in an editor and save it anew, encoding UTF-8",
        )


def _every_other_is_zero(raw: bytes) -> bool:
    """Whether plain letters stand in two bytes each; no text of UTF-8 holds a zero byte."""
    head = raw[:64]
    return len(head) >= 4 and (not any(head[::2]) or not any(head[1::2]))


def _where(raw: bytes, at: int) -> str:
    """The line, and what stands there if it was written as Western Windows writes."""
    line = raw.count(b"\n", 0, at) + 1
    begin = raw.rfind(b"\n", 0, at) + 1
    column = len(raw[begin:at].decode("utf-8-sig", errors="replace")) + 1
    place = f"line {line}, column {column}"
    letter = raw[at : at + 1].decode("cp1252", errors="replace")
    if letter.isprintable() and letter != "\ufffd":
        return f"{place} holds what may have been `{letter}`"
    return f"{place} holds what is no letter"
