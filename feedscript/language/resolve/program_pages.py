"""The pages of what is wrong with a program as a whole."""

from __future__ import annotations

from feedscript.diagnostics import Page, Severity
from feedscript.language.examples import program

NO_LESSON = Page(
    slug="no-lesson",
    title="A program without a lesson",
    why="""The lesson is what runs. A file of feeds and patterns alone can be used by other
programs, but it cannot be checked or run by itself.""",
    wrong='feedscript 1\ntitle "Feeds"\nfeed deep { land 2 m inside baseline, on centre line  '
    "speed 70 km/h }\n",
    corrected=program(),
)

ASSUMED = Page(
    slug="assumed",
    title="Something taken for granted",
    severity=Severity.NOTE,
    why="""Some things have a usual value: without `court` the court is a singles court at sea
level in air of 20 C, without `balls` the balls are of type 2, without `launcher` it
stands 1 m behind the centre mark. What is assumed is said, so that nobody trusts a
figure that rests on it.""",
    wrong='feedscript 1\ntitle "x"\n'
    "feed deep { land 2 m inside baseline, on centre line  speed 70 km/h  spin top 600 rpm }\n"
    "lesson { show speed of deep   send deep after 5 s }\n",
    corrected=program(),
)

UNCLOSED_TEXT = Page(
    slug="unclosed-text",
    title="Words without their closing mark",
    why="""Words in quotation marks end on the line on which they begin. The marks may be straight
or curly.""",
    wrong=program(steps='show speed of deep   say "Ready\n send deep after 5 s'),
    corrected=program(steps='show speed of deep   say "Ready"\n send deep after 5 s'),
)
