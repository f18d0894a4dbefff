"""``feedscript draw``: pictures by the ending, and a clear word for everything else."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.cli.prove.check import command as check
from feedscript.cli.prove.draw import command
from tests.launcher.examples import GARAGE, PROFILES, garage_with


def show(*arguments: object):
    return CliRunner().invoke(command, [str(one) for one in arguments])


@pytest.mark.parametrize(
    ("ending", "begins"), [(".svg", b"<svg"), (".png", b"\x89PNG"), (".html", b"<!doctype html>")]
)
def test_the_ending_says_what_is_written(tmp_path, ending, begins) -> None:
    out = tmp_path / f"reach{ending}"
    result = show("--envelope", "--launcher", GARAGE, "-o", out)
    assert result.exit_code == 0, result.output
    assert out.read_bytes().startswith(begins)


@pytest.mark.parametrize(
    "arguments",
    [
        ("-o", "x.svg"),
        ("--envelope", "-o", "x.svg"),
        ("--envelope", "--launcher", GARAGE, "-o", "x.pdf"),
        ("a.feed", "--envelope", "--launcher", GARAGE, "-o", "x.svg"),
        ("--envelope", "--launcher", GARAGE, "-o", "no/such/folder/x.svg"),
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
    result = show("--envelope", "--launcher", profile, "-o", out, "--format", "json")
    assert result.exit_code == 1
    answer = json.loads(result.output)
    assert answer["ok"] is False
    assert answer["file"] is None
    assert [one["slug"] for one in answer["diagnostics"]] == ["profile-implausible"]
    assert not out.exists()


@pytest.mark.parametrize(
    "name", ["thursday-juniors", "steady-improver", "topspin-and-slice", "side-by-side"]
)
@pytest.mark.parametrize("worst", [False, True])
def test_shipped_programs_are_drawn_by_name(tmp_path, name, worst) -> None:
    out = tmp_path / "x.svg"
    result = show(name, "-o", out, *(["--worst"] if worst else []))
    assert result.exit_code == 0, result.output
    words = [e.text for e in ET.parse(out).iter() if e.tag.endswith("text")]
    title = next(iter(words))
    assert title is not None
    assert title.startswith(
        "Worst cases: " if worst else ("Thursday", "One improver", "Topspin", "Two stations")
    )


def test_what_the_picture_says_of_a_feed_is_what_check_says(tmp_path) -> None:
    out = tmp_path / "x.svg"
    show("topspin-and-slice", "-o", out)
    checked = CliRunner().invoke(check, ["topspin-and-slice", "--format", "json"])
    words = {e.text for e in ET.parse(out).iter() if e.tag.endswith("text")}
    for feed in json.loads(checked.output)["feeds"]:
        assert feed["name"] in words
        assert f"{feed['net_clearance_m']:.2f} m" in words
        assert f"{feed['flight_s']:.2f} s" in words


def test_a_refused_program_is_drawn_all_the_same_and_ends_with_1(tmp_path) -> None:
    """The picture of what is wrong is the quickest way to see it."""
    program = tmp_path / "low.feed"
    program.write_text(
        'feedscript 1\ntitle "Into the net"\ncourt { surface hard }\nballs { type 2  load 60 }\n'
        "launcher { stands 1 m behind centre mark }\n"
        "feed low { land 1 m from net, on centre line  speed 120 km/h }\n"
        "lesson { show speed of low  send low after 6 s }\n",
        encoding="utf-8",
    )
    out = tmp_path / "x.svg"
    result = show(program, "-o", out)
    assert result.exit_code == 1
    assert "net-clearance" in result.output or "out-of-reach" in result.output
    assert out.exists()


@pytest.mark.parametrize("raw", [b"\xff\xfe\x00", b"lesson { send nothing", b""])
def test_what_is_no_program_draws_nothing_and_says_why(tmp_path, raw) -> None:
    program = tmp_path / "x.feed"
    program.write_bytes(raw)
    out = tmp_path / "x.svg"
    result = show(program, "-o", out)
    assert result.exit_code == 1
    assert "Error: " in result.output
    assert "Traceback" not in result.output
    assert not out.exists()


def test_another_launcher_may_be_tried(tmp_path) -> None:
    out = tmp_path / "x.svg"
    result = show("steady-improver", "--launcher", PROFILES / "three-wheels.toml", "-o", out)
    assert result.exit_code == 0, result.output
    assert "three-wheels" in out.read_text(encoding="utf-8")
