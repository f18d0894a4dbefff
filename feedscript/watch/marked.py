"""Where people said that a lesson's balls came down, as the table that tuning reads."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Collection, Mapping

from feedscript.journal.store import Journal
from feedscript.launcher.tuning.landings_file import columns_of
from feedscript.plan.model import AimedFeed
from feedscript.plan.scene import PlacedLauncher
from feedscript.session.operator.commands import SeenBy
from feedscript.session.state.event_log import events_of
from feedscript.session.state.events import FeedMarked
from feedscript.watch.asked import AskedLesson

#: How surely somebody behind a launcher sees where a ball lands, one standard deviation in metres
#: along and across. Design values, no source.
EYE_SD_M = (0.3, 0.2)


def marks_of(journal: Journal, number: int) -> dict[int, FeedMarked]:
    """The newest mark of each ball of a lesson. Raises FeedscriptError."""
    found = (event for _, event in events_of(journal, number))
    return {event.feed_id: event for event in found if isinstance(event, FeedMarked)}


def marked_csv(
    lesson: AskedLesson,
    launcher: int,
    marks: Mapping[int, FeedMarked],
    tape_m: float,
    *,
    beside: Collection[int] | None = None,
) -> tuple[str, int]:
    """The balls of one launcher (counted from 0) that an eye or a tape placed, and how many.

    ``beside``: the numbers of those that a film's table has already; then only the rows of the
    others, to stand below it.
    """
    profile, placed = lesson.profiles[launcher], lesson.plan.launchers[launcher]
    out = io.StringIO()
    columns = (*columns_of(profile), *_OWN)
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
    if beside is None:
        out.write(f"# Landings of {profile.name}, marked in lesson {lesson.number}.\n")
        writer.writeheader()
    rows = [
        _row(ball.feed, placed, mark, tape_m)
        for ball in lesson.balls
        if ball.feed.launcher == launcher
        and ball.number not in (beside or ())
        and (mark := marks.get(ball.number)) is not None
        and mark.landing_m is not None
    ]
    writer.writerows(rows)
    return out.getvalue(), len(rows)


#: The table's columns of each ball's own uncertainty, as a film's has them.
_OWN = ("sd_along_m", "sd_right_m", "correlation")


def _row(
    feed: AimedFeed, placed: PlacedLauncher, mark: FeedMarked, tape_m: float
) -> dict[str, str]:
    assert mark.landing_m is not None
    sure_m = EYE_SD_M if mark.seen_by is SeenBy.EYE else (tape_m, tape_m)
    x_m, y_m = (there - here for there, here in zip(mark.landing_m, placed.mouth_m, strict=False))
    turn = math.radians(placed.heading_deg)
    setting = feed.setting
    numbers = {f"drive_{index}": each for index, each in enumerate(setting.drives, 1)} | {
        "tilt_deg": setting.tilt_deg,
        "pan_deg": setting.pan_deg,
        "roll_deg": setting.roll_deg,
        "along_m": x_m * math.sin(turn) + y_m * math.cos(turn),
        "right_m": x_m * math.cos(turn) - y_m * math.sin(turn),
        "sd_along_m": sure_m[0],
        "sd_right_m": sure_m[1],
        "correlation": 0.0,
    }
    return {name: f"{value:.6g}" for name, value in numbers.items()}
