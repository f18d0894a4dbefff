"""`profile "club/NAME.toml"` takes the profile that the club approved last and signed; the plan
pins it, the set-up names it, and one that was withdrawn begins no lesson."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.check.check_program import Options, Verdict, check_program
from feedscript.cli import verbs
from feedscript.club_library import VARIABLE, Kind, Pin, club_folder, forget
from feedscript.launcher.profile.model import profile_hash
from feedscript.safety.set_up import set_up
from feedscript.session.engine.guards import withdrawn
from feedscript.shipped import profile_path, shipped_profiles
from tests.club.library.signed import fetched, sha256

GARAGE = shipped_profiles()["garage.toml"].read_text("utf-8")
TUNED = GARAGE.replace("elevation_offset_deg = 0.0", "elevation_offset_deg = 0.6")
ADDED, APPROVED, WITHDRAWN = Kind.ADDED, Kind.APPROVED, Kind.WITHDRAWN
FIRST = ((ADDED, "garage.toml", GARAGE), (APPROVED, "garage.toml", GARAGE))
SECOND = (*FIRST, (ADDED, "garage.toml", TUNED), (APPROVED, "garage.toml", TUNED))

PROGRAM = """feedscript 1
title "On the club's launcher (invented)"
court { surface hard }
balls { type 2 }
launcher { profile "club/garage.toml"  stands 1 m behind centre mark }
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h }
lesson { show speed of deep  send deep after 5 s }
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
    assert found.slug == "no-such-profile"
    assert found.span is not None
    return str(found.message)


def test_the_plan_pins_the_profile_and_the_set_up_names_it(folder: Path, program: Path) -> None:
    fetched(folder, *FIRST)
    first = check_program(program)
    fetched(folder, *SECOND)
    second = check_program(program)
    assert first.plan is not None, first.diagnostics
    assert second.plan is not None
    assert first.plan.from_club == (Pin("garage.toml", sha256(GARAGE)),)
    assert second.plan.from_club == (Pin("garage.toml", sha256(TUNED)),)
    assert second.profiles[0].calibration.elevation_offset_deg == 0.6
    assert second.plan.launchers[0].profile_hash == profile_hash(second.profiles[0])
    assert second.plan.launchers[0].profile_name == "club/garage.toml"
    items = {one.key: str(one.words) for one in set_up(second.plan, second.profiles)}
    assert f"club/garage.toml, version {sha256(TUNED)[:8]}" in items["profile-0"]
    assert second.certificate is not None
    assert "profile-0" in [one.key for one in second.certificate.set_up]


def test_a_launcher_with_a_profile_of_elsewhere_has_no_such_step(program: Path) -> None:
    program.write_text(PROGRAM.replace("club/garage", "garage"), "utf-8")
    verdict = check_program(program)
    assert verdict.plan is not None
    assert verdict.plan.from_club == ()
    assert "profile-0" not in [one.key for one in set_up(verdict.plan, verdict.profiles)]


def test_the_ending_may_be_left_out(folder: Path, program: Path) -> None:
    fetched(folder, *FIRST)
    program.write_text(PROGRAM.replace("garage.toml", "garage"), "utf-8")
    assert check_program(program).ok


def test_what_may_not_be_used_is_said_with_its_reason(folder: Path, program: Path) -> None:
    assert "has no such text" in why_not(check_program(program))
    fetched(folder, FIRST[0])
    assert "has no such text" in why_not(check_program(program))
    fetched(folder, *SECOND, (WITHDRAWN, "garage.toml", TUNED))
    assert "withdrawn it: the second ball comes too soon" in why_not(check_program(program))


def test_a_lesson_with_a_profile_withdrawn_since_does_not_begin(
    folder: Path, program: Path
) -> None:
    fetched(folder, *FIRST)
    plan = check_program(program).plan
    assert plan is not None
    assert withdrawn(plan) == ()
    fetched(folder, *FIRST, (WITHDRAWN, "garage.toml", GARAGE))
    (told,) = withdrawn(plan)
    assert (told.slug, told.is_error) == ("club-withdrawn", True)


def test_a_profile_changed_on_the_disk_is_refused_however_it_is_named(
    folder: Path, program: Path
) -> None:
    fetched(folder, *FIRST)
    lies = profile_path("club/garage")
    options = Options(launcher=lies)
    assert check_program(program, options).ok
    lies.write_text(TUNED, "utf-8")
    assert "is not the text that the club has approved" in why_not(check_program(program))
    assert "is not the text that the club has approved" in why_not(check_program(program, options))
    assert profile_path("club/garage") == Path("club/garage")  # which is not there


def test_a_file_beside_the_program_never_passes_for_the_clubs(folder: Path, program: Path) -> None:
    fetched(folder, *FIRST)
    (program.parent / "club").mkdir()
    (program.parent / "club" / "garage.toml").write_text(TUNED, "utf-8")
    assert "would be taken for the club's" in why_not(check_program(program))


def test_one_given_on_the_command_line_is_pinned_too(folder: Path, program: Path) -> None:
    fetched(folder, *FIRST)
    program.write_text(PROGRAM.replace("club/garage", "garage"), "utf-8")
    verdict = check_program(program, Options(launcher=profile_path("club/garage")))
    assert verdict.plan is not None
    assert verdict.plan.from_club == (Pin("garage.toml", sha256(GARAGE)),)


def test_a_profile_is_no_program(folder: Path, program: Path) -> None:
    fetched(folder, *FIRST)
    program.write_text(PROGRAM.replace("lesson {", 'use "club/garage.toml"\nlesson {'), "utf-8")
    found = [str(one.message) for one in check_program(program).diagnostics if one.is_error]
    assert any("is the profile of a launcher" in one for one in found)


def test_a_copy_is_made_to_tune_it_and_the_clubs_stays_as_it_is(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fetched(folder, *FIRST)
    monkeypatch.chdir(tmp_path)
    refused = CliRunner().invoke(verbs, ["tune", "club/garage.toml", "--propose"])
    assert refused.exit_code == 2
    assert "programs --copy club/garage.toml" in refused.output.replace("\n", " ")
    copied = CliRunner().invoke(verbs, ["programs", "--copy", "club/garage.toml"])
    assert copied.exit_code == 0, copied.output
    assert (tmp_path / "garage.toml").read_text("utf-8") == GARAGE
    again = CliRunner().invoke(verbs, ["programs", "--copy", "club/garage.toml"])
    assert again.exit_code == 2
    unknown = CliRunner().invoke(verbs, ["check", "lesson.feed", "--launcher", "club/none"])
    assert unknown.exit_code == 2
    assert "has no such text" in unknown.output


def test_another_clubs_profiles_go_with_the_old_library(folder: Path) -> None:
    fetched(folder, *FIRST)
    forget(club_folder())
    assert [*folder.iterdir()] == []
