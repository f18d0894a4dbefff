"""The records of lessons as CSV and JSON, for other programs and for whoever asks what is kept."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import msgspec

from feedscript.formats import headed
from feedscript.journal.clips import ClipKept
from feedscript.plan.model import Result
from feedscript.review.report.exercises import Exercise
from feedscript.review.report.figures import Figures, PlayerFigures, Share
from feedscript.review.report.film.landed import landed_of
from feedscript.review.report.film.shots import differences_of, suggested, suggestions_of
from feedscript.review.report.goals import Game, Tried
from feedscript.review.report.html import Review
from feedscript.review.report.lesson import Ball, Lesson
from feedscript.review.report.waiting import Waiting
from feedscript.review.report.words import iso
from feedscript.tongues.text import plain
from feedscript.visible import json_visible, on_one_line

_COLUMNS = (
    "lesson",
    "title",
    "ball",
    "left",
    "launcher",
    "station",
    "exercise",
    "target",
    "kind",
    "feed",
    "player",
    "hand",
    "shown",
    "result",
    "target_x_m",
    "target_y_m",
    "landing_x_m",
    "landing_y_m",
    "feed_x_m",
    "feed_y_m",
    "shot_by_film",
    "shot_sure",
    "shot_x_m",
    "shot_y_m",
)


def balls_csv(lessons: Iterable[Lesson]) -> str:
    """One row a ball that left, lesson after lesson."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for lesson in lessons:
        for ball in lesson.balls:
            writer.writerow([lesson.number, cell(lesson.title), *_ball_row(lesson, ball)])
    return out.getvalue()


def _ball_row(lesson: Lesson, ball: Ball) -> list[object]:
    return [
        ball.number,
        iso(ball.left_utc_s),
        ball.launcher,
        cell(ball.station),
        cell(ball.exercise),
        cell(ball.target),
        cell(ball.kind),
        cell(ball.feed),
        cell(ball.player or ""),
        lesson.hand_of(ball.player),
        int(ball.shown),
        ball.result.value if ball.result else "",
        *(ball.target_m or ("", "")),
        *(ball.landing_m or ("", "")),
        *_film_cells(ball),
    ]


def _film_cells(ball: Ball) -> list[object]:
    """What films told: where the feed landed, and what they suggest of the shot."""
    seen = None if ball.seen is None or ball.seen.refused else ball.seen.landing_m
    result = suggested(ball)
    shot = ball.shot if result is not None else None
    return [
        *(seen or ("", "")),
        result.value if result is not None else "",
        "" if shot is None or shot.sure is None else f"{shot.sure:.2f}",
        *((shot.landing_m if shot is not None else None) or ("", "")),
    ]


#: What makes a spreadsheet take a cell for a formula (OWASP, "CSV Injection", with the wide forms
#: that East Asian settings take too), at its beginning or, where the program that reads the file
#: takes something else than a comma for the end of a cell, behind that.
_FORMULA = re.compile(r"(^|[,;:|\t])(\s*[=+\-@＝＋－＠])")


def cell(text: str) -> str:
    """A text as a cell that no spreadsheet runs: an apostrophe stops it."""
    return _FORMULA.sub(r"\1'\2", on_one_line(text))


def review_json(review: Review) -> dict[str, Any]:
    """A report's figures as plain data."""
    plain = {
        **_head(review.lesson),
        "players": [_player_json(one) for one in review.players],
        "feeds": {feed: _figures_json(numbers) for feed, numbers in review.feeds.items()},
        **_films_json(review),
    }
    return headed("review", plain)


def _films_json(review: Review) -> dict[str, Any]:
    """What films told; nothing of it on a player's own sheet, as on the page."""
    if review.sheet:
        return {}
    lesson = review.lesson
    told = {
        "feeds_by_film": landed_of(lesson.balls),
        "shots_by_film": suggestions_of(lesson.played),
        "shots_that_differ": differences_of(lesson.played),
    }
    plain_told: dict[str, Any] = msgspec.to_builtins(told, enc_hook=plain)
    return plain_told


def lessons_json(
    lessons: Iterable[Lesson], clips: Mapping[int, Sequence[ClipKept]] | None = None
) -> list[dict[str, Any]]:
    """Whole lessons with every ball, and which clips there are of each (by its number)."""
    return [
        {
            **_head(lesson),
            "clips": [_clip_json(one) for one in (clips or {}).get(lesson.number, ())],
            "every_ball": [_ball_json(lesson, ball) for ball in lesson.balls],
        }
        for lesson in lessons
    ]


def lessons_document(
    lessons: Iterable[Lesson], clips: Mapping[int, Sequence[ClipKept]]
) -> dict[str, Any]:
    """The same as a file of its own."""
    return headed("lessons", {"lessons": lessons_json(lessons, clips)})


