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
    top=(30.0, 40.0),
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
    shares = ["80 (38 to 96)", "75 (30 to 95)"]  # Wilson's intervals, reckoned by hand
    assert told[:7] == ["noon", "5", shares[0], "5.0", "36.5", "50.0", shares[1]]
    assert told[9] == "100 (51 to 100)"
    assert told[-4:] == ["0", "0", "missed: seen, 90 %", "1 not likely"]


def test_goals_that_are_met_are_said_to_be() -> None:
    never = msgspec.structs.replace(GOOD, fed=False)
    missed = msgspec.structs.replace(never, why="TOO_FEW")
    assert row("noon", [GOOD, missed])[-2] == "met"
    assert row("noon", [GOOD, never])[-2] == "missed: false"
