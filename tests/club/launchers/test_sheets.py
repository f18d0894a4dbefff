"""What all courts' lessons say of a launcher, and what is advised only when it is so."""

from __future__ import annotations

from pathlib import Path

import msgspec
import numpy as np
import pytest

from feedscript.check.check_program import check_program
from feedscript.club.batch import Event, Part
from feedscript.club.launchers.chance import moved, wider, worse
from feedscript.club.launchers.sheets import (
    WEEK_S,
    Advice,
    Landing,
    Launchers,
    Played,
    sheets,
)
from feedscript.club.link.outbox import Outbox
from feedscript.club.messages import LAUNCHERS
from feedscript.club.store.log import take_in
from feedscript.club.store.store import Store
from feedscript.journal.store import open_journal
from feedscript.launcher.profile.model import Calibration
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.session.state.events import FeedMarked, FeedRequested
from tests.club.lessons import court
from tests.club.server.stage import as_, server

NOW = 1.8e9
PROGRAM = """feedscript 1
title "For the launchers (invented)"
court { surface hard }
balls { type 2 }
launcher { stands 1 m behind centre mark }
feed deep { land 3 m inside baseline, on centre line  speed 80 km/h }
lesson { show speed of deep  repeat 12 { send deep after 3 s } }
"""


@pytest.fixture(scope="module")
def lesson(tmp_path_factory: pytest.TempPathFactory) -> Part:
    """A lesson on a launcher that jams once; as if it had been on court, a while ago."""
    verdict = check_program(Path("invented.feed"), text=PROGRAM)
    assert verdict.plan is not None, verdict.diagnostics
    journal = open_journal(tmp_path_factory.mktemp("court") / "journal.sqlite")
    rehearse(verdict.plan, verdict.profiles, "invented.feed", faults=("jam=5",), journal=journal)
    outbox = Outbox(journal, {})
    batch = outbox.next_batch()
    journal.close()
    assert batch is not None
    (part,) = batch.parts
    assert part.header is not None
    header = msgspec.structs.replace(part.header, rehearsal=False, begun_utc_s=NOW - 3600.0)
    return msgspec.structs.replace(part, header=header)


def marked(part: Part, off_m: tuple[float, float]) -> Part:
    """The lesson with every ball's landing marked so far from where it was aimed."""
    marks = []
    for event in part.events:
        if event.kind == "feed":
            ball = msgspec.json.decode(event.data, type=FeedRequested)
            at = (0.0 + off_m[0], 8.885 + off_m[1])
            mark = FeedMarked(feed_id=ball.feed_id, seen_by="tape", landing_m=at)
            marks.append(msgspec.json.encode(mark).decode())
    last = part.events[-1].number
    more = [
        Event(number=last + at, utc_s=NOW, kind="feed-landing", launcher=None, data=data)
        for at, data in enumerate(marks, 1)
    ]
    return msgspec.structs.replace(part, events=(*part.events, *more))


def test_a_lesson_tells_of_its_launcher_what_happened(store: Store, lesson: Part) -> None:
    one = court(store)
    take_in(store, one.host, [marked(lesson, (0.4, 0.0))], NOW)
    launchers = Launchers(store)
    (sheet,) = launchers.sheets(NOW)
    assert sheet == launchers.sheets(NOW)[0]
    assert (sheet.court, sheet.lessons, sheet.balls) == ("court one", 1, 13)
    assert sheet.faults == {"jam": 1}
    assert len(sheet.tuned) == 1
    (week,) = sheet.weeks
    asked = sum(event.kind == "feed" for event in lesson.events)
    assert (week.balls, week.landings) == (13, asked)
    assert week.off_m == pytest.approx((0.4, 0.0), abs=0.01)
    assert sheet.advice == (Advice.TUNE,)


def test_what_is_held_later_is_read_too_and_a_rehearsal_says_nothing(
    store: Store, lesson: Part
) -> None:
    one, launchers = court(store), Launchers(store)
    cut = len(lesson.events) // 2
    take_in(store, one.host, [msgspec.structs.replace(lesson, events=lesson.events[:cut])], NOW)
    (before,) = launchers.sheets(NOW)
    take_in(store, one.host, [lesson], NOW)
    (later,) = launchers.sheets(NOW)
    assert 0 < before.balls < later.balls
    assert lesson.header is not None
    rehearsal = msgspec.structs.replace(lesson.header, rehearsal=True)
    other = msgspec.structs.replace(lesson, lesson="9-0000beef", header=rehearsal)
    spoilt = msgspec.structs.replace(lesson.header, plan="{}")
    third = msgspec.structs.replace(lesson, lesson="8-0000beef", header=spoilt)
    take_in(store, one.host, [other, third], NOW)
    assert launchers.sheets(NOW) == (later,)
    assert launchers.sheets(NOW + 13 * WEEK_S) == ()


