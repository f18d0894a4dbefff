"""The chapter's table of shots is what the last run came to, and counts what it should."""

from __future__ import annotations

import msgspec

from tests.watch.fit.told import CHAPTER, in_chapter
from tests.watch.shots.table import Told
from tests.watch.shots.told import COLUMNS, MARKS, TABLE, row

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
    found = dict(zip(COLUMNS, row("beside", told), strict=True))
    assert [found[name] for name in ("hit", "seen", "suggested", "wrong")] == ["5", "4", "3", "1"]
    assert (found["sure %"], found["right %"]) == ("90", "67")
    assert (found["let go"], found["told as hit"]) == ("2", "1")
    assert (found["median cm"], found["worst cm"]) == ("5", "50")
    assert found["in 95 % region"] == "2 of 3"
    assert found["not seen"] == "1 too few"
