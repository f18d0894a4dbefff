"""Every fix that is offered for a feed out of reach, written into the program, brings it in."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

import numpy as np
import pytest

from feedscript.check.check_program import check_program
from tests.safety.random_programs import program

#: What would say that the fixed feed cannot be thrown, or not over the net onto the court.
CANNOT = re.compile(r"out-of-reach|cannot-throw|past-|net-clearance|lands-outside|check-failed")


def errors(text: str) -> dict[str, str]:
    found = check_program(Path("drawn.feed"), text=text).diagnostics
    return {one.slug: one.help for one in found if one.is_error}


def out_of_reach(seed: int, calm: bool) -> Iterator[tuple[str, str]]:
    """Drawn programs that are refused because their feed is out of reach, and what would do.

    ``calm`` leaves the wind out, in which speeds are sought the longest.
    """
    random = np.random.default_rng([33, seed])
    while True:
        text = program(random)
        if calm:
            text = re.sub(r"  wind .* \}", " }", text)
        found = errors(text)
        if "out-of-reach" in found:
            yield text, found["out-of-reach"]


def fixed(text: str, words: str) -> Iterator[tuple[str, str]]:
    """The program with each fix written into it, and the fix."""
    feed = re.search(r"feed one \{.*\}", text)
    assert feed is not None
    for line in re.findall(r"`((?:speed|arc|land|apex) [^`]*)`", words):
        part = line.split()[0]
        # A property runs up to the next one, two spaces on.
        changed, count = re.subn(rf"\b{part} .*?(?=  | \}})", line, feed[0])
        assert count <= 1
        yield (
            text.replace(feed[0], changed if count else feed[0].replace(" }", f"  {line} }}")),
            line,
        )
    for end in re.findall(r"(?:up|down) to ([\d.]+) km/h", words):
        line = f"speed {end} km/h"
        yield text.replace(feed[0], re.sub(r"speed .*?(?=  | \})", line, feed[0])), line


def tried(seed: int, programs: int, *, calm: bool = False) -> tuple[int, int]:
    """How many programs and fixes were tried; every one must do what it says."""
    fixes = helpless = 0
    for text, words in islice(out_of_reach(seed, calm), programs):
        changes = list(fixed(text, words))
        helpless += not changes
        for changed, line in changes:
            fixes += 1
            wrong = {slug for slug in errors(changed) if CANNOT.match(slug)}
            assert not wrong, f"{line}: {wrong}\n{text}\n{words}"
    return helpless, fixes


def test_fixes_of_a_few_drawn_programs_are_true() -> None:
    helpless, fixes = tried(2, 3, calm=True)  # of 0 none could be mended
    assert fixes >= 3
    assert helpless < 3


@pytest.mark.long
@pytest.mark.timeout(3600)
def test_fixes_of_many_drawn_programs_are_true() -> None:
    helpless, fixes = tried(1, 200)
    print(f"{fixes} fixes, {helpless} of 200 programs had none")
    assert fixes >= 120


@pytest.mark.parametrize("name", ["garage", "air-barrel"])
def test_fixes_of_a_high_arc_need_no_steeper_launcher(name: str) -> None:
    """At this speed the high arc is steeper than either of them points."""
    text = "\n".join(
        [
            "feedscript 1",
            'title "Drawn"',
            "court { surface hard }",
            "balls { type 2  load 20 }",
            f'launcher {{ profile "{name}.toml"  stands 1 m behind baseline, on centre line }}',
            "group { 2 players  level touring }",
            "feed one { land at 0 m, 4 m  speed 27 m/s  arc high }",
            "lesson { show speed of one  send one after 12 s }",
        ]
    )
    words = errors(text)["out-of-reach"]
    changes = list(fixed(text, words))
    assert changes
    for changed, line in changes:
        assert not {slug for slug in errors(changed) if CANNOT.match(slug)}, line
