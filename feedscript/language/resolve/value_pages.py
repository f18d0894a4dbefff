"""The pages of values: kinds, units, numbers and ranges."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.language.examples import program

WRONG_DIMENSION = Page(
    slug="wrong-dimension",
    title="A length where a speed belongs",
    why="""Every value is a length, a speed, a spin, a time, an angle, a temperature, a share or a
plain count, and only the kind that a place asks for may stand there. Like kinds may be added; a
length divided by a time is a speed, a speed times a time is a length.""",
    wrong=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km }"),
    corrected=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }"),
)

NO_UNIT = Page(
    slug="no-unit",
    title="A number without its unit",
    why="""70 may be km/h or mph: a speed, a length, a spin or a time is never guessed. Counts
(`repeat 6`) and weights have no unit.""",
    wrong=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 }"),
    corrected=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }"),
)

BAD_NUMBER = Page(
    slug="bad-number",
    title="A number that can be read in two ways",
    why="""A decimal point is a full stop, and thousands have no mark: in `0,6` and `1,200` the
comma could mean either, and it also separates the parts of a list. `1.200 rpm` is 1200 in some
languages and hardly more than one in others.""",
    wrong=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70,5 km/h }"),
    corrected=program(
        feed="feed deep { land 2 m inside baseline, on centre line  speed 70.5 km/h }"
    ),
)

UNIT_APART = Page(
    slug="unit-apart",
    title="A unit written apart",
    why="""`km/h` and `m/s` are one word each. With blanks around the stroke it is a division, and
`h` a name.""",
    wrong=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km / h }"),
    corrected=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }"),
)

OUT_OF_RANGE = Page(
    slug="out-of-range",
    title="A number outside its range",
    why="""Some numbers have a range by their meaning: a repeat runs at least once, a share lies
between 0 and 100 %, a ball is not sent before the one before it.""",
    wrong=program(steps="show speed of deep   repeat 0 { send deep after 4 s }"),
    corrected=program(steps="show speed of deep   repeat 1 { send deep after 4 s }"),
)

NOT_WHOLE = Page(
    slug="not-whole",
    title="A count that is not whole",
    why="""Rounds, balls, players and weights are counted: they are whole numbers, and rounding one
would change the lesson in silence.""",
    wrong=program(steps="show speed of deep   repeat 2.5 { send deep after 4 s }"),
    corrected=program(steps="show speed of deep   repeat 3 { send deep after 4 s }"),
)

DIVIDED_BY_ZERO = Page(
    slug="divided-by-zero",
    title="A division by nothing",
    why="""A value divided by zero is no value, and a time or a speed that comes out of one
would mean anything.""",
    wrong=program(steps="show speed of deep   send deep after 8 s / 0"),
    corrected=program(steps="show speed of deep   send deep after 8 s / 2"),
)

CIRCLE = Page(
    slug="circle",
    title="Definitions in a circle",
    why="""A value or feed that is defined by itself, directly or through others, has no meaning.
The message names every step of the circle.""",
    wrong=program(more="let a = b + 1 s\nlet b = a + 1 s"),
    corrected=program(
        more="let a = b + 1 s\nlet b = 3 s", steps="show speed of deep send deep after a"
    ),
)

TOO_DEEP = Page(
    slug="too-deep",
    title="Too many layers",
    why="""Brackets within brackets, blocks within blocks and patterns that call patterns may be 40
layers deep. No lesson needs more, and nobody could read it.""",
    wrong=program(more=f"let a = {'(' * 50}4 s{')' * 50}"),
    corrected=program(more="let a = (4 s)", steps="show speed of deep   send deep after a"),
)
