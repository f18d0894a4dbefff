"""``feedscript season``: days, programs, what fails and why, and the calendar beside it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import vobject
from click.testing import CliRunner, Result

from feedscript.cli import verbs
from feedscript.editor.document import open_document

HEAD = """feedscript 1
court { surface hard }
balls { type 2  load 60 }
launcher { stands 1 m behind centre mark }
feed deep { land 2 m inside baseline, on centre line  speed 80 km/h }
"""
GOOD = HEAD + "lesson of 45 min { show speed of deep  send deep after 5 s }\n"
NEVER = HEAD + "lesson { show speed of deep  send deep after 5 s }\n"
UNMET = GOOD + "expect { balls > 50 }\n"
SEASON = """feedscript 1
season "Mine" {
    every monday at 17:00 in "Europe/Vienna"
    every friday at 10:00 for 60 min
    from 2027-01-11
    no lesson on 2027-01-18
    week 1 to 2 "Depth" { use "good"  watch "feet" }
    week 3 "Net" { monday "good"  friday "sub/other" }
}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "sub").mkdir()
    (tmp_path / "good.feed").write_text(GOOD)
    (tmp_path / "sub/other.feed").write_text(GOOD)
    (tmp_path / "mine.season").write_text(SEASON)
    return tmp_path


def run(folder: Path, *words: str) -> Result:
    return CliRunner().invoke(verbs, ["season", str(folder / "mine.season"), *words])


def replan(folder: Path, *changes: tuple[str, str]) -> None:
    text = SEASON
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    (folder / "mine.season").write_text(text)


def test_every_lesson_with_its_day_theme_and_program(folder: Path) -> None:
    done = run(folder)
    assert done.exit_code == 0, done.output
    rows = [" ".join(line.split()) for line in done.output.splitlines() if "week" in line]
    assert rows == [
        "week 1 Mon 2027-01-11 17:00 to 17:45 Depth good",
        "week 1 Fri 2027-01-15 10:00 to 11:00 Depth good",
        "week 2 Mon 2027-01-18 no lesson",
        "week 2 Fri 2027-01-22 10:00 to 11:00 Depth good",
        "week 3 Mon 2027-01-25 17:00 to 17:45 Net good",
        "week 3 Fri 2027-01-29 10:00 to 11:00 Net sub/other",
    ]
    assert "good (good): passed" in done.output


def test_as_json(folder: Path) -> None:
    found = json.loads(run(folder, "--format", "json").output)
    assert (found["ok"], found["title"], found["first_day"]) == (True, "Mine", "2027-01-11")
    assert found["no_lesson_on"] == ["2027-01-18"]
    assert found["lessons"][1] == {
        "number": 2,
        "week": 1,
        "begins": "2027-01-15T10:00:00+01:00",
        "ends": "2027-01-15T11:00:00+01:00",
        "zone": "Europe/Vienna",
        "theme": "Depth",
        "program": "good",
        "file": str(folder / "good.feed"),
        "aim": "",
        "watch": "feet",
        "ok": True,
    }
    assert [program["ok"] for program in found["programs"]] == [True, True]


@pytest.mark.parametrize(
    ("program", "words"),
    [
        (GOOD.replace("80 km/h", "800 km/h"), "does not pass: "),
        (GOOD.replace("send deep", "send depe"), "no feed has the name `depe`"),
        (UNMET, "safe, but not what it expects of itself"),
    ],
)
def test_a_program_that_does_not_pass_is_told_where_it_is_named(
    folder: Path, program: str, words: str
) -> None:
    (folder / "sub/other.feed").write_text(program)
    done = run(folder, "--calendar", str(folder / "mine.ics"))
    assert done.exit_code == 1
    assert words in done.output
    assert 'friday »"sub/other"«' in done.output
    assert "(refused-program)" in done.output
    assert "Net    sub/other  does not pass" in done.output
    assert not (folder / "mine.ics").exists()
    assert "was not written" in done.output
    found = json.loads(run(folder, "--format", "json").output)
    assert [one["ok"] for one in found["lessons"]] == [True, True, True, True, False]


def test_a_program_without_a_length_and_one_that_is_too_long(folder: Path) -> None:
    (folder / "good.feed").write_text(NEVER)
    done = run(folder)
    assert (done.exit_code, "(no-length)" in done.output) == (1, True)
    (folder / "good.feed").write_text(GOOD.replace("45 min", "90 min"))
    done = run(folder)
    assert (done.exit_code, "(too-long-for-the-day)" in done.output) == (0, True)
    assert "lesson of 90 min, and the day has 60 min" in done.output


def test_the_calendar_is_written_and_written_over(folder: Path) -> None:
    out = folder / "mine.ics"
    done = run(folder, "--calendar", str(out))
    assert done.exit_code == 0, done.output
    first = vobject.readOne(out.read_text()).vevent_list
    replan(folder, ('"Depth"', '"Length"'))
    assert run(folder, "--calendar", str(out), "--format", "json").exit_code == 0
    second = vobject.readOne(out.read_text()).vevent_list
    assert {e.uid.value for e in first} == {e.uid.value for e in second}
    assert sorted(int(e.sequence.value) for e in second) == [0, 0, 1, 1, 1]


