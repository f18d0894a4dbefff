"""``suits { … }``: stages and levels spelt out, and every slip told with what to write."""

from __future__ import annotations

import pytest

from feedscript.language import read
from feedscript.language.examples import program


def suits(block: str):
    made, found = read(program(more=f"suits {{ {block} }}"), "x.feed")
    return made.suits if made is not None else [(one.slug, one.help) for one in found]


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("club", ("club",)),
        ("improver to county", ("improver", "club", "county")),
        ("red to green", ("red", "orange", "green")),
        ("yellow to improver", ("yellow", "beginner", "improver")),
        # Children from one stage on, and everybody up to one level.
        ("green to club", ("green", "yellow", "beginner", "improver", "club")),
        ("county, red", ("red", "county")),
        ("green, improver to club", ("green", "improver", "club")),
    ],
)
def test_who_is_meant(line: str, meant: tuple[str, ...]) -> None:
    assert suits(f"stage {line}").stages == meant


def test_all_that_a_program_says_of_itself() -> None:
    found = suits('theme "depth",  "Height  over the net" players 2 to 6 needs "cones"')
    assert found.themes == ("depth", "Height over the net")
    assert (found.players, found.needs, found.stages) == ((2, 6), ("cones",), ())
    assert suits("player 1").players == (1, 1)


@pytest.mark.parametrize(
    ("block", "slug", "help_text"),
    [
        ("stage county to improver", "out-of-range", "write `improver to county`"),
        ("stage club to green", "out-of-range", "write `green to club`"),
        ("stage clbu", "unknown-choice", "did you mean `club`?"),
        ("players 6 to 2", "out-of-range", "write `players 2 to 6`"),
        ("players 0 to 2", "out-of-range", "write a number from 1 to 64"),
        ("players 2.5", "not-whole", "write 3"),
        ('theme "depth" theme "pace"', "said-twice", "keep one of the two"),
        ('needs "cones", "Cones"', "said-twice", "keep one of the two"),
        ('theme " "', "idle-fact", 'write `theme "depth"`'),
        ("", "idle-fact", None),
    ],
)
def test_a_slip_is_told_with_what_to_write(block: str, slug: str, help_text: str | None) -> None:
    ((told, offered),) = suits(block)
    assert told == slug
    assert help_text in (None, offered)


def test_it_is_said_once() -> None:
    text = program(more="suits { players 2 }\nsuits { players 3 }")
    assert [one.slug for one in read(text, "x.feed")[1]] == ["said-twice"]
