"""A player's record as a page for the coach."""

from __future__ import annotations

from html import escape

from feedscript.review.record import forms
from feedscript.review.record.figures import Counted, Record
from feedscript.review.record.trends import Trend, Way
from feedscript.review.report.charts import error_rose, lessons_line
from feedscript.review.report.figures import Share
from feedscript.review.report.lesson import ERRORS
from feedscript.review.report.paper import Table, drawn, notes_list, paper, prose, scrolled, table
from feedscript.review.report.words import balls, feed_name, iso, percent, span
from feedscript.tongues import terms
from feedscript.tongues.text import _, joined, p_
from feedscript.tongues.tongue import IN_ENGLISH, Tongue

#: So many lessons are drawn, and so many stand in the table; the files hold them all.
LESSONS_DRAWN = 16
LESSONS_LISTED = 40


def record_html(record: Record, tongue: Tongue = IN_ENGLISH) -> str:
    """The whole page, in a language."""

    def head(words: str) -> str:
        return f"<h2>{escape(tongue(words))}</h2>"

    whole = record.whole
    trend = joined("", [forms.way(record.trend), forms.in_target(whole)])
    share = {"share": forms.of(whole.share), "trend": trend}
    said = _("{balls} fed; in court {share}; {trend}.", balls=balls(whole.balls), **share)
    notes = [*_unread(record), *forms.NOTES]
    kinds, errors, lessons = head(_("By kind of ball")), head(_("Errors")), head(_("Lessons"))
    body = (
        f"<p>{prose(said, tongue)}</p>"
        f"<p>{prose(_as_sentence(tongue(forms.streaks(whole))))}</p>"
        f"{_climbs(record, tongue)}"
        f"{_charts(record, tongue)}"
        f"{kinds}{table(*_kinds(record), tongue)}"
        f"{errors}{table(*_errors(record), tongue)}"
        f"{lessons}{_listed(record, tongue)}{table(*_lessons(record), tongue)}"
        f"{notes_list(notes, tongue)}"
    )
    return paper(forms.title(record), forms.facts(record.history), body, "record", tongue)


def _climbs(record: Record, tongue: Tongue) -> str:
    """Where the player stands in each progression."""
    climbs = (_as_sentence(tongue(one)) for one in forms.climbs(record))
    return "".join(f"<p>{prose(one)}</p>" for one in climbs)


def _unread(record: Record) -> list[str]:
    return [_("Not read: {what}", what=one.message) for one in record.history.passed_over]


def _as_sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


def _charts(record: Record, tongue: Tongue) -> str:
    recorded = [one for one in record.lessons if one.whole.share.recorded]
    if not recorded:
        return ""
    shares = [(one.lesson.begun_utc_s, one.whole.share) for one in recorded[-LESSONS_DRAWN:]]
    line = ("lessons", _("Share in court, lesson by lesson"), lessons_line(shares))
    counts = {error: share.made for error, share in record.whole.errors.items()}
    rose = error_rose(record.whole.share.made, counts)
    long = scrolled(drawn([line], tongue), tongue(_("lessons")), "line")
    caption = _("Where the balls went, as the player sees the court")
    return long + drawn([("errors", caption, rose)], tongue)


def _kinds(record: Record) -> Table:
    heads = (
        _("Kind of ball"),
        _("Balls"),
        _("In"),
        _("Range"),
        _("In target"),
        _("Longest streak"),
        _("Trend"),
    )
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
    if not hits.recorded:
        return "–"
    return joined(", ", [percent(hits.value), span(hits.interval)])


def _longest(found: Counted) -> str:
    return str(found.longest.balls) if found.longest else "–"


def _trend(trend: Trend) -> str:
    """A trend for a table: in full only where there is one."""
    return forms.way(trend) if trend.found else _WAYS[trend.way]


_WAYS = {
    Way.UP: p_("trend", "up"),
    Way.DOWN: p_("trend", "down"),
    Way.NONE: _("no clear trend"),
    Way.TOO_FEW: _("too few lessons to say"),
}


def _errors(record: Record) -> Table:
    heads = (_("Error"), _("Count"), _("Of"), _("Share"), _("Range"), _("Trend"))
    named = [
        (terms.result_head(error), record.whole.errors[error], record.error_trends[error])
        for error in ERRORS
    ]
    named.append(
        (_("Errors repeated by the next ball"), record.whole.repeats, record.repeats_trend)
    )
    return heads, [(name, *_cells(share), _trend(trend)) for name, share, trend in named]


def _cells(share: Share) -> tuple[str, str, str, str]:
    return str(share.made), str(share.recorded), percent(share.value), span(share.interval)


def _listed(record: Record, tongue: Tongue) -> str:
    more = len(record.lessons) - LESSONS_LISTED
    if more <= 0:
        return ""
    said = _("The latest {n}; {more} more stand in the CSV.", n=LESSONS_LISTED, more=more)
    return f"<p>{escape(tongue(said))}</p>"


def _lessons(record: Record) -> Table:
    heads = (
        _("Day"),
        _("Balls"),
        _("In"),
        _("Range"),
        _("Longest streak"),
        _("Lesson"),
    )
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
