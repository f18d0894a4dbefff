"""Every catalogue is complete: each text of the sources translated, none left over, none doubtful,
and each translation with the parts and marks of its English."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest
from babel.messages.catalog import Catalog, Message

from feedscript.tongues.refresh import (
    Found,
    catalogue,
    compiled,
    key_of,
    marked,
    refresh,
    spoken_keys,
    template,
)
from feedscript.tongues.tongue import FOLDER

CATALOGUES = sorted(FOLDER.glob("*.po"))
NAMED = pytest.mark.parametrize("path", CATALOGUES, ids=lambda path: path.stem)
REFRESH = "translate what is missing, then: python -m feedscript.tongues.refresh"
#: What must stand in a translation as it stands in English.
MARKS = re.compile(r"`[^`]*`|--[a-z-]+|[✓…]|km/h|\bkm\b")


@pytest.fixture(scope="module")
def found() -> list[Found]:
    return marked()


@pytest.fixture(scope="module")
def sources(found: list[Found]) -> Catalog:
    return template(found)


def keys(found: Catalog) -> set[str]:
    return {key_of(one) for one in found if one.id}


def translated(found: Catalog) -> Iterator[tuple[Message, list[str]]]:
    for one in found:
        if one.id:
            yield one, [one.string] if isinstance(one.string, str) else list(one.string or ())


def parts(text: str) -> set[tuple[str, str]]:
    """The parts in braces, each with its format."""
    return {(name, form or "") for _, name, form, _ in Formatter().parse(text) if name is not None}


def test_there_are_the_three() -> None:
    assert [path.stem for path in CATALOGUES] == ["de", "es", "fr"]


@NAMED
def test_every_text_of_the_sources_is_in_it_and_nothing_else(path: Path, sources: Catalog) -> None:
    here = catalogue(path)
    assert keys(here) == keys(sources), REFRESH
    assert not here.obsolete, REFRESH


@NAMED
def test_everything_is_translated_and_nothing_is_doubtful(path: Path) -> None:
    for message, told in translated(catalogue(path)):
        assert told, (message.id, REFRESH)
        assert all(told), (message.id, REFRESH)
        assert not message.fuzzy, message.id


@NAMED
def test_a_translation_has_the_parts_of_its_english(path: Path) -> None:
    """The form of one may leave out the number: "once"."""
    for message, told in translated(catalogue(path)):
        english = [message.id] if isinstance(message.id, str) else list(message.id)
        whole = parts(english[-1])
        assert parts(told[-1]) == whole, message.id
        for form in told:
            assert whole - {("n", "")} <= parts(form) <= whole, message.id


@NAMED
def test_a_translation_has_the_marks_of_its_english(path: Path) -> None:
    for message, told in translated(catalogue(path)):
        english = message.id if isinstance(message.id, str) else message.id[-1]
        for form in told:
            assert MARKS.findall(form) == MARKS.findall(english) or "…" in english, message.id
            assert "<" not in form, message.id
            assert form.strip() == form or english.strip() != english or form[0] == "\u00a0", form


@NAMED
def test_there_are_as_many_forms_as_the_language_has(path: Path) -> None:
    found = catalogue(path)
    for message, told in translated(found):
        assert len(told) == (1 if isinstance(message.id, str) else found.num_plurals), message.id


@NAMED
def test_the_json_is_made_of_it(path: Path, found: list[Found]) -> None:
    made = compiled(path, spoken_keys(found))
    assert json.loads(path.with_suffix(".json").read_text("utf-8")) == made, REFRESH


@NAMED
def test_its_head_says_that_no_native_speaker_has_read_it(path: Path) -> None:
    assert "NOT YET READ BY A NATIVE SPEAKER" in path.read_text("utf-8").split("msgid")[0]


def test_a_refresh_changes_nothing_and_misses_nothing(tmp_path: Path, found: list[Found]) -> None:
    for path in CATALOGUES:
        (tmp_path / path.name).write_bytes(path.read_bytes())
    assert list(refresh(tmp_path, found)) == []
    for path in CATALOGUES:
        assert (tmp_path / path.name).read_bytes() == path.read_bytes(), REFRESH


def test_a_refresh_tells_what_is_missing(tmp_path: Path, found: list[Found]) -> None:
    whole = CATALOGUES[0].read_text("utf-8")
    short = re.sub(r'(msgid "Undo"\nmsgstr )".*?"', r'\1""', whole)
    assert short != whole
    (tmp_path / "de.po").write_text(short, "utf-8")
    assert list(refresh(tmp_path, found)) == ["de.po: not translated: 'Undo'"]
