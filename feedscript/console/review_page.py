"""The review of a lesson that is over, as `feedscript review` would write it."""

from __future__ import annotations

from pathlib import Path

from feedscript.journal.store import read_journal
from feedscript.review.report.html import report_html, review_of
from feedscript.review.report.lesson import earlier_lessons, read_lesson
from feedscript.tongues.tongue import Tongue

#: The report is one file with its style in it, and holds no script.
REVIEW_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)


def review_page(journal_path: str, lesson: int, tongue: Tongue, opens: str = "") -> str:
    """The whole report as HTML in a language, as the journal has the lesson now. ``opens``: where
    its program is opened with what is suggested, if it can be.

    Opens the journal anew and only to read, so that any thread may ask. Raises FeedscriptError
    when the journal cannot be read, or was kept in memory alone.
    """
    journal = read_journal(Path(journal_path))
    try:
        whole = read_lesson(journal, lesson)
        earlier = earlier_lessons(journal, whole)
        return report_html(review_of(whole, earlier, sheet=False, opens=opens), tongue)
    finally:
        journal.close()
