"""The report of a lesson as one HTML page that stands alone: nothing is fetched, nothing runs.

With a lesson of one player (``lesson_of_player``) it is that player's sheet, to be handed out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from urllib.parse import quote

import msgspec

from feedscript.review.report import words
from feedscript.review.report.charts import charts_of, charts_of_feed
from feedscript.review.report.figures import (
    Figures,
    NextStep,
    PlayerFigures,
    feed_figures,
    player_figures,
)
from feedscript.review.report.film.section import film_section
from feedscript.review.report.lesson import ERRORS, Lesson
from feedscript.review.report.paper import Table, drawn, notes_list, paper, prose, table
from feedscript.tongues import terms
from feedscript.tongues.text import _, joined, listed
from feedscript.tongues.tongue import IN_ENGLISH, Tongue


class Review(msgspec.Struct, frozen=True):
    """A lesson with its figures. ``sheet``: of one player, to be handed out. ``opens``: the address
    at which its program is opened with what is suggested; "" where there is none."""

    lesson: Lesson
    players: tuple[PlayerFigures, ...]
    feeds: dict[str, Figures]
    sheet: bool
    opens: str = ""

    @property
    def title(self) -> str:
        """What stands above it."""
        if self.sheet and self.players:
            name = words.name_of(self.players[0].player)
            return _("{name}: {title}", name=name, title=self.lesson.title)
        return self.lesson.title

    @property
    def notes(self) -> Sequence[str]:
        """What explains the figures to this reader."""
        return words.SHEET_NOTES if self.sheet else words.NOTES


def review_of(lesson: Lesson, earlier: Sequence[Lesson], *, sheet: bool, opens: str = "") -> Review:
    """The figures of a lesson beside those before it; ``opens`` as in :class:`Review`."""
    return Review(lesson, player_figures(lesson, earlier), feed_figures(lesson), sheet, opens)


def report_html(review: Review, tongue: Tongue = IN_ENGLISH) -> str:
    """The whole page, in a language."""
    lesson = review.lesson
    sections = "".join(_section(one, review, tongue) for one in review.players)
    notes = notes_list(review.notes, tongue)
    if review.sheet:
        body = f"{sections}{notes}"
    else:
        films = film_section(lesson, tongue)
        feeds = _feed_sections(review, tongue)
        body = f"{_overview(review, tongue)}{notes}{sections}{feeds}{films}"
    facts = words.facts(lesson, sheet=review.sheet)
    return paper(review.title, facts, body, "sheet" if review.sheet else "coach", tongue)


def player_table(review: Review) -> Table:
    """Heads and rows: everyone beside one another."""
    heads = (
        _("Player"),
        _("Balls"),
        _("In court"),
        _("Range"),
        _("Since last time"),
        _("Waited an hour"),
        _("Suggestion"),
    )
    rows = [
        (
            words.name_of(one.player),
            str(one.whole.balls),
            words.percent(one.whole.share.value),
            words.span(one.whole.share.interval),
            words.change_cell(one),
            words.waiting_cell(one.waiting),
            words.step_cell(one.whole),
        )
        for one in review.players
    ]
    return heads, rows


def feed_table(feeds: Mapping[str, Figures], *, sheet: bool) -> Table:
    """Heads and rows: feed by feed, on a sheet without what needs the coach's notes."""
    errors = tuple(terms.result_head(error) for error in ERRORS)
    if sheet:
        heads: Sequence[str] = (_("Kind of ball"), _("Balls"), _("In"), *errors)
        return heads, [_feed_row(*item)[:3] + _counts(item[1]) for item in feeds.items()]
    heads = (
        _("Feed"),
        _("Balls"),
        _("In"),
        _("Range"),
        *errors,
        _("Repeated"),
        _("Suggestion"),
    )
    return heads, [_feed_row(*item) for item in feeds.items()]


def whole_feed_table(review: Review) -> Table:
    """Heads and rows: feed by feed over everyone; a next step is a matter of one player."""
    heads, rows = feed_table(review.feeds, sheet=False)
    return heads[:-1], [row[:-1] for row in rows]


def exercise_table(lesson: Lesson) -> Table:
    """Heads and rows: each time an exercise was on, in order."""
    rows = [
        (one.title, words.duration_cell(one), words.HOW_ENDED[one.how]) for one in lesson.exercises
    ]
    return (_("Exercise"), _("Minutes"), _("How it ended")), rows


