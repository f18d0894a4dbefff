"""``tidy`` and ``why`` at the command line."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest
from click.testing import CliRunner

from feedscript.check.check_program import check_program
from feedscript.cli import COMPLETES
from feedscript.cli import pages as pages_module
from feedscript.cli.pages import all_pages
from feedscript.cli.write.tidy import command as fmt
from feedscript.cli.write.why import command as explain
from tests.language.tools.test_pages import PAGES as LANGUAGE
from tests.plan.test_pages import PAGES as PLAN
from tests.safety.rules.test_pages import SHOWN as SAFETY

MESSY = "feedscript 1\nlesson{rest 2 s}\n"
NEAT = "feedscript 1\nlesson { rest 2 s }\n"


def test_a_file_is_formatted_in_place(tmp_path) -> None:
    file = tmp_path / "a.feed"
    file.write_text(MESSY)
    assert CliRunner().invoke(fmt, ["--check", str(file)]).exit_code == 1
    shown = CliRunner().invoke(fmt, ["--diff", str(file)])
    assert shown.exit_code == 1
    assert "-lesson{rest 2 s}\n+lesson { rest 2 s }\n" in shown.output
    assert file.read_text() == MESSY
    assert CliRunner().invoke(fmt, [str(file)]).exit_code == 0
    assert file.read_text() == NEAT
    assert CliRunner().invoke(fmt, ["--check", str(tmp_path)]).exit_code == 0


def test_standard_input_goes_to_standard_output() -> None:
    run = CliRunner().invoke(fmt, ["-"], input=MESSY)
    assert (run.exit_code, run.output) == (0, NEAT)


@pytest.mark.parametrize(
    ("data", "slug"),
    [(b"feedscript 1\nlesson { send }\n", "missing-value"), (b"\xff\xfe", "unreadable-file")],
)
def test_what_cannot_be_formatted_is_left_and_told(tmp_path, data: bytes, slug: str) -> None:
    file = tmp_path / "bad.feed"
    file.write_bytes(data)
    run = CliRunner().invoke(fmt, [str(file)])
    assert run.exit_code == 1
    assert slug in run.output
    assert file.read_bytes() == data
    found = json.loads(CliRunner().invoke(fmt, [str(file), "--format", "json"]).output)
    assert found["files"][0]["diagnostics"][0]["slug"] == slug


def test_a_missing_file_and_no_file() -> None:
    assert CliRunner().invoke(fmt, ["/nowhere/x.feed"]).exit_code == 1
    assert CliRunner().invoke(fmt, []).exit_code == 2


def test_a_page_is_printed() -> None:
    run = CliRunner().invoke(explain, ["pattern-circle"])
    assert run.exit_code == 0
    assert "Wrong:" in run.output
    assert "Corrected:" in run.output


def test_every_page_is_listed() -> None:
    run = CliRunner().invoke(explain, [])
    assert run.exit_code == 0
    assert {line.split()[0] for line in run.output.splitlines()} == set(all_pages())
    plain = json.loads(CliRunner().invoke(explain, ["--format", "json"]).output)["pages"]
    assert {page["slug"] for page in plain} == set(all_pages())


def test_an_unknown_slug_is_answered_with_the_nearest() -> None:
    run = CliRunner().invoke(explain, ["patern-circle"])
    assert run.exit_code == 2
    assert "did you mean `pattern-circle`?" in run.output


@pytest.mark.parametrize(
    ("words", "environment"),
    [
        ([], {COMPLETES: "bash_complete", "COMP_WORDS": "feedscript why out", "COMP_CWORD": "2"}),
        (["why"], {}),
    ],
)
def test_neither_a_completed_slug_nor_the_list_imports_what_reports_them(
    words: list[str], environment: dict[str, str]
) -> None:
    command = [sys.executable, "-X", "importtime", "-m", "feedscript.cli", *words]
    run = subprocess.run(
        command, capture_output=True, text=True, env=os.environ | environment, check=True
    )
    assert "out-of-reach" in run.stdout
    imported = {line.rpartition("|")[2].strip() for line in run.stderr.splitlines()}
    assert "feedscript.cli.pages" in imported
    assert not {"numpy", "feedscript.language", "feedscript.check", "anyio"} & imported


def test_a_page_whose_extra_is_not_installed_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pages_module, "_loaded", lambda _name: None)
    run = CliRunner().invoke(explain, ["out-of-reach"])
    assert run.exit_code == 2
    assert "A feed that cannot reach its place" in run.output
    assert "extra" in run.output


def test_slugs_are_distinct_words_and_every_page_has_prose() -> None:
    for slug, page in all_pages().items():
        assert slug == slug.lower().replace(" ", "-")
        assert page.title
        assert len(page.why.split()) > 5, slug


def test_every_programs_example_of_the_other_floors_is_true(tmp_path) -> None:
    """Wrong examples that are programs raise their slug in the check, corrected ones do not. What
    language, plan and safety say is held to more among their own tests."""
    program = tmp_path / "one-feed.feed"
    elsewhere = {*LANGUAGE, *SAFETY, *(page.slug for page in PLAN)}
    told, untrue = 0, []
    for slug, page in all_pages().items():
        if slug in elsewhere or not page.wrong.startswith("feedscript 1"):
            continue
        program.write_text(page.wrong)  # one of them uses itself
        wrong = {d.slug for d in check_program(program, text=page.wrong).diagnostics}
        fixed = {d.slug for d in check_program(program, text=page.corrected).diagnostics}
        told += 1
        if slug not in wrong or slug in fixed:
            untrue.append((slug, sorted(wrong), sorted(fixed)))
    assert untrue == []
    assert told
