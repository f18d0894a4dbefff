"""A report's bundle holds what is needed and no player's name."""

from __future__ import annotations

import json
import tracemalloc
import unicodedata
import zipfile
from pathlib import Path
from urllib.parse import quote

import pytest
from click.testing import CliRunner

from feedscript.cli import verbs
from feedscript.diagnostics import FeedscriptError
from feedscript.journal import bundle
from feedscript.journal.bundle import write_bundle
from feedscript.journal.retention import names_in
from feedscript.journal.store import BallIntent, SessionStart, open_journal
from feedscript.shipped import shipped_folder

NAMES = ("Quennell", "Ottoline", "Isambard")
GARAGE = shipped_folder() / "launchers" / "garage.toml"


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    """A lesson with one player in the plan, one in the roster and one who joined later."""
    path = tmp_path / "journal.sqlite"
    book = open_journal(path)
    number = book.begin_session(
        SessionStart(
            token=1,
            begun_utc_s=0.0,
            title=f"For {NAMES[0]}",
            source="/home/somebody/lesson.feed",
            rehearsal=False,
            plan=json.dumps({"group": {"players": [{"name": NAMES[0]}]}}).encode(),
            group_json=json.dumps({"players": [{"name": NAMES[0]}, {"name": NAMES[1]}]}),
        )
    )
    book.intend(
        number,
        BallIntent(
            feed_id=1,
            ball_no=1,
            launcher=0,
            feed="groove",
            player=NAMES[2],
            leave_at_device_s=1.0,
            intent_utc_s=1.0,
        ),
    )
    book.close()
    return path


def test_no_name_and_no_folder_is_in_any_part(journal: Path, tmp_path: Path) -> None:
    assert names_in(journal) == set(NAMES)
    target = tmp_path / "report.zip"
    parts = write_bundle(target, journal=journal, profile=GARAGE)
    assert parts == ["versions.json", "journal.sqlite", "profile.toml"]
    with zipfile.ZipFile(target) as archive:
        for inside in archive.namelist():
            data = archive.read(inside)
            assert not [name for name in NAMES if name.encode() in data], inside
            assert b"somebody" not in data
    assert names_in(journal) == set(NAMES), "the user's own journal stays as it was"


LESSON = """feedscript 1
title "Zoë Quill and Ottoline (invented)"
court    { surface hard }
balls    { type 2   load 60 }
launcher { profile "garage.toml"   stands 1 m behind centre mark }
group    { players "Zoë Quill", "Ottoline", "Isambard"   left-handed "Ottoline" }
feed deep { land 3 m inside baseline, on centre line   speed 80 km/h   spin top 900 rpm }
lesson {
    show speed of deep
    say "Isambard, watch this one"
    for each player { repeat 2 { send deep after 4 s }  rest 4 s }
    rotate group every 4 balls { send deep after 8 s }
}
"""
PEOPLE = ("Zoë Quill", "Ottoline", "Isambard")


def spellings(name: str) -> set[bytes]:
    """The bytes that a name may stand as in a text, in JSON, in a quoted capture."""
    forms = {unicodedata.normalize(form, name) for form in ("NFC", "NFD")}
    found = {form.encode(code) for form in forms for code in ("utf-8", "utf-16-le")}
    found |= {json.dumps(form)[1:-1].encode() for form in forms}
    return found | {quote(form).encode() for form in forms}


def test_nobody_of_a_whole_lesson_is_named_in_any_part_of_its_bundle(tmp_path: Path) -> None:
    """Rehearsed with its journal; a player's name also stands in profile, capture and file name."""
    lesson, book, target = (tmp_path / name for name in ("Ottoline.feed", "j.sqlite", "r.zip"))
    lesson.write_text(LESSON, encoding="utf-8")
    done = CliRunner().invoke(verbs, ["rehearse", str(lesson), "--journal", str(book)])
    assert done.exit_code == 0, done.output
    profile, capture, second = (tmp_path / name for name in ("p.toml", "1.capture", "2.capture"))
    profile.write_text("# Isambard's\n" + GARAGE.read_text("utf-8"), encoding="utf-8")
    capture.write_bytes(b"feedscript capture 1\n0.0027 < 2 OK example-1 Ottoline*0000%0A\n\xff")
    second.write_bytes(b"feedscript capture 1\n")
    assert names_in(book) == set(PEOPLE)
    words = ["bundle", "-o", str(target), "--journal", str(book), "--launcher", str(profile)]
    words += ["--capture", str(capture), "--capture", str(second), "--format", "json"]
    done = CliRunner().invoke(verbs, words)
    assert done.exit_code == 0, done.output
    parts = ["versions.json", "journal.sqlite", "profile.toml", "wire.capture", "wire-2.capture"]
    assert json.loads(done.stdout)["parts"] == parts
    with zipfile.ZipFile(target) as archive:
        assert archive.namelist() == parts
        for inside in parts:
            data = archive.read(inside).lower()
            assert not [n for n in PEOPLE for form in spellings(n) if form.lower() in data], inside
        assert archive.read("wire.capture").endswith(b"\xff"), "the rest stays as it was"
        journal = tmp_path / "told.sqlite"
        journal.write_bytes(archive.read("journal.sqlite"))
    assert not names_in(journal)


def packed(folder: Path, lines: list[bytes]) -> bytes:
    """These lines, as a bundle beside a journal that names Isambard and Ann Lee has them."""
    capture, target = folder / "a.capture", folder / "r.zip"
    capture.write_bytes(b"".join(lines))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bundle, "names_in", lambda _: {"Isambard", "Ann Lee"})
        patch.setattr(bundle, "_without_people", lambda _: [b""])
        write_bundle(target, journal=folder / "none", captures=[capture])
    with zipfile.ZipFile(target) as archive:
        return archive.read("wire.capture")


def test_a_capture_is_packed_piece_by_piece_as_if_it_were_packed_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where it is no capture a name may go on over the end of a line."""
    moments = [f"{n}.5000 < ! {n} LEFT Isambard {n}%0A\n".encode() for n in range(20)]
    lines = [b"feedscript capture 1\n", *moments, *([b"of Ann\n", b"Lee\n"] * 20), *moments]
    whole = packed(tmp_path, lines)
    assert b"Isambard" not in whole
    assert b"Lee" not in whole
    assert whole.count(b"forgotten player") == 60
    monkeypatch.setattr(bundle, "_PIECE_BYTES", 100)
    assert packed(tmp_path, lines) == whole


def test_a_long_capture_is_never_in_memory_as_a_whole(tmp_path: Path) -> None:
    capture = tmp_path / "a.capture"
    capture.write_bytes(b"feedscript capture 1\n" + b"1.5000 < ! 1 75 LEFT 3*0000%0A\n" * 100_000)
    write_bundle(tmp_path / "first.zip")  # what is imported and kept is not counted
    tracemalloc.start()
    try:
        write_bundle(tmp_path / "r.zip", captures=[capture])
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert peak < capture.stat().st_size / 2


def test_a_part_that_is_not_there_is_a_diagnostic(tmp_path: Path) -> None:
    with pytest.raises(FeedscriptError) as caught:
        write_bundle(tmp_path / "report.zip", profile=tmp_path / "none.toml")
    assert caught.value.diagnostic.slug == "bundle-file"


def test_the_command_packs_versions(tmp_path: Path) -> None:
    target = tmp_path / "report.zip"
    done = CliRunner().invoke(verbs, ["bundle", "--no-journal", "-o", str(target)])
    assert done.exit_code == 0, done.output
    with zipfile.ZipFile(target) as archive:
        assert "python" in json.loads(archive.read("versions.json"))
