"""`use "club/NAME"` takes what the club approved last and signed; a plan says which text."""

from __future__ import annotations

import base64
from pathlib import Path

import msgspec
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from feedscript.check.check_program import Verdict, check_program
from feedscript.club_library import (
    VARIABLE,
    Change,
    Kind,
    LibraryError,
    Pin,
    current,
    keep,
    read_record,
    read_text,
    text_path,
)
from feedscript.session.engine.guards import withdrawn
from tests.club.library.signed import PUBLIC, VOLLEYS, fetched, record, sha256, signed

FASTER = VOLLEYS.replace("70 km/h", "75 km/h")
ADDED, APPROVED, WITHDRAWN = Kind.ADDED, Kind.APPROVED, Kind.WITHDRAWN
FIRST = ((ADDED, "volleys", VOLLEYS), (APPROVED, "volleys", VOLLEYS))
SECOND = (*FIRST, (ADDED, "volleys", FASTER), (APPROVED, "volleys", FASTER))

PROGRAM = """feedscript 1
title "A lesson from the club"
court { surface hard }
balls { type 2 }
launcher { stands 1 m behind centre mark }
use "club/volleys"
lesson { show speed of volleys.easy  volleys.pair() }
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "club-library"))
    return tmp_path / "club-library"


@pytest.fixture
def program(tmp_path: Path) -> Path:
    path = tmp_path / "lesson.feed"
    path.write_text(PROGRAM, "utf-8")
    return path


def why_not(verdict: Verdict) -> str:
    (found,) = [one for one in verdict.diagnostics if one.is_error]
    assert found.slug == "cannot-use"
    return str(found.message)


def test_the_plan_names_the_text_by_its_hash(folder: Path, program: Path) -> None:
    fetched(folder, *FIRST)
    verdict = check_program(program)
    assert verdict.plan is not None, verdict.diagnostics
    assert verdict.plan.from_club == (Pin("volleys", sha256(VOLLEYS)),)
    fetched(folder, *SECOND)
    later = check_program(program)
    assert later.plan is not None
    assert later.plan.from_club == (Pin("volleys", sha256(FASTER)),)


def test_without_a_club_there_is_no_such_text(folder: Path, program: Path) -> None:
    assert "has no such text" in why_not(check_program(program))


def test_what_nobody_has_approved_yet_is_not_used(folder: Path, program: Path) -> None:
    fetched(folder, FIRST[0])
    assert "has no such text" in why_not(check_program(program))
    fetched(folder, *SECOND[:3])
    verdict = check_program(program)
    assert verdict.plan is not None
    assert verdict.plan.from_club == (Pin("volleys", sha256(VOLLEYS)),)


def test_a_withdrawn_text_is_refused_with_its_fault_and_no_older_one_takes_its_place(
    folder: Path, program: Path
) -> None:
    fetched(folder, *SECOND, (WITHDRAWN, "volleys", FASTER))
    assert "withdrawn it: the second ball comes too soon" in why_not(check_program(program))
    fetched(folder, *SECOND, (WITHDRAWN, "volleys", FASTER), FIRST[1])
    assert check_program(program).plan is not None


def test_a_lesson_made_from_a_text_withdrawn_since_does_not_begin(
    folder: Path, program: Path
) -> None:
    fetched(folder, *FIRST)
    plan = check_program(program).plan
    assert plan is not None
    assert withdrawn(plan) == ()
    fetched(folder, *FIRST, (WITHDRAWN, "volleys", VOLLEYS))
    (told,) = withdrawn(plan)
    assert told.slug == "club-withdrawn"
    assert told.is_error
    assert "the second ball comes too soon" in str(told.message)
    (folder / "record.json").write_bytes(b"[]{")
    assert "is not known" in str(withdrawn(plan)[0].message)


def test_a_text_changed_on_the_disk_is_refused(folder: Path, program: Path) -> None:
    fetched(folder, *FIRST)
    (path,) = folder.glob("volleys@*.feed")
    path.write_text(FASTER, "utf-8")
    assert "is not the text that the club has approved" in why_not(check_program(program))


def test_a_file_beside_the_program_never_passes_for_the_clubs(folder: Path, program: Path) -> None:
    fetched(folder, *FIRST)
    (program.parent / "club").mkdir()
    (program.parent / "club" / "volleys.feed").write_text(FASTER, "utf-8")
    assert "would be taken for the club's" in why_not(check_program(program))


FORGED = Ed25519PrivateKey.generate()


@pytest.mark.parametrize(
    "changes",
    [
        record(*SECOND)[1:],
        record(*SECOND)[::-1],
        [record(*FIRST)[0], *record(*SECOND)[2:]],
        [msgspec.structs.replace(one, words="changed") for one in record(*FIRST)],
        [msgspec.structs.replace(one, signature="") for one in record(*FIRST)],
        [msgspec.structs.replace(one, signature="no base64!") for one in record(*FIRST)],
        [signed(one, FORGED) for one in record(*FIRST)],
    ],
)
def test_a_record_that_the_club_did_not_sign_so_is_not_kept(
    folder: Path, changes: list[Change]
) -> None:
    with pytest.raises(LibraryError):
        keep(folder, PUBLIC, changes, {})
    assert not folder.exists()


def test_neither_another_key_nor_a_record_that_lost_something_takes_the_place_of_what_is_kept(
    folder: Path,
) -> None:
    fetched(folder, *SECOND)
    other = base64.b64encode(FORGED.public_key().public_bytes_raw()).decode()
    for key, changes in (
        (other, [signed(one, FORGED) for one in record(*SECOND)]),
        (PUBLIC, record(*FIRST)),
        (PUBLIC, record(*FIRST, FIRST[1])),
    ):
        with pytest.raises(LibraryError):
            keep(folder, key, changes, {})
    assert [one.number for one in read_record(folder)] == [1, 2, 3, 4]


def test_a_key_that_is_none_is_said_to_be(folder: Path) -> None:
    fetched(folder, *FIRST)
    (folder / "key").write_text("AAAA")
    with pytest.raises(LibraryError, match="is none"):
        read_text(folder, "volleys", 1000)


def test_what_is_kept_is_for_its_owner_alone(folder: Path) -> None:
    fetched(folder, *FIRST)
    kept = [*folder.iterdir()]
    assert text_path(folder, Pin("volleys", sha256(VOLLEYS))) in kept
    assert {path.stat().st_mode & 0o777 for path in kept} == {0o600}


def test_each_name_means_the_text_approved_last() -> None:
    found = current(record(*SECOND, FIRST[1]))
    assert found["volleys"].sha256 == sha256(VOLLEYS)
    assert found["volleys"].author == "a coach"
