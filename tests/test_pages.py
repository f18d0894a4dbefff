"""What every page says can be done can be done: each fenced block is run, read or accounted for.

The commands of a page run in their order, in a folder that holds what the page told its reader to
save there and, for the pages about lessons, the journal of a reader who has given some. What a test
cannot do (a person at the launcher, hardware, minutes of building) stands in `NEEDS` with the
reason; its command line is still taken apart as the command would.
"""

from __future__ import annotations

import importlib.util
import re
import shlex
import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path

import click
import numpy as np
import pytest
from click.testing import CliRunner

from feedscript.check.check_program import check_program
from feedscript.cli import verbs
from feedscript.journal.store import open_journal
from feedscript.language.examples import program
from feedscript.review.video.sync import tone
from feedscript.session.group.questions import load_questions
from tests.conftest import ROOT
from tests.review.calendar import FIRST_UTC_S, WEEK_S, write_lesson
from tests.review.grey_film import write_film
from tests.review.wav import write_wav

#: Made from sources whose tests run every block in them, or no page for readers.
ELSEWHERE = {
    "feedscript/language/DIAGNOSTICS.md",
    "tests/language/syntax_errors/beginners_mistakes.md",
}
PAGES = sorted(
    page
    for path in ROOT.rglob("*.md")
    if not any(part.startswith(".") for part in path.relative_to(ROOT).parts)
    and (page := path.relative_to(ROOT).as_posix()) not in ELSEWHERE
    and not page.startswith(("out/", "drivers/firmware/build/"))
)

