"""Feedscript from Python: what the commands say, as values; and programs as pytest's own tests."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from feedscript import api
from feedscript.cli import verbs
from feedscript.launcher.port import LauncherError

pytest_plugins = ["pytester"]

PROGRAM = """feedscript 1
court { surface hard }
balls { type 2 }
launcher { profile "garage"  stands on baseline, on centre line }
feed deep { land 2 m inside baseline, on centre line  speed 80 km/h }
feed wide { land 2.5 m inside baseline, 2 m ad of centre line  speed 75 km/h }
lesson { show speed of deep  repeat 4 { send deep after 5 s  send wide after 6 s } }
expect { balls = 9  50 % of deep within 2 m }
"""


@pytest.fixture
def program(tmp_path: Path) -> Path:
    path = tmp_path / "lesson.feed"
    path.write_text(PROGRAM)
    return path


def said(*words: object) -> dict:
    return json.loads(CliRunner().invoke(verbs, [*map(str, words), "--format", "json"]).stdout)


def test_a_rehearsal_is_the_commands_own(program: Path) -> None:
    told = said("rehearse", program, "--scatter-seed", 3)["balls"]
    found = api.rehearse(api.check(program), seed=3).balls
    assert [one.landing_m for one in found] == [tuple(one["landing_m"]) for one in told]
    assert [one.at_s for one in found] == [one["at_s"] for one in told]


def test_a_shipped_program_is_known_by_its_name_and_a_text_needs_no_file() -> None:
    assert api.check("monday-one").ok
    assert api.check("nowhere.feed", text=PROGRAM).ok
    assert not api.check("nowhere.feed").ok


def test_plan_and_record_are_columns_of_one_length(program: Path) -> None:
    verdict = api.check(program)
    assert verdict.plan is not None
    feeds, balls = api.feeds(verdict.plan), api.balls(api.rehearsed(verdict))
    assert {len(column) for column in feeds.values()} == {2}
    assert {len(column) for column in balls.values()} == {9}
    assert feeds["feed"].tolist() == ["deep", "wide"]
    kmh = 3.6 * feeds["speed_mps"]
    assert kmh == pytest.approx([80.0, 75.0])
    assert (balls["drive_1"][balls["feed"] == "deep"] == feeds["drive_1"][0]).all()
    assert np.isnan(balls["gap_s"][0])
    assert balls["gap_s"][3] == pytest.approx(5.0, abs=0.01)
    assert balls["left"].all()
    planned = api.balls(api.planned(verdict))
    assert planned["feed"].tolist() == balls["feed"].tolist()


def test_records_are_compared_as_by_the_command(program: Path) -> None:
    verdict = api.check(program)
    assert api.compare(api.planned(verdict), api.rehearsed(verdict)).same
    jammed = api.rehearsed(verdict, faults=("jam=3",))
    assert not api.compare(api.planned(verdict), jammed).same
    with pytest.raises(LauncherError):
        api.rehearsed(verdict, faults=("no-such=1",))


def test_a_lesson_of_a_journal_is_a_record_too(program: Path, tmp_path: Path) -> None:
    journal = tmp_path / "journal.sqlite"
    CliRunner().invoke(verbs, ["rehearse", str(program), "--journal", str(journal)])
    assert api.compare(api.planned(api.check(program)), api.lesson(journal, 1)).same


def test_expectations_are_judged(program: Path) -> None:
    met = api.expectations(api.check(program), draws=200)
    assert [one.outcome.standing.value for one in met] == ["passes", "passes"]


def test_a_program_that_may_not_be_run_is_refused_in_its_own_words() -> None:
    verdict = api.check("lesson.feed", text=PROGRAM.replace("after 6 s", "after 0.1 s"))
    assert not verdict.ok
    for asked in (api.rehearse, api.planned, api.rehearsed, api.expectations):
        with pytest.raises(api.RefusedError, match=r"lesson\.feed") as refused:
            asked(verdict)
        assert refused.value.diagnostics == verdict.diagnostics


# -- pytest's plugin ------------------------------------------------------------------------------

#: Programs, and what pytest makes of each: passed, failed.
FILES = {
    "fine.feed": (PROGRAM, 3, 0),
    "wrong.feed": (PROGRAM.replace("balls = 9", "balls = 8"), 2, 1),
    "refused.feed": (PROGRAM.replace("after 6 s", "after 0.1 s"), 0, 1),
    "silent.feed": (PROGRAM.partition("expect")[0], 0, 1),
    "patterns.feed": ("feedscript 1\npattern p() { rest 1 s }\n", 0, 0),
}


def test_programs_are_collected_where_that_is_asked_for(pytester: pytest.Pytester) -> None:
    for name, (text, _, _) in FILES.items():
        pytester.path.joinpath(name).write_text(text)
    pytester.runpytest_inprocess("-p", "no:cacheprovider").assert_outcomes()
    done = pytester.runpytest_inprocess("--feeds", "--feed-draws", "200", "-p", "no:cacheprovider")
    passed, failed = (sum(one[at] for one in FILES.values()) for at in (1, 2))
    done.assert_outcomes(passed=passed, failed=failed)
    done.stdout.fnmatch_lines(["*balls = 8*", "*expects nothing of itself*"], consecutive=False)


@pytest.mark.parametrize("name", FILES)
def test_each_program_gives_its_own_tests(name: str, pytester: pytest.Pytester) -> None:
    text, passed, failed = FILES[name]
    pytester.path.joinpath(name).write_text(text)
    pytester.makeini("[pytest]\nfeeds = true\n")
    done = pytester.runpytest_inprocess("--feed-draws", "200", "-p", "no:cacheprovider")
    done.assert_outcomes(passed=passed, failed=failed)
    assert "Traceback" not in done.stdout.str()


def test_where_it_is_strict_a_file_without_a_lesson_and_no_file_at_all_fail(
    pytester: pytest.Pytester,
) -> None:
    strict = ("--feeds-strict", "--feed-draws", "200", "-p", "no:cacheprovider")
    none = pytester.runpytest_inprocess(*strict)
    assert none.ret == pytest.ExitCode.USAGE_ERROR
    pytester.path.joinpath("patterns.feed").write_text(FILES["patterns.feed"][0])
    pytester.runpytest_inprocess(*strict).assert_outcomes(failed=1)
    pytester.makeini("[pytest]\nfeeds_strict = true\n")
    pytester.runpytest_inprocess(*strict[1:]).assert_outcomes(failed=1)
