"""``feedscript programs``: the shipped ones and a coach's own, listed and found."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.check.catalogue import Entry, Wanted, catalogue, matching
from feedscript.cli import verbs
from feedscript.shipped import shipped_folder

BALL = "feed ball { land 3 m inside baseline, on centre line  speed 80 km/h }\n"
VOLLEYS = (
    'feedscript 1\ntitle "My volleys"\n'
    'suits { theme "Volleys"  stage red to club  players 2 to 6  needs "cones", "a rope" }\n' + BALL
)
ALONE = 'feedscript 1\nsuits { theme "volleys"  players 1 }\n' + BALL
BROKEN = "feedscript 1\nlesson { send }\n"


def written(folder: Path) -> Path:
    (folder / "net").mkdir()
    (folder / "volleys.feed").write_text(VOLLEYS)
    (folder / "net/alone.feed").write_text(ALONE)
    (folder / "broken.feed").write_text(BROKEN)
    return folder


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return written(tmp_path)


@pytest.fixture(scope="module")
def everything(tmp_path_factory: pytest.TempPathFactory) -> list[Entry]:
    return list(catalogue(written(tmp_path_factory.mktemp("mine"))))


def run(*words: str, library: Path, env: dict[str, str] | None = None):
    named = [] if env else ["--library", str(library)]
    return CliRunner().invoke(verbs, ["programs", *words, *named], env=env)


def own(*words: str, library: Path) -> list[str]:
    """The names found, of the coach's own that can be read."""
    done = run(*words, "--format", "json", library=library)
    assert done.exit_code == 0, done.output
    found = json.loads(done.output)["programs"]
    return [one["name"] for one in found if one["own"] and one["fault"] is None]


def test_shipped_and_own_ones_are_listed_by_the_names_they_are_used_by(library: Path) -> None:
    found = json.loads(run("--format", "json", library=library).output)
    names = {one["name"]: one for one in found["programs"]}
    shipped = {path.stem for path in shipped_folder().glob("*.feed")}
    assert {*shipped, "library/warm_up", "my/volleys", "my/net/alone", "my/broken"} <= names.keys()
    assert names["my/volleys"] == {
        "name": "my/volleys",
        "file": str(library / "volleys.feed"),
        "own": True,
        "season": False,
        "title": "My volleys",
        "minutes": None,
        "themes": ["Volleys"],
        "stages": ["red", "orange", "green", "yellow", "beginner", "improver", "club"],
        "players": [2, 6],
        "needs": ["cones", "a rope"],
        "fault": None,
    }
    assert found["library"] == str(library)


def test_a_file_that_cannot_be_read_is_listed_with_its_fault_and_breaks_nothing(library) -> None:
    done = run("--theme", "volleys", library=library)
    assert done.exit_code == 0
    assert "my/broken" in done.output
    assert "line 2 (feedscript check my/broken)" in done.output
    assert "my/volleys" in done.output
    (library / "strange.feed").write_bytes(b"\xff\xfe")
    assert "not UTF-8" in run(library=library).output


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ({}, {"my/volleys", "my/net/alone"}),
        ({"themes": ("VOLLEY",)}, {"my/volleys", "my/net/alone"}),
        ({"themes": ("volley", "lob")}, set()),
        ({"players": 1}, {"my/net/alone"}),
        ({"players": 6}, {"my/volleys"}),
        ({"players": 7}, set()),
        ({"stage": "club"}, {"my/volleys"}),
        ({"stage": "county"}, set()),
        ({"needs": ("cone",)}, {"my/volleys"}),
        ({"needs": ("cones", "rope")}, {"my/volleys"}),
        ({"needs": ("cones", "net")}, set()),
        ({"nothing": True}, {"my/net/alone"}),
        ({"themes": ("volley",), "stage": "red", "players": 4}, {"my/volleys"}),
        ({"themes": ("volley",), "stage": "red", "players": 1}, set()),
    ],
)
def test_what_is_asked_for_must_all_be_so(everything, wanted, found: set[str]) -> None:
    suiting = matching(everything, Wanted(**wanted))
    assert {one.name for one in suiting if one.own and one.fault is None} == found


def test_the_options_ask_for_it(library: Path) -> None:
    words = ["--theme", "volley", "--stage", "red", "--players", "4", "--needs", "cones"]
    assert own(*words, library=library) == ["my/volleys"]
    assert own("--needs", "nothing", "--players", "1", library=library) == ["my/net/alone"]


def test_a_program_is_found_by_what_it_says_only(tmp_path: Path) -> None:
    (tmp_path / "silent.feed").write_text("feedscript 1\n" + BALL)
    assert own(library=tmp_path) == ["my/silent"]
    assert own("--players", "1", library=tmp_path) == []


def test_the_folder_comes_from_the_option_the_variable_or_the_usual_place(library: Path) -> None:
    env = {"FEEDSCRIPT_LIBRARY": str(library)}
    assert "my/volleys" in run(library=library, env=env).output
    elsewhere = CliRunner().invoke(verbs, ["programs"])
    assert elsewhere.exit_code == 0
    assert "my/" not in elsewhere.output
    assert "none of your own; they would lie in" in elsewhere.output
    missing = run(library=library / "nowhere")
    assert missing.exit_code == 2
    assert "does not exist" in missing.output


def test_every_shipped_lesson_says_what_it_suits(library: Path) -> None:
    found = json.loads(run("--format", "json", library=library).output)["programs"]
    lessons = [one for one in found if not (one["own"] or one["season"] or "/" in one["name"])]
    assert len(lessons) > 5
    for one in lessons:
        assert one["themes"], one["name"]
        assert one["stages"], one["name"]
        assert one["players"], one["name"]


def test_one_of_your_own_is_checked_and_copied_by_its_name(library: Path, tmp_path: Path) -> None:
    lesson = VOLLEYS + "lesson { show speed of ball  repeat 4 { send ball after 5 s } }\n"
    (library / "volleys.feed").write_text(lesson)
    words = ["check", "my/volleys", "--library", str(library), "--format", "json"]
    done = CliRunner().invoke(verbs, words)
    assert done.exit_code == 0, done.output
    copied = run("--copy", "my/volleys", "-o", str(tmp_path / "copy"), library=library)
    assert copied.exit_code == 0
    assert (tmp_path / "copy" / "volleys.feed").read_text() == lesson