CLEAN_MACHINE = "`make clean-machine` types it, on a Debian that has never seen the project"
PERSON = "a person at the launcher"
LAUNCHER = "a launcher on a cable"
PORTS = "a machine with a way to a launcher: on others it says what is missing, and ends with 3"
GUIDE = "tests/firmware/test_guide_followed.py follows the page, on both compiled images"
MEASURED = "landings that a person has measured"
FILM = "a film of a court; tests/cli/after/test_watch.py makes one"
CHAPTERS = "a film with sound; tests/review/video/test_chapters.py makes one"
PARTS = "its records part, so it ends with 1; tests/bench/test_compare.py does the like"
JOURNAL = "a lesson of this program in the journal; tests/bench/test_compare.py keeps one"
FORTY = "forty rehearsals; tests/bench/trials plays them"
SERVER = "a club's server; tests/club has servers, and courts that join them"
CLUSTER = "a cluster; tests/check/in_pieces/test_many_machines.py types the whole page"
INSTALLED = "downloading; tests/test_wheel.py installs the wheel"
FIRMWARE = "tests/firmware builds and runs the same goal"
#: Commands that a test cannot carry out, and what they need.
NEEDS = {
    "make demo": CLEAN_MACHINE,
    "make test": CLEAN_MACHINE,
    ". .venv/bin/activate": "the tests run in an environment already",
    "feedscript run two-corners.feed --on serial:/dev/ttyUSB0": LAUNCHER,
    "feedscript court-side two-corners.feed --on serial:/dev/ttyUSB0 --court-network": LAUNCHER,
    "feedscript compare monday-one --rehearsal --fault jam=3": PARTS,
    "feedscript compare monday-one --lesson 12": JOURNAL,
    "feedscript withstand monday-one": FORTY,
    "feedscript touched . --with-faults --format json": FORTY,
    "feedscript compare monday-one --capture link.capture": LAUNCHER,
    "feedscript compare monday-one --landings landings.csv": MEASURED,
    "feedscript look-over": PORTS,
    "feedscript run thursday-juniors --on sim:": PERSON,
    "feedscript desk": PERSON,
    "feedscript desk --port 8080": PERSON,
    "feedscript court-side thursday-juniors --on sim: --court-network": PERSON,
    "feedscript court-side --on serial:/dev/ttyUSB0 --court-network": LAUNCHER,
    "feedscript court-side lessons --on serial:/dev/ttyUSB0 --court-network": LAUNCHER,
    "feedscript set-up --on serial:DEVICE --launcher bench.toml --board board.toml": LAUNCHER,
    "feedscript jog --on serial:DEVICE --launcher bench.toml": LAUNCHER,
    "feedscript link-check --on serial:DEVICE --launcher bench.toml": GUIDE,
    "feedscript pair --on serial:DEVICE": GUIDE,
    "feedscript set-up --on serial:DEVICE --launcher garage.toml --board radio.toml": GUIDE,
    "feedscript link-check --on ADDRESS@bridge.toml --launcher garage.toml": GUIDE,
    "feedscript run first-ball.feed --on ADDRESS@bridge.toml": GUIDE,
    "feedscript jog --launcher garage.toml --on serial:/dev/ttyUSB0": LAUNCHER,
    "feedscript tune garage.toml --landings landings.csv": MEASURED,
    "feedscript tune garage.toml --run --on sim: --court-network": PERSON,
    "feedscript tune garage.tuned.toml --landings today.csv --compare": MEASURED,
    "feedscript tune garage.toml --watch lesson.mp4 --camera-at receiver": FILM,
    "feedscript review --sound video.wav --film video.mp4 -o lesson.mkv": CHAPTERS,
    "feedscript watch lesson.mp4 --camera-at receiver -o over.png": FILM,
    "feedscript watch lesson.mp4 --court orange --sure '10 cm'": FILM,
    "feedscript watch lesson.mp4 --camera-at receiver --points-out points.toml": FILM,
    "feedscript watch lesson.mp4 --points points.toml -o over.png": FILM,
    "feedscript watch lesson.mp4 --camera-at receiver --lesson 12 -o landings.csv": FILM,
    "feedscript watch lesson.mp4 --lesson 12 --offset '12.5 s' -o found.json": FILM,
    "feedscript watch lesson.mp4 --lesson 12 -o found.json --clips": FILM,
    "feedscript watch lesson.mp4 --lesson 12 --look -o found.json": FILM,
    "feedscript watch lesson.mp4 --camera-at receiver --lesson 12 --shots --into-journal": FILM,
    "feedscript watch lesson.mp4 --program tuesday-two --at-ball 2 --offset '40 s'"
    " -o found.json": FILM,
    "feedscript watch lesson.mp4 --lesson 12 --by-sound --camera-at receiver": FILM,
    "feedscript watch lesson.m4a --lesson 12 --by-sound --camera-at receiver --offset '12.5 s'"
    " -o heard.json": FILM,
    "drivers/firmware/build/avr drivers/firmware/build/launcher.elf": PERSON,
    "make -C drivers/firmware": FIRMWARE,
    "make -C drivers/firmware hex": FIRMWARE,
    "make -C drivers/firmware rp2040": FIRMWARE,
    "make -C drivers/firmware uf2": FIRMWARE,
    "make -C drivers/firmware check": FIRMWARE,
    "make -C drivers/firmware analyse-chips": FIRMWARE,
    "make -C drivers/firmware misra": FIRMWARE,
    "make -C drivers/firmware fuzz": FIRMWARE,
    "make -C drivers/firmware fuzz-launcher": FIRMWARE,
    "feedscript court-side first.feed --on sim: --court-network": PERSON,
    "feedscript run two.feed --on serial:/dev/ttyUSB0 --on serial:/dev/ttyUSB1": LAUNCHER,
    "feedscript compare lessons/corners.feed --rehearsal --fault jam=3": PARTS,
    "feedscript club serve --bind 0.0.0.0:8420 --name club.example"
    " --tls-certificate club.pem --tls-key club.key": SERVER,
    "feedscript club join https://club.example:8420 --as 'Court 2'": SERVER,
    "make club": SERVER,
    "pip install feedscript": INSTALLED,
    "pip install 'feedscript[desk]'": INSTALLED,
    "pip install 'feedscript[club]'": INSTALLED,
    "pip install 'feedscript[video,tune]'": INSTALLED,
    "python3 -m venv .venv": "minutes of downloading; `make lock` installs from the lock",
    ".venv/bin/python -m pip install --require-hashes -r requirements-dev.txt": "the same",
    ".venv/bin/python -m pip install --no-deps --no-build-isolation --editable .": "the same",
}


def text_of(page: str) -> str:
    return (ROOT / page).read_text(encoding="utf-8")


def fences(page: str, language: str) -> list[str]:
    """The blocks of a page in this language, in their order."""
    return re.findall(rf"^```{language}\n(.*?)^```$", text_of(page), re.M | re.S)


def commands(page: str) -> list[str]:
    """Every command line of a page's blocks, without its remark."""
    lines = "".join(fences(page, "sh")).splitlines()
    return [command for line in lines if (command := re.sub(r"(^|\s+)# .*", "", line).strip())]


#: A page that one test types from its first command to its last.
NEEDS |= dict.fromkeys(commands("shared/guide/how-to/many-machines.md"), CLUSTER)


