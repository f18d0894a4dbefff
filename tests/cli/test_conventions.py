"""What one may expect of any command of a terminal: colour, quiet, log, pipes, help, completion."""

from __future__ import annotations

import logging
import os
import re
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.shell_completion import CompletionItem
from click.testing import CliRunner, Result

from feedscript.cli import COMMANDS, verbs
from feedscript.cli.stages import STAGES
from feedscript.cli.write.completion import SHELLS, VARIABLE, PowerShellComplete
from feedscript.cli.write.manual import all_pages
from feedscript.documents.shipped import schema_text
from feedscript.shipped import shipped_profiles, shipped_programs

PROGRAM = shipped_programs()["thursday-juniors"]
ESCAPE = "\x1b["


def typed(*words: str, stdin: bytes | str = "", color: bool = False, **variables: str) -> Result:
    return CliRunner(env=variables).invoke(verbs, words, input=stdin, color=color)


@pytest.fixture
def broken(tmp_path: Path) -> Path:
    path = tmp_path / "broken.feed"
    path.write_text("feedscript 1\n", encoding="utf-8")
    return path


# -- colour


@pytest.fixture(autouse=True)
def colours_as_they_were(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("NO_COLOR", "FORCE_COLOR"):
        monkeypatch.setenv(name, "")  # so that it is put back
        monkeypatch.delenv(name)


def test_a_terminal_is_given_colours_unless_somebody_wants_none(broken: Path) -> None:
    """``color`` stands for a terminal here."""
    assert ESCAPE in typed("check", str(broken), color=True).output
    assert ESCAPE not in typed("check", str(broken), color=True, NO_COLOR="1").output
    assert ESCAPE in typed("check", str(broken), color=True, NO_COLOR="").output
    assert ESCAPE not in typed("check", "--color", "never", str(broken), color=True).output
    assert ESCAPE not in typed("--color", "never", "check", str(broken), color=True).output


def test_a_pipe_is_given_colours_only_where_they_are_asked_for(broken: Path) -> None:
    words = [sys.executable, "-m", "feedscript.cli", "check", str(broken)]
    environment = {**os.environ, "NO_COLOR": "1"}

    def told(*more: str) -> bytes:
        return subprocess.run([*words, *more], capture_output=True, env=environment).stderr

    assert b"\x1b[" not in told()
    assert b"\x1b[" in told("--color", "always")  # what is typed now is meant more than a variable


# -- a mistyped verb


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        (("chek",), "did you mean `check`?"),
        (("court_side", "x.feed"), "did you mean `court-side`?"),
        (("club", "serv"), "did you mean `serve`?"),
        (("monday.feed",), "to have the program checked, type `feedscript check monday.feed`"),
        (("help",), "`feedscript --help` lists all"),
        (("club", "monday.feed"), "`feedscript club --help` lists all"),
    ],
)
def test_a_word_that_is_no_command_is_told_with_what_was_meant(
    words: tuple[str, ...], meant: str
) -> None:
    told = CliRunner().invoke(verbs, words, prog_name="feedscript")
    assert told.exit_code == 2
    assert f"is no command; {meant}" in told.stderr


# -- quiet, and the log


def test_quiet_says_only_what_is_wrong(broken: Path) -> None:
    fine = typed("check", "-q", str(PROGRAM))
    assert (fine.exit_code, fine.output) == (0, "")
    wrong = typed("-q", "check", str(broken))
    assert wrong.exit_code == 1
    assert "Error:" in wrong.stderr
    assert wrong.stdout == ""


def test_quiet_keeps_what_is_for_machines() -> None:
    assert typed("check", "-q", "--format", "json", str(PROGRAM)).stdout.startswith("{")


def test_the_log_tells_what_was_done(tmp_path: Path) -> None:
    once = typed("check", "-v", str(PROGRAM))
    assert re.search(r"feedscript: .*check .*Python", once.stderr)
    assert "feedscript: done after" in once.stderr
    assert "feedscript.files" not in once.stderr
    twice = typed("check", "-vv", str(PROGRAM))
    assert f"feedscript.files: reads {PROGRAM}" in twice.stderr
    log = tmp_path / "log.txt"
    into = typed("check", "--log", str(log), str(PROGRAM))
    assert "feedscript:" not in into.stderr
    assert "done after" in log.read_text()
    assert logging.getLogger("feedscript").handlers == []


