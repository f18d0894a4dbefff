"""Chapters in a row, as players show them: for ffmpeg, for Matroska, and in a copy of the film.

A list of chapters is one line: where stations play side by side a chapter ends with the beginning
of the next one, wherever that is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from xml.etree.ElementTree import Element, SubElement, indent, tostring

import msgspec

from feedscript.diagnostics import Page
from feedscript.review.video.cues import Cue
from feedscript.tongues.tongue import IN_ENGLISH, Tongue
from feedscript.visible import on_one_line

FILM_NOT_COPIED = Page(
    slug="film-not-copied",
    title="A film that cannot be copied with its chapters",
    why=(
        "Pictures and sound are copied as they are. Not every container holds every kind of them, "
        "and what a damaged film holds cannot be copied whole."
    ),
)


class Chapter(msgspec.Struct, frozen=True):
    """From when to when in the film, in whole milliseconds, and what it is called."""

    start_ms: int
    end_ms: int
    title: str


def chapters_of(cues: Iterable[Cue], tongue: Tongue = IN_ENGLISH) -> tuple[Chapter, ...]:
    """The chapters of a track in a language, each at least a millisecond long, none over another.

    Of cues that begin in the same millisecond the last ones begin a little later.
    """
    found: list[Chapter] = []
    for cue in sorted(cues, key=lambda cue: cue.start_s):
        least = found[-1].start_ms + 1 if found else 0
        start = max(round(cue.start_s * 1000), least)
        end = max(round(cue.end_s * 1000), start + 1)
        found.append(Chapter(start, end, on_one_line(" ".join(tongue(cue.text).split()))))
    ends = [min(one.end_ms, after.start_ms) for one, after in pairwise(found)]
    cut = [msgspec.structs.replace(one, end_ms=end) for one, end in zip(found, ends, strict=False)]
    return (*cut, *found[len(cut) :])


def as_ffmetadata(title: str, chapters: Sequence[Chapter]) -> str:
    """A metadata file of ffmpeg ("FFmpeg Formats Documentation", section Metadata, format 1)."""
    lines = [";FFMETADATA1", f"title={_escaped(on_one_line(title))}"]
    for one in chapters:
        lines += ["[CHAPTER]", "TIMEBASE=1/1000", f"START={one.start_ms}", f"END={one.end_ms}"]
        lines += [f"title={_escaped(one.title)}"]
    return "\n".join(lines) + "\n"


def _escaped(text: str) -> str:
    """What stands for itself in that format. A backslash is not the last of its line: libav takes
    the line's end for escaped, even where the backslash is."""
    escaped = "".join(f"\\{letter}" if letter in "=;#\\" else letter for letter in text)
    return f"{escaped} " if text.endswith("\\") else escaped


def as_matroska(chapters: Sequence[Chapter], tongue: Tongue = IN_ENGLISH) -> str:
    """The elements of RFC 9559 (Matroska), section 5.1.7, as XML, as programs that mux read them.

    Language tags are those of RFC 5646.
    """
    root = Element("Chapters")
    edition = SubElement(root, "EditionEntry")
    for number, one in enumerate(chapters, 1):
        atom = SubElement(edition, "ChapterAtom")
        for name, value in _atom(number, one):
            SubElement(atom, name).text = value
        shown = SubElement(atom, "ChapterDisplay")
        SubElement(shown, "ChapterString").text = one.title
        SubElement(shown, "ChapLanguageIETF").text = tongue.language
    indent(root)
    written: bytes = tostring(root, encoding="utf-8", xml_declaration=True)
    return written.decode() + "\n"


def _atom(number: int, one: Chapter) -> Iterator[tuple[str, str]]:
    yield "ChapterUID", str(number)
    yield "ChapterTimeStart", _stamp(one.start_ms)
    yield "ChapterTimeEnd", _stamp(one.end_ms)


def _stamp(milliseconds: int) -> str:
    """``hh:mm:ss.nnnnnnnnn``."""
    minutes, rest = divmod(milliseconds, 60_000)
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{rest // 1000:02d}.{rest % 1000:03d}000000"
