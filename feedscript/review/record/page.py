"""A player's record as a page for the coach."""

from __future__ import annotations

from feedscript.review.record import forms
from feedscript.review.record.figures import Counted, Record
from feedscript.review.record.trends import Trend
from feedscript.review.report.charts import error_rose, lessons_line
from feedscript.review.report.figures import Share
from feedscript.review.report.lesson import ERRORS
from feedscript.review.report.paper import Table, drawn, notes_list, paper, prose, scrolled, table
from feedscript.review.report.words import balls, feed_name, iso, percent, span

#: So many lessons are drawn, and so many stand in the table; the files hold them all.
LESSONS_DRAWN = 16
LESSONS_LISTED = 40


def record_html(record: Record) -> str:
    """The whole page."""
    whole = record.whole
    share = f"in court {forms.of(whole.share)}; {forms.way(record.trend)}{forms.in_target(whole)}"
    said = f"{balls(whole.balls)} fed; {share}."
    body = (
        f"<p>{prose(said)}</p><p>{prose(_as_sentence(forms.streaks(whole)))}</p>"
        f"{_climbs(record)}"
        f"{_charts(record)}"
        f"<h2>By kind of ball</h2>{table(*_kinds(record))}"
        f"<h2>Errors</h2>{table(*_errors(record))}"
        f"<h2>Lessons</h2>{_listed(record)}{table(*_lessons(record))}"
        f"{notes_list([*_unread(record), *forms.NOTES])}"
    )
    return paper(forms.title(record), forms.facts(record.history), body, "record")


def _climbs(record: Record) -> str:
    """Where the player stands in each progression."""
    return "".join(f"<p>{prose(_as_sentence(one))}</p>" for one in forms.climbs(record))


def _unread(record: Record) -> list[str]:
    return [f"Not read: {one.message}" for one in record.history.passed_over]


def _as_sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


def _charts(record: Record) -> str:
    recorded = [one for one in record.lessons if one.whole.share.recorded]
    if not recorded:
        return ""
    shares = [(one.lesson.begun_utc_s, one.whole.share) for one in recorded[-LESSONS_DRAWN:]]
    line = ("lessons", "Share in court, lesson by lesson", lessons_line(shares))
    counts = {error: share.made for error, share in record.whole.errors.items()}
    rose = error_rose(record.whole.share.made, counts)
    long = scrolled(drawn([line]), "lessons", "line")
    return long + drawn([("errors", "Where the balls went, as the player sees the court", rose)])


def _kinds(record: Record) -> Table:
    heads = ("Kind of ball", "Balls", "In", "Range", "In target", "Longest streak", "Trend")
    rows = [
        (
            feed_name(name),
            str(kind.counted.balls),
            percent(kind.counted.share.value),
            span(kind.counted.share.interval),
            _in_target(kind.counted),
            _longest(kind.counted),
            _trend(kind.trend),
        )
        for name, kind in record.kinds.items()
    ]
    return heads, rows


def _in_target(found: Counted) -> str:
    """The share in the target with its range; a stroke where no ball had one."""
    hits = found.in_target
    return f"{percent(hits.value)}, {span(hits.interval)}" if hits.recorded else "–"


def _longest(found: Counted) -> str:
    return str(found.longest.balls) if found.longest else "–"


def _trend(trend: Trend) -> str:
    """A trend for a table: in full only where there is one."""
    return forms.way(trend) if trend.found else trend.way.value


def _errors(record: Record) -> Table:
    heads = ("Error", "Count", "Of", "Share", "Range", "Trend")
    named = [
        (error.value.capitalize(), record.whole.errors[error], record.error_trends[error])
        for error in ERRORS
    ]
    named.append(("Errors repeated by the next ball", record.whole.repeats, record.repeats_trend))
    return heads, [(name, *_cells(share), _trend(trend)) for name, share, trend in named]


def _cells(share: Share) -> tuple[str, str, str, str]:
    return str(share.made), str(share.recorded), percent(share.value), span(share.interval)


def _listed(record: Record) -> str:
    more = len(record.lessons) - LESSONS_LISTED
    return f"<p>The latest {LESSONS_LISTED}; {more} more stand in the CSV.</p>" if more > 0 else ""


def _lessons(record: Record) -> Table:
    heads = ("Day", "Balls", "In", "Range", "Longest streak", "Lesson")
    rows = [
        (
            iso(one.lesson.begun_utc_s)[:10].replace("-", "\N{NON-BREAKING HYPHEN}"),
            str(one.whole.balls),
            percent(one.whole.share.value),
            span(one.whole.share.interval),
            _longest(one.whole),
            one.lesson.title,
        )
        for one in record.lessons[-LESSONS_LISTED:]
    ]
    return heads, rows
