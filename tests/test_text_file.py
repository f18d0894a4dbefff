"""What a file that is no UTF-8 text is told to be: where it is not, and how it is saved anew."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedscript.check.check_program import check_program
from feedscript.text_file import NotText, text_of

PROGRAM = """feedscript 1
title "Jürg"
court { surface hard }
balls { type 2  load 30 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h  spin top 900 rpm }
lesson { show speed of deep  send deep after 5 s }
"""


def passes(path: Path) -> bool:
    return check_program(path).ok


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_a_program_passes_however_utf_8_is_written(
    encoding: str, line_end: str, tmp_path: Path
) -> None:
    path = tmp_path / "Jürgs Stunde (2).feed"
    path.write_bytes(PROGRAM.replace("\n", line_end).encode(encoding))
    assert passes(path)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_utf_16_is_one_message_that_names_it(encoding: str, tmp_path: Path) -> None:
    path = tmp_path / "lesson.feed"
    path.write_bytes(PROGRAM.encode(encoding))
    (told,) = check_program(path).diagnostics
    assert (told.slug, "UTF-16" in told.message) == ("unreadable-file", True)
    assert told.help == "open it in an editor and save it anew, encoding UTF-8"


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_a_letter_of_another_code_is_told_with_its_place(line_end: str, tmp_path: Path) -> None:
    path = tmp_path / "lesson.feed"
    path.write_bytes(PROGRAM.replace("\n", line_end).encode("cp1252"))
    (told,) = check_program(path).diagnostics
    assert "line 2, column 9 holds what may have been `ü`" in told.message


def test_a_place_counts_letters_not_bytes() -> None:
    told = text_of("ää".encode() + b"\xfc")
    assert isinstance(told, NotText)
    assert "line 1, column 3" in told.cause


@pytest.mark.parametrize("start", [b"PK\x03\x04", b"{\\rtf1", b"\xd0\xcf\x11\xe0", b"%PDF-1.4"])
def test_a_document_is_no_program_and_says_how_to_save_it(start: bytes, tmp_path: Path) -> None:
    path = tmp_path / "lesson.feed"
    path.write_bytes(start + PROGRAM.encode())
    (told,) = check_program(path).diagnostics
    assert "not plain text" in told.message
    assert "save as plain text" in told.help


def test_lines_that_end_in_a_carriage_return_alone_are_one_message(tmp_path: Path) -> None:
    path = tmp_path / "lesson.feed"
    path.write_bytes(PROGRAM.replace("\n", "\r").encode())
    (told,) = check_program(path).diagnostics
    assert "line ends" in told.help


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("lesson", "lesson.feed"),
        ("leson.feed", "lesson.feed"),
        ("steadyimprover", "steady-improver"),
    ],
)
def test_a_name_that_is_nearly_there_is_offered(
    typed: str, meant: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "lesson.feed").write_text(PROGRAM, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    (told,) = check_program(Path(typed)).diagnostics
    assert told.help == f"did you mean `{meant}`?"


def test_a_name_like_none_is_not_guessed_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "lesson.feed").write_text(PROGRAM, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    for typed in ("xyz.feed", "nowhere/lesson.feed"):
        (told,) = check_program(Path(typed)).diagnostics
        assert told.help == "give the path of a program"


@pytest.mark.parametrize("mark", ["```", "```feedscript", "~~~"])
def test_the_marks_of_a_message_around_a_program_are_one_report(mark: str, tmp_path: Path) -> None:
    path = tmp_path / "lesson.feed"
    path.write_text(f"{mark}\n{PROGRAM}{mark[:3]}\n", encoding="utf-8")
    (told,) = check_program(path).diagnostics
    assert told.span is not None
    assert (told.slug, told.span.line) == ("stray-character", 1)
    assert told.help == "leave it out, and the one like it at the end"
