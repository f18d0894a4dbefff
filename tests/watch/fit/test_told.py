"""The chapter's table of accuracy is what the last run came to, and counts what it should."""

from __future__ import annotations

import msgspec

from tests.watch.fit.table import Ball
from tests.watch.fit.told import CHAPTER, TABLE, in_chapter, is_false, row

GOOD = Ball(
    kind="noon",
    seed=1,
    number=0,
    code="x",
    fed=True,
    off_m=(0.03, 0.04),
    covariance_m2=(1e-3, 0.0, 1e-3),
    speed=(0.1, 0.1),
)


def test_the_chapter_shows_the_last_run() -> None:
    chapter = CHAPTER.read_text()
    assert chapter == in_chapter(chapter, TABLE.read_text())


def test_what_is_far_off_and_sure_of_itself_is_false_and_so_is_what_nobody_fed() -> None:
    far = msgspec.structs.replace(GOOD, off_m=(0.0, 0.8))
    unsure = msgspec.structs.replace(far, covariance_m2=(0.1, 0.0, 0.1))
    phantom = msgspec.structs.replace(GOOD, fed=False)
    unseen = msgspec.structs.replace(phantom, why="TOO_FEW")
    assert [is_false(one) for one in (GOOD, far, unsure, phantom, unseen)] == [
        False,
        True,
        False,
        True,
        False,
    ]


def test_a_row_counts_feeds_and_regions() -> None:
    outside = msgspec.structs.replace(GOOD, off_m=(0.3, 0.4))
    missed = msgspec.structs.replace(GOOD, why="NOT_LIKELY")
    told = row("noon", [GOOD, GOOD, GOOD, outside, missed])
    assert told[:7] == ["noon", "5", "80.0", "5.0", "36.5", "50.0", "75"]
    assert told[-2:] == ["0", "1 not likely"]