def goal_table(lesson: Lesson) -> Table:
    """Heads and rows: each player and goal, in each go at an exercise."""
    rows = [
        (
            words.go_at(one.exercise, one.play),
            words.name_of(one.player),
            one.goal,
            _("no") if one.met_by is None else _("yes, with ball {n}", n=one.met_by),
            joined(", ", (_("{n} of {all}", n=made, all=of) for made, of in one.turns)),
            str(one.longest_row),
        )
        for one in lesson.aims.tried
    ]
    heads = (
        _("Exercise"),
        _("Player"),
        _("Goal"),
        _("Met"),
        _("Turn by turn"),
        _("Longest row"),
    )
    return heads, rows


def game_table(lesson: Lesson) -> Table:
    """Heads and rows: how each game stood at the end."""
    rows = [
        (
            words.go_at(one.exercise, one.play),
            listed(words.name_of(player) for player in one.players),
            _("{n} to {m}", n=one.points, m=one.against),
            words.how_a_game_ended(one),
        )
        for one in lesson.aims.games
    ]
    return (_("Exercise"), _("Players"), _("Score"), _("Game")), rows


def climb_table(lesson: Lesson) -> Table:
    """Heads and rows: where each player's progressions led."""
    name = words.feed_name
    rows = [
        (one.player, name(one.progression), name(one.first), name(one.last))
        for one in lesson.climbs
    ]
    return (_("Player"), _("Progression"), _("Began on"), _("Ended on")), rows


def _overview(review: Review, tongue: Tongue) -> str:
    lesson, aims = review.lesson, review.lesson.aims
    tables = (
        (exercise_table(lesson), bool(lesson.exercises)),
        (player_table(review), True),
        (goal_table(lesson), bool(aims.tried)),
        (game_table(lesson), bool(aims.games)),
        (climb_table(lesson), bool(lesson.climbs)),
        (whole_feed_table(review), len(review.players) > 1),
    )
    return "".join(table(*one, tongue) for one, wanted in tables if wanted)


def _section(one: PlayerFigures, review: Review, tongue: Tongue) -> str:
    head = "" if review.sheet else f"<h2>{escape(tongue(words.name_of(one.player)))}</h2>"
    lesson = review.lesson
    climbs = [
        joined("", [words.climb(way), "."]) for way in lesson.climbs if way.player == one.player
    ]
    said = joined(" ", [*words.told(one, sheet=review.sheet), *climbs])
    charts = charts_of(one, lesson.begun_utc_s, lesson.court, sheet=review.sheet)
    feeds = table(*feed_table(one.by_feed, sheet=review.sheet), tongue)
    step = _advice(one, review, tongue) if one.whole.share.recorded else ""
    pictures = drawn(charts, tongue)
    return (
        f'<section class="player">{head}<p>{prose(said, tongue)}</p>{step}{pictures}{feeds}'
        "</section>"
    )


def _advice(one: PlayerFigures, review: Review, tongue: Tongue) -> str:
    """What might come next, and the way to it in the program's words."""
    advice, link = escape(tongue(words.ADVICE[one.whole.next_step])), ""
    if review.opens and one.whole.next_step in (NextStep.HARDER, NextStep.EASIER):
        address = f"{review.opens}&player={quote(one.player or '')}"
        shows = escape(tongue(_("Show it in the program")))
        link = f' <a href="{escape(address)}">{shows}</a>'
    return f'<p class="next">{advice}{link}</p>'


def _feed_sections(review: Review, tongue: Tongue) -> str:
    """Each feed over everyone; with one player it would say the same again."""
    if len(review.players) < 2:
        return ""
    sections = "".join(
        f"<section><h3>{escape(tongue(words.feed_name(feed)))}</h3>"
        f"<p>{prose(joined(' ', words.told_of_feed(numbers)), tongue)}</p>"
        f"{drawn(charts_of_feed(numbers, review.lesson.court), tongue)}</section>"
        for feed, numbers in review.feeds.items()
    )
    head = tongue(_("Feed by feed, everyone"))
    return f'<section class="player"><h2>{escape(head)}</h2>{sections}</section>'


def _feed_row(feed: str, numbers: Figures) -> tuple[str, ...]:
    return (
        words.feed_name(feed),
        str(numbers.balls),
        words.percent(numbers.share.value),
        words.span(numbers.share.interval),
        *_counts(numbers),
        words.repeated_cell(numbers),
        words.step_cell(numbers),
    )


def _counts(numbers: Figures) -> tuple[str, ...]:
    return tuple(str(numbers.errors[error]) for error in ERRORS)