def test_a_log_that_cannot_be_written_is_wrong_usage(tmp_path: Path) -> None:
    told = typed("check", "--log", str(tmp_path / "no" / "log"), str(PROGRAM))
    assert (told.exit_code, "cannot be written" in told.stderr) == (2, True)


# -- pipes


@pytest.mark.parametrize("command", ["check", "rehearse", "test --draws 1000"])
def test_a_program_comes_by_a_pipe(command: str) -> None:
    text = shipped_programs()["steady-improver"].read_bytes()
    told = typed(*command.split(), "-", stdin=text)
    assert told.exit_code == 0, told.output
    assert "(standard input)" in told.output or command == "rehearse"


def test_a_mistake_in_a_pipe_is_told_with_its_place() -> None:
    told = typed("check", "-", stdin=b"feedscript 1\nfeed {")
    assert told.exit_code == 1
    assert "in (standard input), line 2" in told.stderr


@pytest.mark.parametrize(
    ("words", "beginning"),
    [
        ("certify {} -o -", b"{"),
        ("draw {} -o -", b"<svg"),
        ("draw {} -o -.png", b"\x89PNG\r\n\x1a\n"),
        ("draw {} --sheet -o -.html", b"<!doctype html>"),
        ("check {} -o -", b"{"),
        ("check {} -o -.html", b"<!"),
    ],
)
def test_what_is_written_goes_into_a_pipe_and_words_beside_it(
    words: str, beginning: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    told = typed(*words.format(PROGRAM).split())
    assert told.exit_code == 0, told.output
    assert told.stdout_bytes.startswith(beginning)
    assert os.listdir(tmp_path) == []
    assert "feedscript-" not in told.stderr  # the folder where it was made is nobody's matter


def test_the_same_bytes_go_into_a_pipe_and_a_file(tmp_path: Path) -> None:
    typed("certify", str(PROGRAM), "-o", str(tmp_path / "plan.json"))
    piped = typed("certify", str(PROGRAM), "-o", "-")
    assert piped.stdout_bytes == (tmp_path / "plan.json").read_bytes()


def test_what_is_refused_is_not_written(broken: Path) -> None:
    told = typed("certify", str(broken), "-o", "-")
    assert (told.exit_code, told.stdout) == (1, "")


def test_two_things_do_not_go_into_one_pipe() -> None:
    told = typed("certify", str(PROGRAM), "-o", "-", "--format", "json")
    assert (told.exit_code, told.stdout) == (2, "")
    assert "would both write" in told.stderr


def test_what_is_only_a_file_has_a_name(tmp_path: Path) -> None:
    told = typed("bundle", "-o", "-", "--no-journal")
    assert (told.exit_code, "into a file only" in told.stderr) == (2, True)


# -- names


def test_profiles_are_listed_and_copied(tmp_path: Path) -> None:
    listed = typed("profiles").stdout
    assert {line.split()[0] for line in listed.splitlines()} == {
        Path(name).stem for name in shipped_profiles()
    }
    typed("profiles", "--copy", "garage", "-o", str(tmp_path))
    copy = tmp_path / "garage.toml"
    first, _, rest = copy.read_bytes().partition(b"\n")
    assert rest == shipped_profiles()["garage.toml"].read_bytes()
    assert first == b"#:schema ./profile.schema.json"
    assert (tmp_path / "profile.schema.json").read_text("utf-8") == schema_text("profile")
    again = typed("profiles", "--copy", "garage.toml", "-o", str(tmp_path))
    assert (again.exit_code, "left as it is" in again.stderr) == (2, True)
    none = typed("profiles", "--copy", "garge", "-o", str(tmp_path))
    assert (none.exit_code, "garage" in none.stderr) == (2, True)


@pytest.mark.parametrize("name", ["garage", "garage.toml", "launchers/garage.toml"])
def test_a_profile_goes_by_its_name(name: str) -> None:
    assert typed("check", "-q", str(PROGRAM), "--launcher", name).exit_code == 0


@pytest.mark.parametrize(
    "name", ["thursday-juniors", "thursday-juniors.feed", "programs/thursday-juniors.feed"]
)
def test_a_program_goes_by_its_name(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert typed("check", "-q", name).exit_code == 0


# -- settings


@pytest.fixture
def project(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder inside a project, away from every settings file of the machine."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    for name in ("LAUNCHER", "LANGUAGE", "LIBRARY"):
        monkeypatch.delenv(f"FEEDSCRIPT_{name}", raising=False)
    inside = tmp_path / "project" / "inside"
    inside.mkdir(parents=True)
    monkeypatch.chdir(inside)
    return inside


PLAIN = """feedscript 1
title "Plain"
court    { surface hard }
balls    { type 2   load 30 }
launcher { stands 1 m behind centre mark }
feed deep { land 3 m inside baseline, 1.5 m inside ad sideline  speed 80 km/h  within 1 m }
lesson { show speed of deep }
"""


def launched_by(project: Path, *more: str) -> str:
    program = project / "plain.feed"
    program.write_text(PLAIN, encoding="utf-8")
    told = typed("certify", str(program), "-o", "-", *more)
    found = re.search(r'"profile_name":"([^"]*)"', told.stdout)
    assert found is not None, told.output
    return found[1]


def test_an_option_counts_first_then_the_environment_the_project_the_user(
    project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    user = Path(os.environ["XDG_CONFIG_HOME"]) / "feedscript" / "config.toml"
    assert launched_by(project) == "garage.toml"
    user.parent.mkdir(parents=True)
    user.write_text('launcher = "three-wheels"\n')
    assert launched_by(project) == "three-wheels.toml"
    (project.parent / "feedscript.toml").write_text('launcher = "single-wheel"\n')
    assert launched_by(project) == "single-wheel.toml"
    monkeypatch.setenv("FEEDSCRIPT_LAUNCHER", "turning-head")
    assert launched_by(project) == "turning-head.toml"
    assert launched_by(project, "--launcher", "garage") == "garage.toml"


def test_a_setting_takes_no_launcher_from_a_program_that_names_its_own(project: Path) -> None:
    (project / "feedscript.toml").write_text('launcher = "three-wheels"\n')
    program = project / "named.feed"
    program.write_text(PLAIN.replace("mark }", 'mark   profile "garage.toml" }'), encoding="utf-8")
    assert '"profile_name":"garage.toml"' in typed("certify", str(program), "-o", "-").stdout


def test_a_project_s_own_profile_lies_beside_its_settings(project: Path) -> None:
    mine = project.parent / "mine.toml"
    mine.write_bytes(shipped_profiles()["garage.toml"].read_bytes())
    (project.parent / "feedscript.toml").write_text('launcher = "mine.toml"\n')
    assert launched_by(project) == "mine.toml"


def test_a_command_shows_what_is_set_and_where(project: Path) -> None:
    file = project.parent / "feedscript.toml"
    file.write_text('language = "de"\nlibrary = "ours"\n')
    told = typed("settings").stdout
    assert f"language  de  ({file}" in told
    assert f"library   {project.parent / 'ours'}" in told
    assert "garage  (not set; variable FEEDSCRIPT_LAUNCHER)" in told


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ('launchr = "garage"', "did you mean `launcher`"),
        ("language = 3", "text in double quotes"),
        ("language = [", "feedscript.toml"),
    ],
)
def test_settings_that_cannot_be_kept_stop_every_command(
    project: Path, text: str, why: str
) -> None:
    (project / "feedscript.toml").write_text(text)
    for words in (["check", str(PROGRAM)], ["programs"]):
        told = typed(*words)
        assert (told.exit_code, why in told.stderr) == (2, True), told.output
    assert typed("settings").exit_code == 2
    assert typed("why", "settings-file").exit_code == 0


# -- help


def test_help_is_told_without_what_the_commands_need() -> None:
    words = "import sys\nfrom feedscript.cli import main\nsys.argv = ['feedscript', sys.argv[1]]\n"
    words += "try:\n    main()\nfinally:\n    print(*sys.modules, file=sys.stderr)"
    for option in ("--help", "--version"):
        done = subprocess.run([sys.executable, "-c", words, option], capture_output=True, text=True)
        loaded = set(done.stderr.split())
        assert done.returncode == 0
        assert not loaded & {"numpy", "shapely", "scipy", "anyio", "rich", "serial", "sqlite3"}
        assert not [name for name in loaded if re.match(r"feedscript\.cli\.\w+\.", name)]


def test_every_command_stands_in_its_stage_in_a_few_words() -> None:
    listed = [verb for words in STAGES.values() for verb in words]
    assert sorted(listed) == sorted(COMMANDS)
    for words in (words for each in STAGES.values() for words in each.values()):
        assert 10 < len(words) < 62
    told = typed("--help").output
    assert [line[:-1] for line in told.splitlines() if line[:-1] in STAGES] == list(STAGES)


# -- completion and manual


@pytest.mark.parametrize("shell", SHELLS)
def test_a_shell_is_told_how_to_complete(shell: str) -> None:
    told = typed("completion", shell)
    assert told.exit_code == 0
    assert VARIABLE in told.stdout
    assert "%(" not in told.stdout


@pytest.mark.parametrize("shell", ["bash", "powershell"])
@pytest.mark.parametrize(
    ("line", "word", "found"),
    [
        ("feedscript cou", "cou", {"court-side"}),
        ("feedscript check --lau", "--lau", {"--launcher"}),
        ("feedscript club in", "in", {"invite"}),
    ],
)
def test_the_program_completes_what_is_begun(
    shell: str, line: str, word: str, found: set[str]
) -> None:
    asked = {
        VARIABLE: f"{shell}_complete",
        "COMP_WORDS": line,
        "COMP_WORD": word,
        "COMP_CWORD": str(len(line.split()) - 1),
    }
    words = [sys.executable, "-c", "from feedscript.cli import main; main()"]
    done = subprocess.run(words, capture_output=True, text=True, env={**os.environ, **asked})
    told = {
        re.split(r"[\t,]", one)[-1 if shell == "bash" else 0] for one in done.stdout.split("\n")
    }
    assert told - {""} == found, done.stderr


@pytest.mark.parametrize("shell", SHELLS)
@pytest.mark.parametrize(
    ("before", "word", "found"),
    [
        ("rehearse", "thursday-jun", {"thursday-juniors"}),
        ("run --launcher", "garag", {"garage"}),
        ("programs --copy", "my/", {"my/mine", "my/spring"}),
        ("profiles --copy", "garag", {"garage"}),
        ("season", "my/", {"my/spring"}),
        ("check", "my/", {"my/mine", "my/spring"}),
        ("why", "never-h", {"never-holds"}),
    ],
)
def test_every_shell_is_offered_the_names_that_may_stand_there(
    shell: str,
    before: str,
    word: str,
    found: set[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for file in ("mine.feed", "spring.season"):
        (tmp_path / file).touch()
    monkeypatch.setenv("FEEDSCRIPT_LIBRARY", str(tmp_path))
    assert {one.value for one in offered(shell, before, word) if one.type == "plain"} == found


def offered(shell: str, before: str, word: str) -> list[CompletionItem]:
    return SHELLS[shell](verbs, {}, "feedscript", VARIABLE).get_completions(before.split(), word)


@pytest.mark.parametrize(
    ("shell", "more"),
    [("bash", {"thursday.feed"}), ("powershell", {"thursday.feed", f"thursdays{os.sep}"})],
)
def test_files_are_offered_beside_names(
    shell: str, more: set[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "thursdays").mkdir()
    (tmp_path / "thursday.feed").touch()
    found = {one.value for one in offered(shell, "check", "thursday")}
    assert found == {one for one in shipped_programs() if one.startswith("thursday")} | more


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_other_shells_look_for_files_themselves(shell: str) -> None:
    assert offered(shell, "check", "thursday")[0].type == "file"


def test_bash_believes_what_it_is_given() -> None:
    script = typed("completion", "bash").stdout
    done = subprocess.run(["bash", "-n"], input=script, text=True, capture_output=True)
    assert (done.returncode, done.stderr) == (0, "")
    assert PowerShellComplete.name in SHELLS


def test_every_command_has_its_page(tmp_path: Path) -> None:
    assert typed("manual", "-o", str(tmp_path)).exit_code == 0
    pages = {path.stem: path.read_text("utf-8") for path in tmp_path.glob("*.1")}
    assert {f"feedscript-{verb}" for verb in COMMANDS} | {"feedscript"} <= set(pages)
    assert pages == all_pages(verbs)
    for name, page in pages.items():
        for section in ("NAME", "SYNOPSIS", "DESCRIPTION", "OPTIONS", "EXIT STATUS"):
            assert f"\n.SH {section}\n" in page, name
        requests = {line.split()[0] for line in page.splitlines() if line.startswith(".")}
        assert requests <= {".TH", ".SH", ".PP", ".TP", ".B", ".BR"}, name
    assert "\\-\\-launcher" in pages["feedscript-check"]
    assert isinstance(verbs, click.Group)
