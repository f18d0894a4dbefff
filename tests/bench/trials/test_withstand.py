"""``feedscript withstand``, its files, and the same faults in a rehearsal and at a stand-in."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner, Result
from feedscript_drivers.wire.protocol import FaultKind, spelled

from feedscript.bench.trials.expectations import WORDS
from feedscript.bench.trials.hold_trials import Standing
from feedscript.bench.trials.read_trials import read_trials
from feedscript.cli import verbs
from feedscript.cli.setting_up import stand_in as command_of_stand_in
from feedscript.diagnostics import FeedscriptError
from feedscript.launcher.trials.meaning import FACTS, FOUND, amiss
from feedscript.launcher.trials.trial import What
from tests.bench.trials.programs import LESSON, held, trial

JAM = """
[[fault]]
name = "ball 2 jams"
where = "launcher"
what = "jam"
ball = 2
expect = ["stopped within 1.5 s", "goes on"]
"""
HURRY = JAM.replace("ball 2 jams", "a hurry").replace("1.5 s", "0.5 s")
NEVER = JAM.replace("ball 2 jams", "far off").replace("ball = 2", "ball = 900")
ELSEWHERE = JAM.replace("ball 2 jams", "elsewhere").replace("ball = 2", "ball = 2\nlauncher = 3")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "lesson.feed").write_text(LESSON, encoding="utf-8")
    return tmp_path


def withstand(folder: Path, faults: str, *words: str) -> Result:
    (folder / "faults.toml").write_text(faults, encoding="utf-8")
    typed = ["withstand", str(folder / "lesson.feed"), "--jobs", "1"]
    result = CliRunner().invoke(verbs, [*typed, "--faults", str(folder / "faults.toml"), *words])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def test_what_holds_and_what_does_not_is_told_by_name(folder: Path) -> None:
    fine = withstand(folder, JAM)
    assert (fine.exit_code, "holds         ball 2 jams" in fine.output) == (0, True), fine.output
    report = folder / "report.xml"
    result = withstand(folder, JAM + HURRY + NEVER, "--junit", str(report), "--format", "json")
    told = json.loads(result.stdout)
    assert (result.exit_code, told["ok"]) == (1, False)
    assert [(one["fault"], one["standing"]) for one in told["faults"]] == [
        ("ball 2 jams", "holds"),
        ("a hurry", "fails"),
        ("far off", "never struck"),
    ]
    late = told["faults"][1]["expectations"][0]
    assert (late["expectation"], late["holds"]) == ("stopped within 0.5 s", False)
    (suite,) = ElementTree.parse(report).getroot()
    assert (suite.get("tests"), suite.get("failures"), suite.get("skipped")) == ("3", "2", "0")


def test_what_is_not_for_a_program_is_skipped_and_no_success_where_it_is_strict(
    folder: Path,
) -> None:
    report = folder / "report.xml"
    lax = withstand(folder, ELSEWHERE, "--junit", str(report))
    assert (lax.exit_code, "not for it" in lax.output) == (0, True), lax.output
    assert ElementTree.parse(report).getroot().get("skipped") == "1"
    assert withstand(folder, ELSEWHERE, "--strict", "--junit", str(report)).exit_code == 1
    assert ElementTree.parse(report).getroot().get("failures") == "1"


def test_a_refused_program_and_an_empty_folder_are_no_success(folder: Path) -> None:
    (folder / "lesson.feed").write_text("feedscript 1\n", encoding="utf-8")
    assert withstand(folder, JAM).exit_code == 1
    (folder / "empty").mkdir()
    assert CliRunner().invoke(verbs, ["withstand", str(folder / "empty")]).exit_code == 2


#: What is wrong with a file, and a word that its diagnostic must have.
WRONG = {
    "": "fault",
    "fault = 3": "fault",
    "[[fault": "TOML",
    "\xff": "UTF-8",
    JAM + "colour = 1": "colour",
    JAM.replace("jam", "jum"): "jum",
    JAM.replace('"launcher"', '"link"'): "launcher",
    JAM.replace("ball = 2", ""): "when",
    JAM.replace("ball = 2", "ball = 2\nat_s = 1.0"): "when",
    JAM.replace("ball = 2", "ball = 0"): "ball",
    JAM.replace("ball = 2", "ball = 2\nby_s = 1.0"): "by_s",
    JAM.replace("ball = 2", 'state = "awake"'): "awake",
    JAM.replace("goes on", "goes off"): "goes on",
    JAM.replace('expect = ["stopped within 1.5 s", "goes on"]', "expect = []"): "expect",
    JAM + JAM: "two faults",
    JAM.replace('"jam"', '"late-ball"'): "by_s",
    JAM.replace('"jam"', '"late-ball"\nby_s = 1.3'): "1.2 s",
    JAM.replace('"jam"', '"finds"\nkind = "reset"'): "reset",
    JAM.replace('"jam"', '"clock-off"\nppm = 5'): "beginning",
    'always = ["all is well"]\n' + JAM: "all is well",
}


@pytest.mark.parametrize("text", WRONG)
def test_a_file_that_is_not_understood_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "faults.toml"
    path.write_bytes(text.encode("latin-1"))
    with pytest.raises(FeedscriptError) as refused:
        read_trials(path)
    found = refused.value.diagnostic
    place = found.device if found.span is None else found.span.source
    assert (found.slug, place, bool(found.help)) == ("bad-faults", str(path), True)
    assert WRONG[text] in f"{found.message} {found.help}"


def test_names_that_are_not_there_are_told_with_the_nearest(folder: Path) -> None:
    result = withstand(folder, JAM, "--named", "ball 2 jam")
    assert (result.exit_code, "ball 2 jams" in result.output) == (1, True), result.output
    assert withstand(folder, JAM + HURRY, "--named", "ball 2 jams").exit_code == 0


def test_what_a_launcher_may_find_is_what_the_wire_has_a_number_for() -> None:
    assert set(FOUND) == {spelled(kind) for kind in FaultKind}


#: Faults of which no shipped one is a case, each tried here.
MORE: list[dict[str, Any]] = [
    {"where": "person", "what": "comes-late", "ball": 3},
    {"where": "person", "what": "stops", "ball": 3},
    {"where": "person", "what": "holds", "ball": 3},
    {"where": "link", "what": "late", "of": "beats", "by_s": 0.2, "at_s": 15.0, "times": 3},
    {"where": "launcher", "what": "jam", "state": "armed"},
]


@pytest.mark.parametrize("keys", MORE, ids=lambda one: one["what"])
def test_others_strike_too(keys: dict[str, Any]) -> None:
    one = trial(expect=["goes on", "nothing twice", "armed by a person"], **keys)
    assert amiss(one) == ""
    assert held(one).standing is Standing.HOLDS


def test_every_fault_that_there_is_has_its_facts_and_a_place_on_the_page(root: Path) -> None:
    assert set(FACTS) == set(What)
    page = (root / "feedscript/bench/README.md").read_text("utf-8")
    assert [what for what in What if f"`{what.value}`" not in page] == []
    rows = [f"| `{words}` | {meaning} |" for words, (_, meaning) in WORDS.items()]
    assert [row for row in rows if row not in page] == []


def test_a_rehearsal_has_the_faults_that_are_named(folder: Path) -> None:
    (folder / "faults.toml").write_text(JAM, encoding="utf-8")
    typed = ["rehearse", str(folder / "lesson.feed"), "--faults", str(folder / "faults.toml")]
    assert CliRunner().invoke(verbs, typed).exit_code == 2
    result = CliRunner().invoke(verbs, [*typed, "--named", "ball 2 jams", "--format", "json"])
    balls = json.loads(result.stdout)["balls"]
    assert [ball["feed_id"] for ball in balls if ball["outcome"] == "left"][:2] == [1, 4]


def test_the_stand_in_is_given_the_faults_that_are_named(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    given: list[Any] = []
    tool = command_of_stand_in.tool
    served = lambda options, _say: given.append(options)  # noqa: E731
    monkeypatch.setattr(
        command_of_stand_in, "tool", lambda name: served if name == "stand-in" else tool(name)
    )
    typed = ["stand-in", "--tcp", "0", "--named", "the link is dead"]
    assert CliRunner().invoke(verbs, typed).exit_code == 0
    assert [one.name for one in given[0].trials] == ["the link is dead"]
