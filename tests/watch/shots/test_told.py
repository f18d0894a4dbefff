"""The chapter's table of shots is what the last run came to, and counts what it should."""

from __future__ import annotations

import msgspec

from tests.watch.fit.told import CHAPTER, in_chapter
from tests.watch.shots.table import KEPT, Told, read
from tests.watch.shots.told import (
    COLUMNS,
    CONFUSED,
    CONFUSED_MARKS,
    MARKS,
    TABLE,
    as_csv,
    confused,
    row,
)

GOOD = Told(
    place="beside",
    seed=1,
    number=0,
    code="x",
    true="in",
    likeliest="in",
    sure=0.9,
    suggested="in",
    off_m=(0.03, 0.04),
    covariance_m2=(1e-3, 0.0, 1e-3),
)


def test_the_chapter_shows_the_last_run_of_shots() -> None:
    chapter = CHAPTER.read_text()
    assert chapter == in_chapter(chapter, TABLE.read_text(), MARKS)
    assert chapter == in_chapter(chapter, CONFUSED.read_text(), CONFUSED_MARKS)


def test_the_tables_are_what_the_kept_shots_come_to() -> None:
    told = read(KEPT)
    day = TABLE.read_text()[2:12]
    assert TABLE.read_text() == as_csv(told, day)
    assert CONFUSED.read_text() == "".join(",".join(line) + "\n" for line in confused(told))


def test_ends_that_were_told_are_counted_beside_those_that_were() -> None:
    change = msgspec.structs.replace
    told = [
        GOOD,
        change(GOOD, true="long"),
        change(GOOD, true="long", suggested=""),
        change(GOOD, true="none"),
        change(GOOD, true="none", why="NO_SHOT", suggested=""),
    ]
    head, *lines = confused(told)
    found = {line[0]: dict(zip(head[1:], line[1:], strict=True)) for line in lines}
    assert found["in"]["in"] == found["long"]["in"] == found["none"]["in"] == "1"
    assert found["long"]["too close"] == found["none"]["not seen"] == "1"
    assert sum(int(one) for line in found.values() for one in line.values()) == len(told)


def test_a_row_counts_what_was_hit_seen_suggested_and_wrong() -> None:
    change = msgspec.structs.replace
    told = [
        GOOD,
        change(GOOD, true="long", off_m=(0.3, 0.4)),  # told as in
        change(GOOD, suggested="", sure=0.6),  # too close
        change(GOOD, true="net", likeliest="net", suggested="net", off_m=None, covariance_m2=None),
        change(GOOD, why="TOO_FEW", suggested="", off_m=None, covariance_m2=None),
        change(GOOD, true="none", off_m=None, covariance_m2=None),
        change(GOOD, true="none", why="NO_SHOT", suggested="", off_m=None, covariance_m2=None),
    ]
    found = dict(zip(COLUMNS, row("beside", "x", told), strict=True))
    assert [found[name] for name in ("hit", "seen", "suggested", "wrong")] == ["5", "4", "3", "1"]
    assert (found["sure %"], found["right %"]) == ("90", "67")
    assert (found["let go"], found["told as hit"]) == ("2", "1")
    assert (found["median cm"], found["worst cm"]) == ("5", "50")
    assert found["in 95 % region"] == "2 of 3"
    assert found["not seen"] == "1 too few"
