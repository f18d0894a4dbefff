"""``feedscript playable`` as a person meets it."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from feedscript.cli import verbs
from feedscript.shipped import profile_path

TWO = ("--launcher", "garage", "--launcher", "swinging-head")


def playable(*words: str) -> Result:
    done = CliRunner().invoke(verbs, ["playable", *words])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done


def test_a_table_of_letters_and_numbers_with_what_they_mean(tmp_path: Path) -> None:
    table = tmp_path / "table.csv"
    done = playable("monday-one", "launchers/swinging-head", *TWO, "-o", str(table))
    assert done.exit_code == 0
    lines = done.output.splitlines()
    assert lines[0].split() == ["A", "B"]
    assert [line.split() for line in lines[1:3]] == [
        ["monday-one", "ok", "1"],
        ["launchers/swinging-head", "2", "ok"],
    ]
    assert "  A  garage: 1 of 2" in lines
    assert "  1  no-single-place: 1" in lines
    assert "  2  no-sweep: 1" in lines
    rows = list(csv.reader(table.open(newline="", encoding="utf-8")))
    assert rows[0] == ["program", "garage", "swinging-head"]
    assert rows[1][:2] == ["monday-one", "ok"]
    assert rows[1][2].split()[0] == "no-single-place"


def test_a_program_that_no_launcher_may_play_is_no_success(tmp_path: Path) -> None:
    done = playable("launchers/swinging-head", "--launcher", "garage", "--format", "json")
    found = json.loads(done.stdout)
    assert (done.exit_code, found["ok"], found["launchers"]) == (1, False, ["garage"])
    (verdict,) = found["programs"][0]["verdicts"]
    assert verdict["errors"][0]["slug"] == "no-sweep"
    assert verdict["errors"][0]["message"]


def test_what_is_no_program_is_told_and_the_others_are_judged(tmp_path: Path) -> None:
    (tmp_path / "wrong.feed").write_text("feedscript 1\nlesson { sned deep }\n")
    (tmp_path / "right.feed").write_bytes(Path("programs/tuesday-two.feed").read_bytes())
    done = playable(str(tmp_path), "--launcher", "garage")
    assert done.exit_code == 1
    lines = [line.split() for line in done.stdout.splitlines()]
    assert [str(tmp_path / "right.feed"), "ok"] in lines
    assert [str(tmp_path / "wrong.feed"), "is", "no", "program"] in lines
    assert "Error: " in done.stderr


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["nowhere", "-o", "table.html"], "ends in .csv"),
        (["--launcher", "garage", "--launcher", "garage"], "two are called garage"),
        (["EMPTY"], "holds no program"),
        (["monday-one", "--cluster", "local", "--cluster-key", "k"], "belong together"),
    ],
)
def test_wrong_usage_is_told(tmp_path: Path, words: list[str], said: str) -> None:
    done = playable(*(str(tmp_path) if word == "EMPTY" else word for word in words))
    assert done.exit_code == 2
    assert said in done.output


def test_a_profile_in_error_is_in_no_table(tmp_path: Path) -> None:
    broken = tmp_path / "mine.toml"
    broken.write_text(profile_path("garage").read_text().replace("mouth", "muoth"))
    done = playable("monday-one", "--launcher", str(broken))
    assert done.exit_code == 1
    assert "mine.toml" in done.output
    assert "Traceback" not in done.output
