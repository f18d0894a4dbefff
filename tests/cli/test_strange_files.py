"""A name that leads to no file: a pipe, a device, a link to itself, no possible name.

Each is the person's mistake, said at once with its place and fix; nothing waits, nothing breaks.
"""

from __future__ import annotations

import contextlib
import csv
import io
import os
import resource
import socket
from collections.abc import Iterator
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


@pytest.mark.parametrize("named", ["garage.toml", "garage"])
@pytest.mark.parametrize("leads_to", ["nowhere.toml", "garage.toml", "../mine.toml"])
def test_no_shipped_profile_in_place_of_one_s_own(
    leads_to: str, named: str, tmp_path: Path
) -> None:
    """A link to a tuned profile that lies elsewhere, or is gone, is not the invented example."""
    (tmp_path / "mine.toml").write_bytes(profile_path("garage").read_bytes())
    home = tmp_path / "home"
    home.mkdir()
    (home / "garage.toml").symlink_to(leads_to)
    program = home / "named.feed"
    program.write_text(PROGRAM.format(use="", profile=named))
    assert "no-such-profile" in told(tmp_path, "check", str(program))


def test_one_s_own_profile_goes_before_a_shipped_one_also_without_its_ending(
    tmp_path: Path,
) -> None:
    (tmp_path / "garage.toml").write_text("no profile")
    program = tmp_path / "named.feed"
    program.write_text(PROGRAM.format(use="", profile="garage"))
    assert str(tmp_path / "garage.toml") in told(tmp_path, "check", str(program))


@pytest.mark.parametrize("named", ["feedscript.toml", "config.toml"])
def test_settings_that_are_there_and_cannot_be_read_are_not_passed_over(
    strange: str, named: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another launcher than the wished one would stand in without a word."""
    if not os.path.lexists(strange):
        return  # a name too long to be there
    mine = tmp_path / "config" / "feedscript"
    (mine if named == "config.toml" else tmp_path / "court").mkdir(parents=True)
    court = mine if named == "config.toml" else tmp_path / "court"
    os.rename(strange, court / named)
    if os.path.islink(court / named) and os.readlink(court / named) == strange:
        (court / named).unlink()
        (court / named).symlink_to(named)
    (tmp_path / "feedscript.toml").write_text('launcher = "three-wheels"\n')
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.chdir(court)
    assert "settings-file" in told(tmp_path, "programs")


@pytest.mark.timeout(20)
def test_as_a_certificate(strange: str, good: str, tmp_path: Path) -> None:
    joins = ("club", "join", "https://127.0.0.1:9", "--code", "A", "--club-certificate", strange)
    done = CliRunner().invoke(verbs, joins)
    assert "the club's certificate cannot be read" in done.output or os.path.isdir(strange)
    serves = ("court-side", good, "--on", "sim:", "--yes-i-am-behind-the-launcher")
    done = CliRunner().invoke(verbs, [*serves, "--tls-certificate", strange, "--tls-key", strange])
    assert done.exit_code in (2, 3), done.output
    assert "certificate" in done.output


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


def test_a_file_too_long_for_a_program_is_left_as_it_is(tmp_path: Path) -> None:
    long = tmp_path / "long.feed"
    long.write_bytes(b"# invented\n" * 50_000)
    assert "longer than" in told(tmp_path, "tidy", str(long))
    assert long.stat().st_size == 550_000


@pytest.mark.parametrize("kept", ["good.feed", "mine.toml", "autumn.season", "kept.sqlite"])
@pytest.mark.parametrize("linked", [False, True])
def test_nothing_is_written_over_what_no_command_makes_anew(
    kept: str, linked: bool, good: str, tmp_path: Path
) -> None:
    """A name typed in the wrong place costs nobody a program, a profile, a season, a journal."""
    there = tmp_path / kept
    if not there.exists():
        there.write_text("mine")
    held, named = there.read_bytes(), there
    if linked:
        named = tmp_path / "plan.json"
        named.symlink_to(there)
    for words in (
        ["certify", good, "-o"],
        ["bundle", "--no-journal", "-o"],
        ["check", good, "--log"],
        ["test", good, "--draws", "20", "--jobs", "1", "--junit"],
        ["compare", good, "--junit"],
        ["withstand", good, "--jobs", "1", "--junit"],
    ):
        done = CliRunner().invoke(verbs, [*words, str(named)])
        assert done.exit_code == 2, (words, done.output)
        assert "lies there already" in " ".join(done.output.split()), words
        assert there.read_bytes() == held, words


@contextlib.contextmanager
def full_disk() -> Iterator[None]:
    """No file grows past 100 bytes: each write of more fails, as on a full disk (setrlimit(2))."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_a_program_that_cannot_be_written_neatly_stays_whole(good: str, tmp_path: Path) -> None:
    untidy = Path(good).read_text().replace("court {", "court{")
    Path(good).write_text(untidy)
    with full_disk():
        said = told(tmp_path, "tidy", good)
    assert "cannot be written" in said
    assert "formatted" not in said
    assert Path(good).read_text() == untidy
    assert list(tmp_path.iterdir()) == [Path(good)]


def test_what_was_kept_of_a_program_stays_whole_where_the_new_cannot_be_written(
    good: str, tmp_path: Path
) -> None:
    kept = tmp_path / "kept"
    done = CliRunner().invoke(verbs, ["baseline", "keep", good, "--kept", str(kept)])
    assert done.exit_code == 0, done.output
    held = (kept / "good.json").read_bytes()
    Path(good).write_text(Path(good).read_text().replace("80 km/h", "81 km/h"))
    with full_disk():
        assert "cannot be written" in told(
            tmp_path, "baseline", "accept", good, "--kept", str(kept)
        )
    assert (kept / "good.json").read_bytes() == held
    assert [one.name for one in kept.iterdir()] == ["good.json"]


def test_a_plan_is_written_over_the_last_one(good: str, tmp_path: Path) -> None:
    for _ in range(2):
        done = CliRunner().invoke(verbs, ["certify", good, "-o", str(tmp_path / "plan.json")])
        assert done.exit_code == 0, done.output


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="there is no full device")
def test_a_log_on_a_full_disk_is_told_once_and_the_work_goes_on(good: str) -> None:
    done = CliRunner().invoke(verbs, ["check", good, "--log", "/dev/full"])
    assert done.exit_code == 0, done.output
    assert done.stderr.count("/dev/full cannot be written") == 1
    assert "Traceback" not in done.output


@pytest.mark.parametrize("leads_to", ["nowhere/at/all", "out", "/dev/full"])
def test_a_copy_into_what_is_no_folder(leads_to: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.symlink_to(leads_to)
    told(tmp_path, "programs", "--copy", "thursday-juniors", "-o", str(out))
    told(tmp_path, "profiles", "--copy", "garage", "-o", str(out))