def test_a_file_that_is_no_calendar_is_left_alone(folder: Path) -> None:
    out = folder / "mine.ics"
    out.write_text("mine")
    done = run(folder, "--calendar", str(out))
    assert (done.exit_code, out.read_text()) == (2, "mine")
    assert "(not-the-calendar)" in done.output
    assert run(folder, "--calendar", str(folder / "mine.txt")).exit_code == 2
    assert run(folder, "--calendar", str(folder / "none/mine.ics")).exit_code == 2


def test_a_season_and_a_program_are_told_apart(folder: Path) -> None:
    wrong = CliRunner().invoke(verbs, ["season", str(folder / "good.feed")])
    assert (wrong.exit_code, "(no-season)" in wrong.output) == (1, True)
    done = CliRunner().invoke(verbs, ["rehearse", str(folder / "mine.season")])
    assert (done.exit_code, "(season-file)" in done.output) == (1, True)
    nowhere = CliRunner().invoke(verbs, ["season", str(folder / "nowhere.season")])
    assert (nowhere.exit_code, "(unreadable-file)" in nowhere.output) == (1, True)


def check(*words: str) -> Result:
    return CliRunner().invoke(verbs, ["check", *words])


def test_check_has_one_verdict_on_a_seasons_words_and_on_all_its_programs(folder: Path) -> None:
    mine = str(folder / "mine.season")
    done = check(mine)
    assert (done.exit_code, "mine.season: fine. Mine: 5 lessons" in done.output) == (0, True)
    assert "sub/other" in done.output
    (folder / "sub/other.feed").write_text(GOOD.replace("after 5 s", "after 0 s"))
    done = check(mine)
    assert (done.exit_code, "mine.season: refused" in done.output) == (1, True)
    assert "(refused-program)" in done.output
    (folder / "mine.season").write_text(SEASON.replace("week 3", "week 4"))
    assert check(mine).exit_code == 1


def test_check_takes_a_season_beside_programs_as_json_too(folder: Path) -> None:
    files = [str(folder / "good.feed"), str(folder / "mine.season")]
    found = json.loads(check(*files, "--format", "json").output)
    assert found["ok"]
    assert [one["file"] for one in found["files"]] == files
    assert [one["name"] for one in found["files"][1]["programs"]] == ["good", "sub/other"]
    (folder / "sub/other.feed").write_text(UNMET)
    done = check(*files, "--format", "json")
    assert (done.exit_code, json.loads(done.output)["ok"]) == (1, False)


def test_what_only_a_program_has_is_not_asked_of_a_season(folder: Path) -> None:
    for words in (["--certificate"], ["--sample", "3"], ["-o", str(folder / "one.html")]):
        done = check(str(folder / "mine.season"), *words)
        assert (done.exit_code, "is a season" in done.output) == (2, True)


def test_check_finds_a_shipped_season_by_its_name() -> None:
    assert "autumn-juniors: fine" in check("autumn-juniors").output


def test_shipped_and_own_seasons_are_found_by_name(folder: Path) -> None:
    shipped = CliRunner().invoke(verbs, ["season", "autumn-juniors"])
    assert shipped.exit_code == 0, shipped.output
    own = ["--library", str(folder)]
    done = CliRunner().invoke(verbs, ["season", "my/mine", *own])
    assert done.exit_code == 0, done.output
    listed = CliRunner().invoke(verbs, ["programs", "--theme", "depth", *own])
    assert "my/mine season: Mine; theme Depth, Net" in " ".join(listed.output.split())


def test_programs_of_the_own_library_are_played_in_a_season(folder: Path) -> None:
    library = folder / "library"
    library.mkdir()
    (library / "own.feed").write_text(GOOD)
    replan(folder, ('"sub/other"', '"my/own"'))
    assert run(folder, "--library", str(library)).exit_code == 0
    assert "(cannot-use)" in run(folder).output


def test_the_editor_says_of_a_season_what_the_command_says(folder: Path) -> None:
    (folder / "sub/other.feed").write_text(GOOD.replace("send deep", "send depe"))
    found = json.loads(run(folder, "--format", "json").output)["diagnostics"]
    opened = open_document(folder / "mine.season", SEASON)
    told = [(one.slug, one.span.line) for one in opened.verdict.diagnostics if one.span]
    assert told == [(one["slug"], one["line"]) for one in found] != []


def test_seasons_are_tidied_with_the_programs_of_a_folder(folder: Path) -> None:
    path = folder / "mine.season"
    path.write_text(SEASON.replace("    week 1", "\tWEEK  1"))
    assert CliRunner().invoke(verbs, ["tidy", str(folder)]).exit_code == 0
    assert path.read_text() == SEASON
