"""Bring the catalogues up to date with the words in the sources: for developers, needs Babel.

``python -m feedscript.tongues.refresh`` finds every marked text of Python, HTML and JavaScript,
puts the new ones into each ``.po`` file, takes out those that are gone, makes the JSON that the
program reads, and says what is still to be translated.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Sequence
from gettext import c2py
from pathlib import Path
from typing import Any, NamedTuple

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po

from feedscript.tongues.text import CONTEXT_ENDS
from feedscript.tongues.tongue import FOLDER

PACKAGE = FOLDER.parent
ROOT = PACKAGE.parent
#: Where words are that leave the program in a language: the drivers' set-up steps too.
SOURCES = (PACKAGE, ROOT / "drivers" / "feedscript_drivers")
#: How Babel knows a marked text: which arguments are words, which one ("c") the context.
KEYWORDS: dict[str, Any] = {"_": None, "n_": (1, 2), "p_": ((1, "c"), 2)}
#: In HTML the words stand in double braces, with a context before a bar.
IN_HTML = re.compile(r"\{\{\s*(?:(?P<where>[a-z ]+)\|)?(?P<words>.+?)\s*\}\}", re.DOTALL)

Words = str | tuple[str, str]


class Found(NamedTuple):
    """A marked text, and the file it stands in."""

    words: Words
    where: str | None
    file: str


def from_html(
    source: Any, *_: object, **_options: object
) -> Iterator[tuple[int, str, Any, list[str]]]:
    """Babel's way to take texts out of the page."""
    text = source.read().decode()
    for found in IN_HTML.finditer(text):
        line = text.count("\n", 0, found.start()) + 1
        words = " ".join(found["words"].split())
        if found["where"]:
            yield line, "p_", (found["where"], words), []
        else:
            yield line, "_", words, []


#: No line that a person writes is longer.
LONGEST_LINE = 2000

METHODS: dict[str, Any] = {".py": "python", ".js": "javascript", ".html": from_html}


def marked() -> list[Found]:
    """Every marked text of the sources, file by file."""
    return [one for path in _files() for one in _marked_in(path)]


def _files() -> list[Path]:
    found = (one for folder in SOURCES for one in folder.rglob("*") if one.suffix in METHODS)
    return sorted(one for one in found if not _is_packed(one))


def _is_packed(file: Path) -> bool:
    """A script that a tool packed out of many, of others too: it has no words of ours."""
    return max(map(len, file.read_text("utf-8").splitlines()), default=0) > LONGEST_LINE


def _marked_in(path: Path) -> Iterator[Found]:
    name = path.relative_to(ROOT).as_posix()
    with path.open("rb") as source:
        for _line, words, _comments, where in extract(METHODS[path.suffix], source, KEYWORDS):
            plain = words if isinstance(words, str) else (words[0], words[1])
            yield Found(plain, where, name)


def template(found: Iterable[Found]) -> Catalog:
    """A catalogue of marked texts, none of them translated."""
    empty = Catalog(project="feedscript", charset="utf-8")
    for one in found:
        empty.add(one.words, locations=[(one.file, 0)], context=one.where)
    return empty


def catalogue(path: Path) -> Catalog:
    """The catalogue of a ``.po`` file."""
    with path.open("rb") as source:
        return read_po(source, locale=path.stem)


def compiled(path: Path, spoken: frozenset[str]) -> dict[str, Any]:
    """What the program reads of a catalogue; ``spoken`` are the keys of the page's scripts."""
    found = catalogue(path)
    locale = found.locale
    assert locale is not None
    form = c2py(found.plural_expr)
    words = {key_of(one): _translated(one) for one in found if one.id and one.string}
    return {
        "language": path.stem,
        "name": str(locale.get_language_name(path.stem)).capitalize(),
        "comma": locale.number_symbols["latn"]["decimal"] == ",",
        "forms": "".join(str(form(number)) for number in range(200)),
        "words": {key: one for key, one in sorted(words.items()) if one is not None},
        "spoken": {key: one for key, one in sorted(words.items()) if one and key in spoken},
    }


def key_of(message: Message) -> str:
    """By what the program looks a message up."""
    first = message.id if isinstance(message.id, str) else message.id[0]
    return first if message.context is None else message.context + CONTEXT_ENDS + first


def _translated(message: Message) -> str | list[str] | None:
    """What it is told as; None while that is not known."""
    if message.fuzzy or message.string is None:
        return None
    if isinstance(message.string, str):
        return message.string
    return [*message.string] if all(message.string) else None


def spoken_keys(found: Iterable[Found]) -> frozenset[str]:
    """The keys of what the page's scripts say."""
    scripts = (one for one in found if one.file.endswith(".js"))
    return frozenset(key_of(Message(one.words, context=one.where)) for one in scripts)


def refresh(folder: Path, texts: Sequence[Found]) -> Iterator[str]:
    """Bring every catalogue of a folder up to date; what is missing in each, in words."""
    now, spoken = template(texts), spoken_keys(texts)
    for path in sorted(folder.glob("*.po")):
        found = catalogue(path)
        made = found.creation_date
        found.update(now, no_fuzzy_matching=True)
        found.creation_date = made  # the day would change with every refresh
        found.obsolete.clear()
        with path.open("wb") as target:
            write_po(target, found, width=99, sort_output=True, include_lineno=False)
        whole = json.dumps(compiled(path, spoken), ensure_ascii=False, indent=0)
        path.with_suffix(".json").write_text(whole + "\n", "utf-8")
        for one in found:
            if one.id and (one.fuzzy or not _translated(one)):
                yield f"{path.name}: not translated: {one.id!r}"


if __name__ == "__main__":
    for line in refresh(FOLDER, marked()):
        print(line)
