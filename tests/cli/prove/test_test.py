"""``feedscript test``: what programs expect of themselves, on the command line."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from feedscript.cli.prove.test import command

LESSON = """feedscript 1
title "Two feeds"
balls {{ load 60 }}
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
feed deep {{ land 2 m inside baseline, on centre line  speed 85 km/h  spin top 600 rpm }}
lesson {{ show speed of deep  repeat 5 {{ send deep after 5 s }} }}
expect {{
{expectations}
}}
"""
MET = "    balls = 6\n    deep clears net by 0.5 m"
NOT_MET = "    balls <= 5\n    99.9 % of deep within 0.3 m"
UNSURE = "    95 % of deep within 0.6 m"


@pytest.fixture
def lesson(tmp_path: Path):
    def write(expectations: str, name: str = "lesson.feed") -> str:
        path = tmp_path / name
        path.write_text(LESSON.format(expectations=expectations))
        return str(path)

    return write


def run(*words: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(command, words)
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result.exit_code, result.stdout, result.stderr


def as_json(*words: str) -> tuple[int, dict]:
    code, out, _ = run(*words, "--format", "json")
    return code, json.loads(out)


def test_expectations_that_are_met_end_with_0(lesson):
    code, out, _ = run(lesson(MET))
    assert code == 0
    assert "2 expectations: 2 passes, 0 fails, 0 inconclusive" in out


def test_one_that_is_not_met_ends_with_1_with_figure_seed_and_ball(lesson):
    code, found = as_json(lesson(NOT_MET), "--draw-seed", "3")
    assert (code, found["ok"]) == (1, False)
    balls, share = found["programs"][0]["expectations"]
    assert (balls["standing"], balls["figure"]) == ("fails", "6 balls")
    assert balls["counter_example"] == {"seed": 3, "ball": 6, "what": "this run comes to 6 balls"}
    low, high = share["interval"]
    assert low < high < 0.999
    assert share["counter_example"]["seed"] == 3
    assert share["expectation"] == "99.9 % of deep within 0.3 m"


def test_too_few_draws_leave_it_open_and_that_is_no_success(lesson):
    code, found = as_json(lesson(UNSURE), "--draws", "12")
    assert (code, found["ok"]) == (1, False)
    assert found["programs"][0]["expectations"][0]["standing"] == "inconclusive"


def test_many_jobs_find_what_one_finds(lesson):
    paths = [lesson(MET, "a.feed"), lesson(NOT_MET, "b.feed"), lesson(UNSURE, "c.feed")]
    assert as_json(*paths, "--jobs", "1") == as_json(*paths, "--jobs", "3")


def test_a_folder_means_all_programs_in_it(lesson, tmp_path: Path):
    lesson(MET, "a.feed")
    lesson(MET, "b.feed")
    _, found = as_json(str(tmp_path))
    assert [Path(each["file"]).name for each in found["programs"]] == ["a.feed", "b.feed"]


def test_a_program_that_is_refused_is_not_tested(lesson, tmp_path: Path):
    path = tmp_path / "wrong.feed"
    path.write_text("feedscript 1\nlesson { send nobody after 4 s }\n")
    code, found = as_json(str(path), lesson(MET))
    assert code == 1
    wrong, good = found["programs"]
    assert wrong["diagnostics"]
    assert (wrong["expectations"], good["ok"]) == ([], True)


def test_a_path_that_is_not_there_is_reported_without_a_traceback():
    code, out, _ = run("no-such-file.feed")
    assert code == 1
    assert "1 of 1 programs refused" in out


def test_junit_has_a_suite_a_program_and_a_case_an_expectation(lesson, tmp_path: Path):
    broken = tmp_path / "broken.feed"
    broken.write_text("feedscript 1\nlesson {\n")
    report = tmp_path / "report.xml"
    paths = [lesson(f"{MET}\n{NOT_MET}", "a.feed"), lesson(UNSURE, "b.feed"), str(broken)]
    run(*paths, "--draws", "12", "--junit", str(report))
    suites = ElementTree.parse(report).getroot()
    assert suites.tag == "testsuites"
    assert [suite.get("tests") for suite in suites] == ["5", "2", "1"]
    counted = {name: suites.get(name) for name in ("failures", "errors", "skipped")}
    cases = suites.findall("testsuite/testcase")
    seen = {
        "failures": len([c for c in cases if c.find("failure") is not None]),
        "errors": len([c for c in cases if c.find("error") is not None]),
        "skipped": len([c for c in cases if c.find("skipped") is not None]),
    }
    assert {name: int(count) for name, count in counted.items()} == seen
    assert seen["errors"] == 1
    assert seen["failures"] >= 1


def test_a_report_that_cannot_be_written_is_wrong_usage(lesson, tmp_path: Path):
    code, _, err = run(lesson(MET), "--junit", str(tmp_path / "no" / "r.xml"))
    assert code == 2
    assert "cannot be written" in err


@pytest.mark.parametrize("words", [[], ["x", "--draws", "0"], ["x", "--jobs", "none"]])
def test_wrong_usage_ends_with_2(words):
    assert run(*words)[0] == 2


def test_nothing_that_was_not_tested_is_a_success(lesson, tmp_path: Path):
    empty = tmp_path / "empty"
    empty.mkdir()
    code, _, err = run(str(empty))
    assert code == 2
    assert "holds no program" in err
    assert run(lesson(MET), str(empty))[0] == 2
    silent = tmp_path / "silent.feed"
    silent.write_text(LESSON.format(expectations="").replace("expect {\n\n}\n", ""))
    code, out, _ = run(str(silent))
    assert code == 1
    assert "expects nothing of itself" in out
    unsent = LESSON.format(expectations="    other clears net by 0.1 m")
    unsent += "feed other { land 4 m inside baseline, on centre line  speed 70 km/h }\n"
    (tmp_path / "unsent.feed").write_text(unsent)
    code, found = as_json(str(tmp_path / "unsent.feed"))
    assert (code, found["programs"][0]["expectations"][0]["standing"]) == (1, "untested")


def test_the_report_counts_what_was_not_tested_as_no_success(lesson, tmp_path: Path):
    silent = tmp_path / "silent.feed"
    silent.write_text(LESSON.format(expectations="").replace("expect {\n\n}\n", ""))
    run(str(silent), "--junit", str(tmp_path / "report.xml"))
    assert ElementTree.parse(tmp_path / "report.xml").getroot().get("errors") == "1"


def test_where_it_is_strict_nothing_is_skipped(lesson, tmp_path: Path):
    report, path = tmp_path / "report.xml", lesson(UNSURE)
    for words, told in (((), ("0", "1")), (("--strict",), ("1", "0"))):
        run(path, "--draws", "12", "--junit", str(report), *words)
        root = ElementTree.parse(report).getroot()
        assert (root.get("failures"), root.get("skipped")) == told