def all_commands() -> list[str]:
    return [command for page in PAGES for command in commands(page)]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where a reader stands: nothing in it but what the page says to save."""
    reader = tmp_path / "reader"
    reader.mkdir()
    monkeypatch.chdir(reader)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    return reader


def save_what_is_to_be_saved(page: str, folder: Path) -> None:
    saved = r"Save this as `([\w./-]+)`:\n\n```[a-z]*\n(.*?)^```$"
    for name, content in re.findall(saved, text_of(page), re.M | re.S):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(content, encoding="utf-8")


def give_lessons(folder: Path) -> None:
    """The journal of somebody who has given twelve lessons, and a video of the last."""
    journal = open_journal(folder.parent / "data" / "feedscript" / "journal.sqlite")
    journal.rows("PRAGMA synchronous = OFF")  # no ball of these waits for the disk
    for _ in range(11):
        write_lesson(journal, 0, turns=1)
    write_lesson(journal, 1, sync_tone_utc_s=FIRST_UTC_S + WEEK_S + 5.0, turns=1)
    journal.close()
    heard = np.zeros(16_000 * 8)
    heard[16_000 : 16_000 + len(tone(16_000))] += 0.3 * tone(16_000)
    write_wav(folder / "video.wav", heard, 16_000)
    write_film(folder / "video.mp4", 20)


def outcome(command: str, input: str | None = None) -> str:  # noqa: A002
    verb, *words = shlex.split(command)
    assert verb == "feedscript", f"{command}: run it here, or say in NEEDS what it needs"
    done = CliRunner().invoke(verbs, words, input=input)
    assert done.exit_code == 0, f"{command}\n{done.output}"
    return done.output


@pytest.mark.timeout(300)
@pytest.mark.parametrize("page", [page for page in PAGES if commands(page)])
def test_the_commands_of_the_page_do_what_they_say(page: str, folder: Path) -> None:
    save_what_is_to_be_saved(page, folder)
    if page == "feedscript/review/README.md" or "feedscript review" in text_of(page):
        give_lessons(folder)
    for command in commands(page):
        if command in NEEDS or command.startswith("sudo apt-get install "):
            continue
        if command.startswith("python -m "):  # generators: tests of their own hold what they write
            assert importlib.util.find_spec(command.split()[2]), command
            continue
        outcome(command)


def test_what_is_said_to_need_something_stands_on_a_page() -> None:
    assert set(NEEDS) - set(all_commands()) == set()


def parsed(words: list[str]) -> None:
    """Take a command line apart as the command does, without carrying it out."""
    known: click.Command = verbs
    context = click.Context(verbs, info_name="feedscript")
    while isinstance(known, click.Group):
        name, *words = words
        found = known.get_command(context, name)
        assert found is not None, name
        known = found
    known.make_context(known.name, list(words), parent=context)


@pytest.mark.parametrize("command", sorted(c for c in NEEDS if c.startswith("feedscript ")))
def test_a_command_that_needs_somebody_is_written_right(command: str, folder: Path) -> None:
    parsed(shlex.split(command)[1:])


def named_in_the_text() -> Iterator[tuple[str, str]]:
    """Whole commands that stand in a page's sentences."""
    for page in PAGES:
        words = re.sub(r"^```.*?^```$", "", text_of(page), flags=re.M | re.S)
        for command in re.findall(r"`(feedscript [a-z][^`]+)`", words):
            yield page, " ".join(command.split())


def test_commands_in_sentences_are_written_right(monkeypatch: pytest.MonkeyPatch) -> None:
    """Placeholders in capital letters are taken as they stand; a bare verb says only that it is."""
    monkeypatch.setattr("click.core.confirm", lambda *_args, **_kwargs: True)
    wrong = []
    for page, command in sorted(set(named_in_the_text())):
        typed = re.split(r"\s[<>|]", command)[0]  # what follows is the shell's
        words = [word for word in shlex.split(typed)[1:] if word != "…"]
        stand_in = [re.sub(r"^N$", "7", word) for word in words]
        bare = all(word.isalpha() or "-" in word.strip("-") for word in words) and len(words) <= 2
        try:
            parsed([*stand_in, "--help"] if bare else stand_in)
        except (click.exceptions.Exit, click.MissingParameter):
            continue  # a sentence may name an option without the rest of its line
        except (click.ClickException, AssertionError) as error:
            wrong.append(f"{page}: {command}: {getattr(error, 'message', error)}")
    assert not wrong, "\n".join(wrong)


