"""A name that leads to no file: a pipe, a device, a link to itself, no possible name.

Each is the person's mistake, said at once with its place and fix; nothing waits, nothing breaks.
"""

from __future__ import annotations

import contextlib
import csv
import io
import os
import socket
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.cli import verbs
from feedscript.shipped import profile_path

PROGRAM = """feedscript 1
{use}
court {{ surface hard }}
balls {{ type 2  load 60 }}
launcher {{ profile "{profile}"  stands 1 m behind centre mark }}
feed deep {{ land 3 m inside baseline, on centre line  speed 80 km/h }}
lesson {{ show speed of deep  send deep after 5 s }}
"""


@pytest.fixture(params=["pipe", "device", "socket", "link", "folder", "long"])
def strange(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """A name, with the ending .toml, of something that is no file."""
    path, kind = tmp_path / "strange.toml", request.param
    match kind:
        case "pipe":
            os.mkfifo(path)
        case "device":
            path.symlink_to("/dev/zero")
        case "link":
            path.symlink_to(path)
        case "folder":
            path.mkdir()
        case "long":
            path = tmp_path / ("a" * 300 + ".toml")
        case "socket":
            with socket.socket(socket.AF_UNIX) as listening:
                listening.bind(str(path))
    return str(path)


def told(tmp_path: Path, *words: str) -> str:
    """What a command says when it refuses; it must say so and neither break nor claim a fault."""
    done = CliRunner().invoke(verbs, list(words))
    assert not done.exception or isinstance(done.exception, SystemExit), done.exception
    assert done.exit_code in (1, 2), done.output
    assert "fault of ours" not in done.output
    assert "fix:" in done.output or "Error:" in done.output
    return done.output


@pytest.fixture
def good(tmp_path: Path) -> str:
    path = tmp_path / "good.feed"
    path.write_text(PROGRAM.format(use="", profile="garage.toml"))
    return str(path)


@pytest.mark.timeout(20)
def test_as_a_program(strange: str, tmp_path: Path) -> None:
    told(tmp_path, "rehearse", strange)
    if os.path.isdir(strange):  # every program in it is meant: here, none
        assert "holds no program" in told(tmp_path, "check", strange)
        return
    assert "unreadable-file" in told(tmp_path, "check", strange)
    told(tmp_path, "tidy", strange)


@pytest.mark.timeout(20)
def test_as_a_launchers_profile(strange: str, good: str, tmp_path: Path) -> None:
    assert "profile-unreadable" in told(tmp_path, "check", good, "--launcher", strange)
    named = tmp_path / "named.feed"
    named.write_text(PROGRAM.format(use="", profile=Path(strange).name))
    assert "no-such-profile" in told(tmp_path, "check", str(named))


@pytest.mark.timeout(20)
def test_as_a_file_that_a_program_uses(strange: str, tmp_path: Path) -> None:
    using = tmp_path / "using.feed"
    use = f'use "{Path(strange).name}" as other'
    using.write_text(PROGRAM.format(use=use, profile="garage.toml"))
    assert "cannot-use" in told(tmp_path, "check", str(using))


@pytest.mark.timeout(20)
def test_as_a_journal(strange: str, good: str, tmp_path: Path) -> None:
    assert "journal-unusable" in told(tmp_path, "journal", "list", "--journal", strange) or (
        os.path.isdir(strange)  # click itself refuses a folder
    )
    told(tmp_path, "rehearse", good, "--journal", strange)


@pytest.mark.timeout(20)
def test_as_a_part_of_a_bundle_or_a_board_file(strange: str, tmp_path: Path) -> None:
    told(tmp_path, "bundle", "-o", str(tmp_path / "x.zip"), "--no-journal", "--launcher", strange)
    assert not (tmp_path / "x.zip").exists()
    told(tmp_path, "set-up", "--on", "serial:/dev/null", "--board", strange)
    told(tmp_path, "tune", "--launcher", "garage", "--landings", strange)


def test_a_name_of_several_lines_adds_none_to_a_verdict(tmp_path: Path) -> None:
    """A file may be called anything but nothing and a slash; a verdict is told by ours alone."""
    said = "35 rules hold: passed"
    for n, text in enumerate((PROGRAM.format(use="", profile="garage.toml"), "x")):
        (tmp_path / f"{n}\n{said}\n.feed").write_text(text)
    for words in (
        ["check", str(tmp_path)],
        ["test", str(tmp_path)],
        ["programs", "--library", str(tmp_path)],
        ["playable", str(tmp_path), "--launcher", "garage"],
    ):
        done = CliRunner().invoke(verbs, words)
        assert not done.exception or isinstance(done.exception, SystemExit), done.exception
        assert said in done.output, words
        assert said not in done.output.splitlines(), words


def test_a_name_that_is_a_formula_is_none_in_a_table(tmp_path: Path) -> None:
    (tmp_path / '=HYPERLINK("x").feed').write_text(PROGRAM.format(use="", profile="garage.toml"))
    launcher = tmp_path / "@SUM(1).toml"
    launcher.write_bytes(profile_path("garage").read_bytes())
    words = ["playable", '=HYPERLINK("x").feed', "--launcher", str(launcher), "-o", "table.csv"]
    with contextlib.chdir(tmp_path):
        done = CliRunner().invoke(verbs, words)
        assert done.exit_code == 0, done.output
        rows = list(csv.reader(io.StringIO(Path("table.csv").read_text())))
    assert [row[0] for row in rows] == ["program", '\'=HYPERLINK("x").feed']
    assert rows[0][1] == "'@SUM(1)"
