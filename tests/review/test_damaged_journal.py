"""Whatever bytes of a journal are damaged: a diagnostic or a result, no traceback, no loss."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from click import Command
from click.testing import CliRunner

from feedscript.cli.after.journal import command as journal
from feedscript.cli.after.review import command as review

PAGE = 4096

READS: tuple[tuple[Command, tuple[str, ...]], ...] = (
    (review, ("-o", "{out}/report.html")),
    (review, ("--player", "Ash", "-o", "{out}/sheet.csv")),
    (journal, ("list",)),
    (journal, ("export", "-o", "{out}/all.json")),
    (journal, ("back-up", "-o", "{out}/{seed}-copy.sqlite")),
)
WRITES: tuple[tuple[Command, tuple[str, ...]], ...] = (
    (journal, ("forget", "Cedar")),
    (journal, ("delete", "1", "--yes")),
)


def damaged(whole: bytes, seed: int) -> bytes:
    chance, content = random.Random(seed), bytearray(whole)
    at = chance.randrange(len(content) - PAGE)
    match seed % 5:
        case 0:
            for _ in range(chance.choice([1, 5, 50])):
                content[chance.randrange(len(content))] ^= 1 << chance.randrange(8)
        case 1:
            length = chance.choice([1, 100, PAGE])
            content[at : at + length] = bytes(length)
        case 2:
            del content[at:]
        case 3:
            one, two = (PAGE * chance.randrange(len(content) // PAGE) for _ in range(2))
            kept = content[one : one + PAGE]
            content[one : one + PAGE] = content[two : two + PAGE]
            content[two : two + PAGE] = kept
        case _:
            content[at : at + 8] = chance.choice([b"splendid", b'{"a":[1,', b"\xff" * 8])
    return bytes(content)


def _check(whole: bytes, seed: int, folder: Path) -> None:
    path = folder / "journal.sqlite"
    content = damaged(whole, seed)
    for command, words in (*READS, *WRITES):
        for beside in folder.glob("journal.sqlite*"):
            beside.unlink()
        path.write_bytes(content)
        given = [word.format(out=folder, seed=seed) for word in words]
        done = CliRunner().invoke(command, [*given, "--journal", str(path)])
        assert done.exit_code in (0, 1), (seed, words, done.exception)
        assert isinstance(done.exception, SystemExit | None), (seed, words, done.exception)
        if done.exit_code == 1 or (command, words) in READS:
            assert path.read_bytes() == content, (seed, words)


@pytest.mark.parametrize("seed", range(15))
def test_damage_is_reported_and_makes_nothing_worse(
    seed: int, calendar: Path, tmp_path: Path
) -> None:
    _check(calendar.read_bytes(), seed, tmp_path)


@pytest.mark.long
@pytest.mark.timeout(600)
def test_a_thousand_damages(calendar: Path, tmp_path: Path) -> None:
    whole = calendar.read_bytes()
    for seed in range(1000):
        _check(whole, seed, tmp_path)