def test_modules_and_files_in_sentences_are_there() -> None:
    tops = "tests|feedscript|drivers|simulator|shared|programs"
    missing = []
    for page in PAGES:
        words = re.sub(r"^```.*?^```$", "", text_of(page), flags=re.M | re.S)
        for module in re.findall(r"`python -m ([\w.]+)", words):
            if importlib.util.find_spec(module) is None:
                missing.append(f"{page}: {module}")
        for name in re.findall(rf"`((?:{tops})/[\w./*-]+)`", words):
            if not list(ROOT.glob(name.rstrip("/"))):
                missing.append(f"{page}: {name}")
    assert not missing, "\n".join(missing)


def test_every_block_says_what_it_is_written_in() -> None:
    known = {"sh", "text", "toml", "ebnf", "feedscript", "feedscript items", "feedscript steps"}
    known |= {"feedscript feed", "python", "yaml", "lua", "vim", "elisp"}
    for page in PAGES:
        openings = re.findall(r"^```(.*)$", text_of(page), re.M)[::2]
        assert set(openings) <= known, page


@pytest.mark.parametrize("page", [page for page in PAGES if fences(page, "python")])
def test_blocks_of_python_run(page: str, folder: Path) -> None:
    known: dict[str, object] = {}
    for block in fences(page, "python"):
        exec(compile(block, page, "exec"), known)


@pytest.mark.parametrize("page", ["programs/launchers/README.md", "feedscript/safety/README.md"])
def test_lines_of_a_program_are_read(page: str, folder: Path) -> None:
    """Those of the language's own page are read by tests/language/tools/test_reference.py."""
    for lines in fences(page, "feedscript items"):
        whole = program(more=lines)
        if "launcher {" in lines:
            whole = re.sub(r"^launcher .*$", "", program(more=""), flags=re.M) + lines
        found = check_program(folder / "page.feed", text=whole).diagnostics
        assert [one.slug for one in found if one.severity.value == "error"] == [], found


def test_the_questions_of_the_page_are_taken(folder: Path) -> None:
    (block,) = fences("feedscript/console/README.md", "toml")
    (folder / "questions.toml").write_text(block, encoding="utf-8")
    questions, wrong = load_questions(folder / "questions.toml")
    assert wrong == ()
    assert all(questions[key] == tuple(texts) for key, texts in tomllib.loads(block).items())


def test_packages_that_a_page_names_are_those_that_make_installs() -> None:
    listed = re.search(
        r"^DEBIAN_PACKAGES := ((?:.*\\\n)*.*)$", (ROOT / "Makefile").read_text(), re.M
    )
    assert listed is not None
    installed = set(listed[1].replace("\\\n", " ").split())
    for command in all_commands():
        if command.startswith("sudo apt-get install "):
            assert set(command.split()[3:]) <= installed, command


def test_every_command_speaks_to_machines() -> None:
    """As the README says: all but the editor's, which speaks a protocol of its own, and those that
    write for a shell and for `man`."""
    silent = []
    context = click.Context(verbs)
    waiting = [((name,), verbs.get_command(context, name)) for name in verbs.list_commands(context)]
    while waiting:
        name, found = waiting.pop()
        if isinstance(found, click.Group):
            waiting += [((*name, word), below) for word, below in found.commands.items()]
        elif found is not None and not any("--format" in each.opts for each in found.params):
            silent.append(name)
    assert sorted(silent) == [("completion",), ("language-server",), ("manual",)]


def test_shipped_profiles_need_no_path(folder: Path) -> None:
    shutil.copy(ROOT / "programs" / "thursday-juniors.feed", folder / "mine.feed")
    outcome("feedscript draw --envelope --launcher turning-head -o reach.svg")
    outcome("feedscript check mine.feed --launcher turning-head.toml")
    outcome("feedscript bundle -o report.zip --no-journal --launcher garage")


def test_faults_may_stand_in_one_list(folder: Path) -> None:
    told = outcome("feedscript rehearse thursday-juniors --fault lost=0.01,ppm=40 --format json")
    assert '"ok": true' in told


def test_pictures_of_a_lesson_without_records_say_that_there_are_none(folder: Path) -> None:
    outcome("feedscript rehearse thursday-juniors --journal plain.sqlite")
    told = outcome("feedscript review --journal plain.sqlite --charts charts")
    assert "nothing to draw" in told
