"""A player's record as words for the coach, and as JSON and CSV for other programs."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import Any

from feedscript.diagnostics import as_json
from feedscript.formats import headed
from feedscript.review.record.figures import STREAK, Counted, Record
from feedscript.review.record.history import History
from feedscript.review.record.trends import LEVEL, LOOKS, Trend, Way
from feedscript.review.report.export import cell, share_json
from feedscript.review.report.figures import Share
from feedscript.review.report.lesson import ERRORS
from feedscript.review.report.words import balls, day, feed_name, iso, percent, short_day, span
from feedscript.review.report.words import climb as climb_words
from feedscript.tongues import terms
from feedscript.tongues.text import _, joined, listed, n_

#: What a coach may want to know about the figures.
NOTES = (
    _(
        "A record goes over every lesson in which the player played, whatever its title was. The "
        "name may be written in capitals or without, and with its accents in either of their two "
        "forms."
    ),
    _(
        "The range of a share is where the true share may lie; ranges made this way hold it in "
        "about 19 of 20 cases if balls are independent (score interval). Good and bad days make "
        "it wider."
    ),
    _(
        "The share in the target is of the balls of exercises that have one; what is in it is in "
        "court too."
    ),
    _(
        "An error is repeated when the next ball of the same series makes the same one. A good "
        "player seldom repeats an error twice in a row (common practice, no source)."
    ),
    _("A streak is {n} balls or more in court, one after the other in a series.", n=STREAK),
    _(
        "Trends are judged when {looks} lessons are recorded, then after every eight, over a year "
        "of lessons at most. The level is shared out among these looks and the figures: of "
        "players who do not change, fewer than {level:.0f} of 100 are told of any trend in a "
        "season. A trend may also come from harder or easier feeds: the coach knows.",
        looks=listed(map(str, LOOKS)),
        level=LEVEL * 100,
    ),
)


def title(record: Record) -> str:
    """What stands above a record."""
    return _("{player}: all lessons", player=record.player)


def facts(history: History) -> str:
    """The line under it: what it is a record of, and what is not in it."""
    first, last = history.lessons[0].begun_utc_s, history.lessons[-1].begun_utc_s
    kind = _("Rehearsals: no ball flew.") if history.rehearsal else ""
    parts = {"first": day(first), "last": day(last)}
    when = (
        _("1 lesson, {day}.", day=day(first))
        if len(history.lessons) == 1
        else n_(
            "{n} lesson, {first} to {last}.",
            "{n} lessons, {first} to {last}.",
            len(history.lessons),
            **parts,
        )
    )
    return joined(" ", [kind, when, *_not_in_it(history)])


def _not_in_it(history: History) -> Iterator[str]:
    if history.left_out:
        yield n_("{n} rehearsal left out.", "{n} rehearsals left out.", history.left_out)
    if history.copies:
        yield n_(
            "{n} lesson stood in two journals and counts once.",
            "{n} lessons stood in two journals and counts once.",
            history.copies,
        )
    if history.passed_over:
        yield n_(
            "{n} could not be read and are not in it.",
            "{n} could not be read and are not in it.",
            len(history.passed_over),
        )


def of(share: Share) -> str:
    """A share with its counts and its range."""
    if share.value is None:
        return _("none recorded")
    return _(
        "{n} of {all}, {share} (range {range})",
        n=share.made,
        all=share.recorded,
        share=percent(share.value),
        range=span(share.interval),
    )


def way(trend: Trend) -> str:
    """What is said of a trend."""
    if trend.way is Way.TOO_FEW:
        return _("trend: too few lessons (judged from {n} on)", n=LOOKS[0])
    if trend.way is Way.NONE:
        return _("no clear trend over {n} lessons", n=trend.lessons)
    ends = {"n": trend.lessons, "first": percent(trend.first), "last": percent(trend.last)}
    if trend.way is Way.UP:
        return _(
            "up over {n} lessons, from about {first} in the first half to {last}",
            **ends,
        )
    return _("down over {n} lessons, from about {first} in the first half to {last}", **ends)


def in_words(record: Record) -> list[str]:
    """The record line by line."""
    whole = record.whole
    share = joined("", [_("in court {share}", share=of(whole.share)), "; ", way(record.trend)])
    lines: list[str] = [joined("; ", [balls(whole.balls), joined("", [share, in_target(whole)])])]
    for name, kind in record.kinds.items():
        share = joined("; ", [of(kind.counted.share), way(kind.trend)])
        said = [balls(kind.counted.balls), joined("", [share, in_target(kind.counted)])]
        lines.append(joined("", ["  ", feed_name(name), ": ", joined("; ", said)]))
    for error in ERRORS:
        found = [of(whole.errors[error]), way(record.error_trends[error])]
        lines.append(joined("", ["  ", terms.result(error), ": ", joined("; ", found)]))
    repeated = joined("; ", [of(whole.repeats), way(record.repeats_trend)])
    lines.append(joined("", ["  ", _("errors repeated: {share}", share=repeated)]))
    return [*lines, *(joined("", ["  ", one]) for one in (streaks(whole), *climbs(record)))]


def climbs(record: Record) -> list[str]:
    """Where the player stands in each progression, by the last lesson that had it."""
    latest: dict[str, str] = {}
    for one in record.lessons:
        for climb in one.lesson.climbs:
            day_of = short_day(one.lesson.begun_utc_s)
            latest[climb.progression] = joined(", ", [climb_words(climb), day_of])
    return list(latest.values())


def in_target(found: Counted) -> str:
    """The share in the target, behind another; nothing where no ball had one."""
    if not found.in_target.recorded:
        return ""
    return _("; in the target {share}", share=of(found.in_target))


def streaks(whole: Counted) -> str:
    """The longest streak, and how many series held one."""
    if whole.longest is None:
        return _("longest streak in court: none")
    return _(
        "longest streak in court: {n} on {day}; series with a streak: {streaks}",
        n=whole.longest.balls,
        day=short_day(whole.longest.ended_utc_s),
        streaks=of(whole.streaks),
    )


# -- for other programs ---------------------------------------------------------------------------


def record_json(record: Record) -> dict[str, Any]:
    """The record as plain data."""
    history = record.history
    plain = {
        "player": record.player,
        "rehearsals": history.rehearsal,
        "rehearsals_left_out": history.left_out,
        "lessons_in_two_journals": history.copies,
        "passed_over": [as_json(one) for one in history.passed_over],
        "trends": {"level": LEVEL, "looks": list(LOOKS)},
        **_counted_json(record.whole),
        "trend": _trend_json(record.trend),
        "error_trends": {e.value: _trend_json(trend) for e, trend in record.error_trends.items()},
        "repeats_trend": _trend_json(record.repeats_trend),
        "kinds": {
            name: {**_counted_json(kind.counted), "trend": _trend_json(kind.trend)}
            for name, kind in record.kinds.items()
        },
        "lessons": [
            {
                "lesson": one.lesson.number,
                "begun": iso(one.lesson.begun_utc_s),
                "title": one.lesson.title,
                "progressions": {
                    climb.progression: {"began": climb.first, "ended": climb.last}
                    for climb in one.lesson.climbs
                },
                **_counted_json(one.whole),
                "kinds": {name: _counted_json(found) for name, found in one.kinds.items()},
            }
            for one in record.lessons
        ],
    }
    return headed("record", plain)


def _counted_json(found: Counted) -> dict[str, Any]:
    longest = found.longest
    return {
        "balls": found.balls,
        **share_json(found.share),
        "in_target": _of_json(found.in_target),
        "errors": {error.value: _of_json(share) for error, share in found.errors.items()},
        "errors_repeated": _of_json(found.repeats),
        "series_with_a_streak": _of_json(found.streaks),
        "longest_streak": None
        if longest is None
        else {"balls": longest.balls, "ended": iso(longest.ended_utc_s)},
    }


def _of_json(share: Share) -> dict[str, Any]:
    return {
        "count": share.made,
        "of": share.recorded,
        "share": share.value,
        "interval": share.interval,
    }


def _trend_json(trend: Trend) -> dict[str, Any]:
    return {
        "way": trend.way.value,
        "lessons": trend.lessons,
        "p": trend.p,
        "level": trend.level,
        "halves": None if trend.first is None else [trend.first, trend.last],
    }


_COLUMNS = (
    "lesson",
    "begun",
    "title",
    "player",
    "hand",
    "kind",
    "balls",
    "recorded",
    "in",
    "share_in",
    "share_in_low",
    "share_in_high",
    "in_target",
    "with_a_target",
    *(error.value for error in ERRORS),
    "errors_repeated",
    "errors_that_could_repeat",
    "longest_streak",
)


def record_csv(record: Record) -> str:
    """One row for each kind of ball of each lesson, oldest first."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for one in record.lessons:
        lesson = one.lesson
        head = [lesson.number, iso(lesson.begun_utc_s), cell(lesson.title), cell(record.player)]
        for name, found in one.kinds.items():
            writer.writerow([*head, lesson.hand_of(record.player), cell(name), *_row(found)])
    return out.getvalue()


def _row(found: Counted) -> list[object]:
    share = found.share
    low, high = share.interval or ("", "")
    return [
        found.balls,
        share.recorded,
        share.made,
        "" if share.value is None else share.value,
        low,
        high,
        found.in_target.made,
        found.in_target.recorded,
        *(found.errors[error].made for error in ERRORS),
        found.repeats.made,
        found.repeats.recorded,
        found.longest.balls if found.longest else 0,
    ]
