"""A baseline holds a program to what it was: nothing passes unseen, and nothing is told that is
the same."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from feedscript.bench.baseline import accepted, changes, document_of, read_baseline, written
from feedscript.check.check_program import check_program
from feedscript.cli import verbs
from feedscript.diagnostics import Diagnostic
from feedscript.shipped import profile_path

PROGRAM = """feedscript 1
court { surface hard }
balls { type 2 }
launcher { profile "garage"  stands on baseline, on centre line }
feed deep { land 2 m inside baseline, on centre line  speed 80 km/h }
feed wide { land 2.5 m inside baseline, 2 m ad of centre line  speed 75 km/h }
lesson { show speed of deep  repeat 4 { send deep after 5 s  send wide after 6 s } }
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "lessons" / "juniors").mkdir(parents=True)
    (tmp_path / "lessons" / "one.feed").write_text(PROGRAM)
    (tmp_path / "lessons" / "juniors" / "two.feed").write_text(PROGRAM)
    done = told("keep", tmp_path / "lessons", "--kept", tmp_path / "kept")
    assert done.exit_code == 0, done.output
    return tmp_path


def told(verb: str, *words: object) -> Result:
    result = CliRunner().invoke(verbs, ["baseline", verb, *map(str, words)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def hold(folder: Path, *words: object) -> Result:
    return told("hold", folder / "lessons", "--kept", folder / "kept", *words)


def parted(folder: Path) -> dict[str, set[str]]:
    found = json.loads(hold(folder, "--format", "json").stdout)["programs"]
    return {
        one["program"]: {change["place"] for change in one["changes"]}
        for one in found
        if one["changes"]
    }


def test_what_was_kept_is_what_it_is_and_keeping_again_changes_nothing(folder: Path) -> None:
    kept = folder / "kept" / "juniors" / "two.json"
    before = kept.read_bytes()
    assert hold(folder).exit_code == 0
    again = told("keep", folder / "lessons", "--kept", folder / "kept")
    assert "is kept already" in again.output
    assert kept.read_bytes() == before


def test_another_speed_is_told_with_every_figure_that_it_moves(folder: Path) -> None:
    path = folder / "lessons" / "one.feed"
    path.write_text(PROGRAM.replace("75 km/h", "76 km/h"))
    result = hold(folder, "-o", folder / "pictures")
    assert result.exit_code == 1
    assert "feeds / wide / speed_mps: 20.8333 is now 21.1111" in result.output
    assert "(made with) program" in result.output
    assert "feeds / deep" not in result.output
    assert parted(folder).keys() == {"one"}
    assert "1 of 2 feeds part" in (folder / "pictures" / "one.svg").read_text()
    assert not (folder / "pictures" / "juniors").exists()


def test_another_profile_is_told_though_no_program_changed(folder: Path) -> None:
    profile = folder / "garage.toml"
    text = profile_path("garage").read_text()
    profile.write_text(text + "\n# a comment is no change\n")
    same = hold(folder, "--launcher", profile)
    assert same.exit_code == 0, same.output
    assert "slip = 0.92 " in text
    profile.write_text(text.replace("slip = 0.92 ", "slip = 0.90 "))
    result = hold(folder, "--launcher", profile)
    assert result.exit_code == 1, result.output
    assert "setting / drives" in result.output
    assert "(made with) profiles" in result.output


def test_a_program_that_is_refused_now_says_by_which_rule(folder: Path) -> None:
    path = folder / "lessons" / "one.feed"
    path.write_text(PROGRAM.replace("after 6 s", "after 0.3 s"))
    found = parted(folder)["one"]
    assert "verdict" in found
    assert any(place.startswith("errors / ") for place in found)


def test_a_program_that_is_gone_or_new_is_no_success(folder: Path) -> None:
    (folder / "lessons" / "one.feed").rename(folder / "lessons" / "three.feed")
    result = hold(folder)
    assert result.exit_code == 1
    assert parted(folder) == {"three": {"program"}, "one": {"program"}}


def test_changes_are_taken_over_one_by_one(folder: Path) -> None:
    path = folder / "lessons" / "one.feed"
    path.write_text(PROGRAM.replace("75 km/h", "76 km/h").replace("repeat 4", "repeat 5"))
    kept = ("--kept", folder / "kept")
    before = parted(folder)["one"]
    assert {"bounds / balls", "feeds / wide / speed_mps"} <= before
    assert told("accept", path, "bounds", *kept).exit_code == 0
    left = parted(folder)["one"]
    assert left == {place for place in before if not place.startswith("bounds")}
    unknown = told("accept", path, "feeds / deep", *kept)
    assert (unknown.exit_code, "nothing changed" in unknown.output) == (2, True)
    assert told("accept", path, *kept).exit_code == 0
    assert parted(folder) == {}


@pytest.mark.parametrize("bad", [b"", b"[]", b"{", b'{"baseline": 9}', b"\xff", b"[" * 100_000])
def test_a_file_that_is_no_baseline_is_refused(folder: Path, bad: bytes) -> None:
    path = folder / "kept" / "one.json"
    path.write_bytes(bad)
    assert isinstance(read_baseline(path), Diagnostic)
    result = hold(folder)
    assert (result.exit_code, "bad-baseline" in result.output) == (1, True)


figures = st.none() | st.integers() | st.text(max_size=3) | st.lists(st.integers(), max_size=2)
documents = st.recursive(
    st.dictionaries(st.sampled_from("abc"), figures, max_size=3),
    lambda inside: st.dictionaries(st.sampled_from("abc"), figures | inside, max_size=3),
    max_leaves=8,
)


def bare(document: dict) -> dict:
    """Without what says nothing: null, and an object with nothing in it."""
    inside = {k: bare(v) if isinstance(v, dict) else v for k, v in document.items()}
    return {k: v for k, v in inside.items() if v is not None and v != {}}


@given(documents, documents)
def test_nothing_parts_exactly_where_the_documents_are_one(one: dict, two: dict) -> None:
    assert (changes(one, two) == ()) == (bare(one) == bare(two))


@given(documents, documents)
def test_all_changes_accepted_one_by_one_are_the_new_document(one: dict, two: dict) -> None:
    taken = one
    for change in changes(one, two):
        if any(change.place == left.place for left in changes(taken, two)):
            taken = accepted(taken, two, [change.place])
    assert changes(taken, two) == ()


def test_the_same_program_gives_the_same_bytes() -> None:
    first, again = (
        written(document_of(check_program(Path("a.feed"), text=PROGRAM))) for _ in range(2)
    )
    assert first == again
    assert json.loads(first)["verdict"] == "passes"
