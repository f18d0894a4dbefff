"""The pages of steps: what a lesson may not say."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.language.examples import program

NO_GAP = Page(
    slug="no-gap",
    title="A ball without its time",
    why="""Every ball says how long after the one before it leaves. The launcher needs the time to
set itself, the player to recover, and neither is guessed.""",
    wrong=program(steps="show speed of deep   send deep"),
    corrected=program(steps="show speed of deep   send deep after 5 s"),
)

ON_REQUEST = Page(
    slug="on-request",
    title="Balls on request without their limits",
    why="""`send deep when coach taps, at most 12, not before 3 s` lets a ball leave when the coach
taps. The check proves a lesson before a ball flies, so it must know how many balls there are at
most and how soon after the ball before it one may leave. Whoever taps sooner is made to wait.""",
    wrong=program(steps="show speed of deep   send deep when coach taps"),
    corrected=program(
        steps="show speed of deep   send deep when coach taps, at most 12, not before 5 s"
    ),
)

NESTED_TURNS = Page(
    slug="nested-turns",
    title="A turn within a turn",
    why="""`rotate group every` and `for each player` give every player a turn. Inside a turn there
is one player, so there is nobody to rotate.""",
    wrong=program(
        steps="show speed of deep   for each player {\n"
        "  rotate group every 1 min { send deep after 5 s } }",
        more="group { 2 players }",
    ),
    corrected=program(
        steps="show speed of deep   rotate group every 1 min { send deep after 5 s }",
        more="group { 2 players }",
    ),
)

NOBODY = Page(
    slug="nobody-there",
    title="Turns for somebody who is not in the group",
    why="""`for "Ana" { … }` gives turns to players, or to the players of a subgroup, that the group
names: `players "Ana", "Ben"`, `subgroup "little ones" "Ana"`. A name that nobody has would be a
turn that nobody takes; so would `for each player except` everybody.""",
    wrong=program(
        steps='show speed of deep   for "Anna" { send deep after 6 s }',
        more='group { players "Ana", "Ben" }',
    ),
    corrected=program(
        steps='show speed of deep   for "Ana" { send deep after 6 s }',
        more='group { players "Ana", "Ben" }',
    ),
)

BY_LEVEL = Page(
    slug="by-level",
    title="Feeds by level that leave somebody out",
    why="""`send by level { improver: easy  club: deep }` sends whoever is on turn the feed of
their own level, or of the group's where they have none. So every level that may be on turn there
needs a feed, or `otherwise` one for all that are not named; and it stands in somebody's turn.""",
    wrong=program(
        steps="show speed of deep   for each player { send by level { improver: deep } after 6 s }",
        more='group { player "Ana" { level club }  players "Ben"  level improver }',
    ),
    corrected=program(
        steps="show speed of deep   "
        "for each player { send by level { improver: deep  club: deep } after 6 s }",
        more='group { player "Ana" { level club }  players "Ben"  level improver }',
    ),
)

STATIONS = Page(
    slug="stations",
    title="Stations that get in each other's way",
    why="""Each station of a `together` has a launcher of its own, and a `together` cannot stand
inside another. With several launchers a station says which one is its own. `collect between` stands
at a `rotate` round several stations: it collects between their rounds.""",
    wrong=program(
        steps='show speed of deep   together { station "a" { send deep after 5 s } '
        'station "b" { send deep after 5 s } }'
    ),
    corrected=program(
        steps='show speed of deep   together { station "a" { send deep after 5 s } }'
    ),
)

EXERCISES = Page(
    slug="exercises",
    title="An exercise where none can be, or a title twice",
    why="""An exercise is a part of the lesson with a title of its own. On court it can be skipped,
repeated and jumped to, so it stands in the lesson itself, or in a pattern that the lesson calls:
not in a repeat, a choice, a turn, a station or another exercise. What is to be repeated, chosen or
taken in turns stands inside it.""",
    wrong=program(
        steps='show speed of deep   repeat 3 { exercise "Depth" { send deep after 5 s } }'
    ),
    corrected=program(
        steps='show speed of deep   exercise "Depth" { repeat 3 { send deep after 5 s } }'
    ),
)

WORK = Page(
    slug="work-by-themselves",
    title="Work that is no station's own",
    why="""`work "…"` is what players do by themselves at a station that has no launcher: shadowing,
serving, rallying. Such a station holds `work`, `say` and `rest`, and no ball is sent there. A
station that sends has a launcher, and its players take turns. In the lesson itself `work "…" for 3
min` is for the whole group: the launcher is off meanwhile, as in a `break`.""",
    wrong=program(
        steps="show speed of deep   rotate stations every 2 min {\n"
        '  station "drives" { send deep after 6 s  rest 9 s }\n'
        '  station "shadow" { work "Split steps."  send deep after 6 s } }',
        more="group { 4 players }",
    ),
    corrected=program(
        steps="show speed of deep   rotate stations every 2 min {\n"
        '  station "drives" { send deep after 6 s  rest 9 s }\n'
        '  station "shadow" { work "Split steps." } }',
        more="group { 4 players }",
    ),
)

TOO_LONG = Page(
    slug="too-long",
    title="A lesson of too many steps",
    why="""Patterns are written out where they are called. Patterns that call patterns several times
grow quickly: a lesson may come to 20,000 steps, far more than an hour can hold. A `repeat` counts
once, however often it runs.""",
    wrong=program(
        steps="show speed of deep   p17()",
        more="pattern p0() { send deep after 5 s  send deep after 5 s }\n"
        + "\n".join(f"pattern p{n}() {{ p{n - 1}()  p{n - 1}() }}" for n in range(1, 18)),
    ),
    corrected=program(
        steps="show speed of deep   repeat 6 { pair() }",
        more="pattern pair() { send deep after 5 s  send deep after 5 s }",
    ),
)

EMPTY = Page(
    slug="empty-block",
    title="A block without a step",
    why="""A repeat, a turn or a choice with nothing in it does nothing, and was hardly meant.""",
    wrong=program(steps="show speed of deep   send deep after 5 s   repeat 4 { }"),
    corrected=program(steps="show speed of deep   repeat 4 { send deep after 5 s }"),
)
