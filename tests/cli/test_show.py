"""``feedscript show``: pictures by the ending, and a clear word for everything else."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.cli.show import command
from tests.launcher.examples import GARAGE, garage_with


def show(*arguments: object):
    return CliRunner().invoke(command, [str(one) for one in arguments])


@pytest.mark.parametrize(
    ("ending", "begins"), [(".svg", b"<svg"), (".png", b"\x89PNG"), (".html", b"<!doctype html>")]
)
def test_the_ending_says_what_is_written(tmp_path, ending, begins) -> None:
    out = tmp_path / f"reach{ending}"
    result = show("--envelope", GARAGE, "-o", out)
    assert result.exit_code == 0, result.output
    assert out.read_bytes().startswith(begins)


@pytest.mark.parametrize(
    "arguments",
    [
        ("-o", "x.svg"),
        ("--envelope", GARAGE, "-o", "x.pdf"),
        ("a.feed", "--envelope", GARAGE, "-o", "x.svg"),
        ("--envelope", GARAGE, "-o", "no/such/folder/x.svg"),
    ],
)
def test_wrong_usage_ends_with_2(arguments, tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    result = show(*arguments)
    assert result.exit_code == 2
    assert "Traceback" not in result.output


def test_a_broken_profile_is_shown_where_it_is_broken(tmp_path: Path) -> None:
    profile = tmp_path / "mine.toml"
    profile.write_text(garage_with("slip", "9.0"), encoding="utf-8")
    out = tmp_path / "x.svg"
    result = show("--envelope", profile, "-o", out, "--format", "json")
    assert result.exit_code == 1
    answer = json.loads(result.output)
    assert answer["ok"] is False
    assert answer["file"] is None
    assert [one["slug"] for one in answer["diagnostics"]] == ["profile-implausible"]
    assert not out.exists()
