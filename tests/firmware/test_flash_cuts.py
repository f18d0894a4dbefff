"""Power that fails in the middle of a change of the RP2040's flash: old or new is stored."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

import pytest

from tests.firmware.far_end import BUILD
from tests.firmware.plain_host import NUMBERS, PROFILE_HASH, body_of, plain

NO_HASH = "0" * 64
#: What is set, in turn, each followed by a hash that makes it valid.
CHANGED = {1: (3000, 4000), 5: (2000, 3000), 10: (2000, 1000), 17: (20000, 30000)}
ASKED = tuple(number for number in NUMBERS if number < 64)
#: A number behind the last one is an old line's: commands come after every question.
AFTER_ALL = 100
RESET = "reset"
STARTED_BY_RESET = "17"
#: Which rows of the log are looked at, counted from the newest: what is written shifts them all.
ROWS = (0, 1, 2, 30, 31)
#: Numbers and hash.
Stored = tuple[dict[int, int], str]


def commands(rounds: int) -> list[tuple[str, Stored]]:
    """Each command, with what is stored before it."""
    numbers, profile = {number: NUMBERS[number] for number in ASKED}, PROFILE_HASH
    made: list[tuple[str, Stored]] = [("OPEN 1 1", (dict(numbers), profile))]
    for turn in range(rounds):
        number = list(CHANGED)[turn % len(CHANGED)]
        value = CHANGED[number][(turn // len(CHANGED)) % 2]
        made.append((f"SET {number} {value}", (dict(numbers), profile)))
        numbers[number], profile = value, f"{turn + 1:02x}" * 32
        made.append((f"HASH {profile}", (dict(numbers), NO_HASH)))
    return made


def allowed(command: str, before: Stored) -> list[Stored]:
    """What may be stored when power fails under a command: before it, after it, never a mixture.

    The hash that makes numbers valid is forgotten before a number changes: between the two the
    launcher cannot be armed.
    """
    numbers, _ = before
    verb, *words = command.split(" ")
    if verb == "HASH":
        return [before, (numbers, words[0])]
    changed = {**numbers, int(words[0]): int(words[1])}
    return [before, (numbers, NO_HASH), (changed, NO_HASH)]


def stored(answers: list[str]) -> Stored:
    """Numbers and hash as the launcher says them."""
    told = [body.split(" ") for line in answers if (body := body_of(line)) and " OK " in body]
    numbers = {int(words[2]): int(words[3]) for words in told if len(words) == 4}
    (profile,) = (words[2] for words in told if len(words) == 3)
    return numbers, profile


def cut_everywhere(
    memory: Path, acts: list[str], asked: list[str], *, dearest: bool
) -> list[dict[str, Any]]:
    """Every point at which the power failed; an act is a command, or the pin that resets."""
    plan = {
        "commands": [
            text if text == RESET else plain(f"{AFTER_ALL + i} {text}").decode()
            for i, text in enumerate(acts)
        ],
        "questions": [plain(f"{1 + i} {text}").decode() for i, text in enumerate(asked)],
        "dearest": dearest,
    }
    done = subprocess.run(
        ["node", BUILD / "emulator" / "cuts.mjs", BUILD / "launcher.bin", memory],
        input=json.dumps(plan), capture_output=True, text=True, check=True,
    )  # fmt: skip
    return [json.loads(line) for line in done.stdout.splitlines()]


@pytest.mark.timeout(1800)  # the emulated chip needs minutes on a busy machine
@pytest.mark.parametrize(
    ("rounds", "dearest", "least"),
    [(20, True, 5), pytest.param(105, False, 500, marks=pytest.mark.long)],
)
def test_what_is_stored_is_old_or_new_wherever_the_power_fails(
    rounds: int, dearest: bool, least: int, memories: dict[str, Path]
) -> None:
    made = commands(rounds)
    asked = [*(f"GET {number}" for number in ASKED), "HASH"]
    points = cut_everywhere(memories["rp2040"], [text for text, _ in made], asked, dearest=dearest)
    assert len(points) >= least
    for point in points:
        where = f"{made[point['command']][0]}, change {point['change']}"
        assert stored(point["answers"]) in allowed(*made[point["command"]]), where
        assert not point["ever"], where


def log_rows(answers: list[str]) -> dict[int, list[str]]:
    """The rows of the log that were told, by how far back they are; none where there is none."""
    told = {}
    for line in answers:
        words = (body_of(line) or "").split(" ")
        if words[1:2] in (["OK"], ["NO"]):
            told[ROWS[int(words[0]) - 1]] = words[2:] if words[1] == "OK" else []
    return told


@pytest.mark.timeout(1800)
@pytest.mark.parametrize(
    ("resets", "dearest", "least"),
    [(12, True, 3), pytest.param(40, False, 100, marks=pytest.mark.long)],
)
def test_the_log_of_faults_is_old_or_new_wherever_the_power_fails(
    resets: int, dearest: bool, least: int, memories: dict[str, Path]
) -> None:
    """Each reset puts a row into it; 40 are more than it holds: old rows are overwritten."""
    acts = ["WHO", *[RESET] * resets]
    points = cut_everywhere(
        memories["rp2040"], acts, [f"LOG {back}" for back in ROWS], dearest=dearest
    )
    assert len(points) >= least
    fresh = 0
    for point in points:
        before, after = log_rows(point["before"]), log_rows(point["answers"])
        assert before.keys() == after.keys() == set(ROWS)
        where = f"reset {point['command']}, change {point['change']}"
        assert not point["ever"], where
        if after == before:
            continue
        fresh += 1
        assert after[0][2:] == [STARTED_BY_RESET, "0"], where
        assert not before[0] or int(after[0][0]) > int(before[0][0]), where
        assert [after[1], after[2], after[31]] == [before[0], before[1], before[30]], where
    assert 0 < fresh < len(points)
