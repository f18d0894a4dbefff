"""The report of a lesson: one HTML page that stands alone, and the same as CSV and JSON."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from html import escape
from typing import Any

from feedscript.plan.model import Result
from feedscript.review.charts import error_rose, trend_bars
from feedscript.review.figures import (
    BALLS_TO_JUDGE,
    EASIER_BELOW,
    HARDER_FROM,
    SERIES_JUDGED,
    Figures,
    NextStep,
    PlayerFigures,
)
from feedscript.review.lesson import ERRORS, Lesson

_STYLE = """
:root { color-scheme: light; }
body { font: 16px/1.5 system-ui, sans-serif; color: #222; background: #fff; margin: 0 auto;
  max-width: 60rem; padding: 1.5rem; }
h1 { font-size: 1.7rem; margin: 0 0 .2rem; }
h2 { font-size: 1.35rem; margin: 2.2rem 0 .3rem; padding-top: 1rem; border-top: 2px solid #222; }
p { margin: .4rem 0; }
.facts, .small { color: #555; }
.small { font-size: .85rem; }
.charts { display: flex; flex-wrap: wrap; gap: 1rem 2.5rem; align-items: center; margin: .6rem 0; }
figure { margin: 0; text-align: center; }
figcaption { font-size: .85rem; color: #555; }
table { border-collapse: collapse; width: 100%; margin: .6rem 0; }
th, td { text-align: right; padding: .3rem .6rem; border-bottom: 1px solid #ccc; }
th:first-child, td:first-child { text-align: left; }
thead th { border-bottom: 2px solid #222; vertical-align: bottom; }
.next { background: #eef5fb; border-left: 5px solid #0072B2; padding: .5rem .9rem; }
@media print { section { break-before: page; } body { padding: 0; } }
"""

_ADVICE = {
    NextStep.HARDER: (
        "The last two series went well: perhaps a little faster, a smaller target, or a change of "
        "direction next time?"
    ),
    NextStep.SAME: "Worth feeding the same again: it is being learned.",
    NextStep.EASIER: (
        "The last two series were hard work: perhaps slower, higher over the net, or more time "
        "between balls next time?"
    ),
    NextStep.TOO_FEW: "Too few balls were recorded to suggest anything.",
}

RULE = (
    f"The rule behind the suggestion: of the balls recorded in a player's last {SERIES_JUDGED} "
    f"series (at least {BALLS_TO_JUDGE} balls), {HARDER_FROM:.0%} or more in the target suggests "
    f"harder, under {EASIER_BELOW:.0%} easier. It is a suggestion; the coach knows the player."
)


def percent(share: float | None) -> str:
    """A share as a person reads it."""
    return "–" if share is None else f"{share:.0%}".replace("%", " %")


def day(utc_s: float) -> str:
    """The day and time of a lesson, in UTC, as the journal keeps it."""
    return datetime.fromtimestamp(utc_s, UTC).strftime("%-d %B %Y, %H:%M UTC")


def report_html(lesson: Lesson, players: tuple[PlayerFigures, ...], before: Lesson | None) -> str:
    """The page. With one player in ``players`` it speaks of that player alone."""
    alone = len(players) == 1
    sections = "".join(_section(figures, before) for figures in players)
    overview = "" if alone else _overview(players)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(lesson.title)}</title><style>{_STYLE}</style></head><body>"
        f"<h1>{escape(lesson.title)}</h1>{_facts(lesson)}{overview}{sections}"
        f'<p class="small">{escape(RULE)}</p></body></html>\n'
    )


def _facts(lesson: Lesson) -> str:
    kind = "Rehearsal: no ball flew. " if lesson.rehearsal else ""
    seed = "" if lesson.seed is None else f" Seed of the plan's chance: {lesson.seed}."
    left = len(lesson.balls)
    odd = []
    if lesson.not_sent:
        odd.append(f"{lesson.not_sent} were called off before they left")
    if lesson.unknown:
        odd.append(f"of {lesson.unknown} it is not known whether they left")
    tail = f" ({'; '.join(odd)})" if odd else ""
    return (
        f'<p class="facts">{kind}Lesson {lesson.number}, {day(lesson.begun_utc_s)}. '
        f"{left} balls left the launcher{tail}.{seed}</p>"
    )


def _overview(players: tuple[PlayerFigures, ...]) -> str:
    rows = "".join(
        f"<tr><td>{_name(one)}</td><td>{one.whole.balls}</td><td>{one.whole.recorded}</td>"
        f"<td>{percent(one.whole.share_in)}</td><td>{_change(one)}</td>"
        f"<td>{one.whole.next_step.value}</td></tr>"
        for one in players
    )
    return (
        "<table><thead><tr><th>Player</th><th>Balls</th><th>Recorded</th><th>In the target</th>"
        "<th>Since last time</th><th>Suggestion</th></tr></thead>"
        f"<tbody>{rows}</tbody></table>"
    )


def _name(one: PlayerFigures) -> str:
    return escape(one.player or "Nobody in particular")


def _change(one: PlayerFigures) -> str:
    if one.share_before is None or one.whole.share_in is None:
        return "–"
    points = round(100 * one.whole.share_in) - round(100 * one.share_before)
    return f"{points:+d} points" if points else "no change"


def _section(one: PlayerFigures, before: Lesson | None) -> str:
    whole = one.whole
    if whole.recorded:
        told = (
            f"{whole.made} of {whole.recorded} recorded balls in the target "
            f"({percent(whole.share_in)})."
        )
        told += _repeat_words(whole)
    else:
        told = f"{whole.balls} balls, none recorded."
    since = ""
    if before is not None and one.share_before is not None:
        since = (
            f"<p>Last time ({day(before.begun_utc_s)}): {percent(one.share_before)} in the target; "
            f"{_change(one)}.</p>"
        )
    return (
        f"<section><h2>{_name(one)}</h2><p>{told}</p>{since}{_charts(whole)}{_feeds(one)}"
        f'<p class="next">{_ADVICE[whole.next_step]}</p></section>'
    )


def _repeat_words(whole: Figures) -> str:
    if not whole.repeat_chances:
        return ""
    return (
        f" After an error, the next error was the same one {whole.repeats} of "
        f"{whole.repeat_chances} times."
    )


def _charts(whole: Figures) -> str:
    if not whole.recorded:
        return ""
    return (
        f'<div class="charts"><figure>{error_rose(whole)}'
        "<figcaption>Where the balls went, as the player sees the court</figcaption></figure>"
        f"<figure>{trend_bars(whole)}"
        "<figcaption>Share in the target, by quarter of the balls</figcaption></figure></div>"
    )


def _feeds(one: PlayerFigures) -> str:
    heads = "".join(f"<th>{error.value.capitalize()}</th>" for error in ERRORS)
    rows = "".join(
        f"<tr><td>{escape(feed)}</td><td>{numbers.balls}</td><td>{percent(numbers.share_in)}</td>"
        + "".join(f"<td>{numbers.errors[error]}</td>" for error in ERRORS)
        + f"<td>{_repeated(numbers)}</td></tr>"
        for feed, numbers in one.by_feed.items()
    )
    return (
        f"<table><thead><tr><th>Feed</th><th>Balls</th><th>In</th>{heads}"
        f"<th>Errors repeated</th></tr></thead><tbody>{rows}</tbody></table>"
    )


def _repeated(numbers: Figures) -> str:
    return f"{numbers.repeats} of {numbers.repeat_chances}" if numbers.repeat_chances else "–"


def report_csv(lesson: Lesson, player: str | None = None) -> str:
    """One row a ball that left; of one player, or of everyone."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["lesson", "ball", "left_utc_s", "feed", "player", "result"])
    for ball in lesson.balls:
        if player is None or ball.player == player:
            made = ball.result.value if ball.result else ""
            left = f"{ball.left_utc_s:.3f}"
            writer.writerow([lesson.number, ball.number, left, ball.feed, ball.player or "", made])
    return out.getvalue()


def report_json(lesson: Lesson, players: tuple[PlayerFigures, ...]) -> dict[str, Any]:
    """The report's figures as plain data."""
    return {
        "lesson": lesson.number,
        "title": lesson.title,
        "rehearsal": lesson.rehearsal,
        "begun_utc_s": lesson.begun_utc_s,
        "ended_utc_s": lesson.ended_utc_s,
        "ending": lesson.ending,
        "seed": lesson.seed,
        "balls": len(lesson.balls),
        "not_sent": lesson.not_sent,
        "unknown": lesson.unknown,
        "players": [_player_json(one) for one in players],
    }


def _player_json(one: PlayerFigures) -> dict[str, Any]:
    return {
        "player": one.player,
        "share_in_before": one.share_before,
        **_figures_json(one.whole),
        "feeds": {feed: _figures_json(numbers) for feed, numbers in one.by_feed.items()},
    }


def _figures_json(numbers: Figures) -> dict[str, Any]:
    return {
        "balls": numbers.balls,
        "recorded": numbers.recorded,
        "share_in": numbers.share_in,
        Result.IN.value: numbers.made,
        **{error.value: count for error, count in numbers.errors.items()},
        "errors_repeated": numbers.repeats,
        "errors_that_could_repeat": numbers.repeat_chances,
        "trend": list(numbers.trend),
        "suggestion": numbers.next_step.value,
    }
