"""``feedscript certify``: the certified plan as a file."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import msgspec
from click.testing import CliRunner

from feedscript.cli.prove.certify import command
from feedscript.plan.canonical import canonical_bytes
from feedscript.plan.model import Plan
from feedscript.shipped import shipped_folder

JUNIORS = str(shipped_folder() / "thursday-juniors.feed")


def run(*words: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(command, words)
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result.exit_code, result.stdout, result.stderr


def test_the_plan_is_written_with_its_certificate_and_its_hash_is_told(tmp_path: Path):
    out = tmp_path / "plan.json"
    code, told, _ = run(JUNIORS, "-o", str(out), "--format", "json")
    assert code == 0
    written = out.read_bytes()
    plan = msgspec.json.decode(written, type=Plan)
    assert plan.certificate is not None
    assert canonical_bytes(plan) == written
    assert json.loads(told)["sha256"] == hashlib.sha256(written).hexdigest()


def test_the_seed_of_the_command_line_is_in_the_plan(tmp_path: Path):
    out = tmp_path / "plan.json"
    run(JUNIORS, "-o", str(out), "--seed", "77")
    assert msgspec.json.decode(out.read_bytes(), type=Plan).seed == 77


def test_a_program_that_is_refused_has_no_plan(tmp_path: Path):
    program = tmp_path / "wrong.feed"
    program.write_text("feedscript 1\nlesson { send nobody after 4 s }\n")
    out = tmp_path / "plan.json"
    code, _, err = run(str(program), "-o", str(out))
    assert code == 1
    assert not out.exists()
    assert "Error: " in err


def test_a_file_that_cannot_be_written_is_wrong_usage(tmp_path: Path):
    code, _, err = run(JUNIORS, "-o", str(tmp_path / "no" / "plan.json"))
    assert code == 2
    assert "cannot be written" in err