def _clip_json(clip: ClipKept) -> dict[str, Any]:
    return {"ball": clip.feed_id, "file": clip.file, "made": iso(clip.utc_s)}


def as_text(value: Any) -> str:
    """JSON as a file holds it."""
    return json_visible(json.dumps(value, indent=2, ensure_ascii=False)) + "\n"


def _head(lesson: Lesson) -> dict[str, Any]:
    return {
        "lesson": lesson.number,
        "title": lesson.title,
        "rehearsal": lesson.rehearsal,
        "begun": iso(lesson.begun_utc_s),
        "ended": None if lesson.ended_utc_s is None else iso(lesson.ended_utc_s),
        "ending": lesson.ending,
        "seed": lesson.seed,
        "balls": len(lesson.balls),
        "not_sent": lesson.not_sent,
        "unknown": lesson.unknown,
        "exercises": [_exercise_json(one) for one in lesson.exercises],
        "goals": [_plain(one) for one in lesson.aims.tried],
        "games": [_plain(one) for one in lesson.aims.games],
        "progressions": [
            {"player": one.player, "name": one.progression, "began": one.first, "ended": one.last}
            for one in lesson.climbs
        ],
    }


def _plain(one: Tried | Game) -> dict[str, Any]:
    found: dict[str, Any] = msgspec.to_builtins(one, enc_hook=plain)
    return found


def _exercise_json(one: Exercise) -> dict[str, Any]:
    return {
        "title": one.title,
        "begun": iso(one.begun_utc_s),
        "ended": None if one.ended_utc_s is None else iso(one.ended_utc_s),
        "how": one.how,
    }


def _ball_json(lesson: Lesson, ball: Ball) -> dict[str, Any]:
    return {
        "ball": ball.number,
        "left": iso(ball.left_utc_s),
        "launcher": ball.launcher,
        "station": ball.station,
        "exercise": ball.exercise,
        "target": ball.target or None,
        "kind": ball.kind,
        "feed": ball.feed,
        "player": ball.player,
        "hand": lesson.hand_of(ball.player) or None,
        "shown": ball.shown,
        "result": ball.result.value if ball.result else None,
        "target_m": ball.target_m,
        "landing_m": ball.landing_m,
        "by_film": _by_film_json(ball),
    }


def _by_film_json(ball: Ball) -> dict[str, Any] | None:
    """All that films told of a ball, as the journal keeps it."""
    if ball.seen is None and ball.shot is None:
        return None
    told: dict[str, Any] = msgspec.to_builtins({"feed": ball.seen, "shot": ball.shot})
    return told


def _player_json(one: PlayerFigures) -> dict[str, Any]:
    before, change = one.last_time, one.change
    return {
        "player": one.player,
        "share_in_before": None if before is None else before.share.value,
        "change": None
        if change is None
        else {
            "points": change.points,
            "interval": [change.low, change.high],
            "clear": change.clear,
        },
        "lessons_before": [
            {"begun": iso(past.begun_utc_s), **share_json(past.share)} for past in one.past
        ],
        "waiting": _waiting_json(one.waiting),
        **_figures_json(one.whole),
        "feeds": {feed: _figures_json(numbers) for feed, numbers in one.by_feed.items()},
    }


def _waiting_json(waiting: Waiting | None) -> dict[str, Any] | None:
    """Seconds, and minutes in each hour; as it was, and had there been no stations."""
    if waiting is None:
        return None
    return {
        "here_s": waiting.here_s,
        "waited_s": waiting.waited_s,
        "minutes_an_hour": waiting.minutes_an_hour,
        "without_stations": {
            "here_s": waiting.here_without_stations_s,
            "waited_s": waiting.waited_without_stations_s,
            "minutes_an_hour": waiting.minutes_an_hour_without_stations,
        },
    }


def share_json(share: Share) -> dict[str, Any]:
    """A share in court with its range."""
    return {
        "recorded": share.recorded,
        Result.IN.value: share.made,
        "share_in": share.value,
        "interval": share.interval,
    }


def _figures_json(numbers: Figures) -> dict[str, Any]:
    line = numbers.trend.line
    return {
        "balls": numbers.balls,
        **share_json(numbers.share),
        Result.TARGET.value: numbers.in_target,
        **{error.value: count for error, count in numbers.errors.items()},
        "errors_repeated": numbers.repeats,
        "errors_that_could_repeat": numbers.repeat_chances,
        "repeated_error_rate": numbers.repeat_share,
        "trend": {
            "parts": [part.value for part in numbers.trend.parts],
            "direction": numbers.trend.direction.value,
            "line": None if line is None else [line.first, line.last],
            "p": None if line is None else line.p,
        },
        "landings": [[x_m, y_m, result.value] for x_m, y_m, result in numbers.landings],
        "suggestion": numbers.next_step.value,
    }