def test_coaches_alone_see_them(store: Store) -> None:
    for role, status in (("nobody", 401), ("viewer", 403), ("coach", 200)):
        assert server(store).get(LAUNCHERS, headers=as_(role)).status_code == status


CALIBRATION = Calibration(
    elevation_offset_deg=0.0, azimuth_offset_deg=0.0, drag_factor=1.0, lift_factor=1.0
)


def played(weeks_ago: float, court: str = "court one", **fields: object) -> Played:
    plain = Played(
        serial="7",
        name="the old one",
        court=court,
        begun_utc_s=NOW - weeks_ago * WEEK_S,
        profile_hash="a",
        calibration=CALIBRATION,
        asked=300,
        left=300,
        unknown=0,
        faults={},
        landings=(),
    )
    return msgspec.structs.replace(plain, **fields)


def test_it_stands_where_it_was_run_last_and_its_tunings_follow_each_other() -> None:
    (sheet,) = sheets(
        [played(1, "court two", profile_hash="b"), played(3), played(5), played(20)], NOW
    )
    assert sheet.court == "court two"
    assert [(one.profile_hash, one.first_utc_s) for one in sheet.tuned] == [
        ("a", NOW - 5 * WEEK_S), ("b", NOW - WEEK_S),
    ]  # fmt: skip
    assert [week.balls for week in sheet.weeks] == [300, 0, 300, 0, 300, 0]


@pytest.mark.parametrize(
    ("lessons", "advice"),
    [
        ([played(5), played(1)], ()),
        ([played(5, faults={"jam": 1}), played(1, faults={"jam": 1})], ()),
        ([played(5, faults={"jam": 1}), played(1, faults={"jam": 12})], (Advice.MEND,)),
        ([played(5), played(1, unknown=8)], (Advice.MEND,)),
        ([played(1, faults={"jam": 9})], ()),  # nothing to compare with
        ([played(1), played(1, "court two", profile_hash="b")], (Advice.ONE_PROFILE,)),
        ([played(2 + at, asked=500) for at in range(4)], (Advice.MEASURE,)),
    ],
)
def test_what_is_advised(lessons: list[Played], advice: tuple[Advice, ...]) -> None:
    (sheet,) = sheets(lessons, NOW)
    assert sheet.advice == advice


def drawn(seed: int, count: int, shift: float = 0.0, width: float = 1.0) -> list[list[float]]:
    return (np.random.default_rng(seed).normal(shift, width, (count, 2))).tolist()


def test_a_launcher_as_its_profile_says_is_rarely_told_to_have_changed() -> None:
    """One in a hundred by chance: of 1,000 drawn ones more than 30 would be odd (odds of 1e-7)."""
    assert sum(moved(drawn(seed, 20)) for seed in range(1000)) <= 30
    assert sum(wider(drawn(seed, 20)) for seed in range(1000)) <= 30


def test_one_that_has_moved_or_scatters_more_is_nearly_always_told() -> None:
    assert sum(moved(drawn(seed, 20, shift=1.2)) for seed in range(200)) >= 190
    assert sum(wider(drawn(seed, 20, width=1.8)) for seed in range(200)) >= 190
    assert not any(wider(drawn(seed, 20, shift=3.0)) for seed in range(1, 20, 5))


def test_as_many_faults_for_as_many_balls_are_no_worse() -> None:
    assert not worse(10_000, 100, 1_000, 10)
    assert worse(10_000, 100, 1_000, 30)
    assert not worse(0, 0, 1_000, 5)


def test_a_wide_scatter_is_told_of_landings_that_lie_about_their_aim() -> None:
    wide = tuple(Landing((one[0], one[1]), (0.0, 0.0)) for one in drawn(3, 30, width=2.5))
    (sheet,) = sheets([played(1, landings=wide)], NOW)
    assert Advice.LOOK_WORN in sheet.advice
