"""How big a lesson may be, so that every command ends while a person waits for it.

The figures are design values, far beyond any day on court, and nothing sets them aside. They are
looked at as soon as they can be told: the feeds before they are aimed, balls and hours from the
bounds of the plan's tree, and what meets before it is held against each other.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from feedscript.diagnostics import Diagnostic, Page, Span
from feedscript.memo import Memo, content
from feedscript.override import override
from feedscript.plan.bodies import within
from feedscript.plan.folds.fold import Algebra, Fold, Passes
from feedscript.plan.folds.pairs import meetings
from feedscript.plan.folds.steps_alone import steps_alone
from feedscript.plan.model import (
    Collect,
    Move,
    Plan,
    Rest,
    Say,
    Send,
    ShowSpeed,
    Station,
    Step,
    Together,
)

#: Balls that a launcher aims: every feed, as often as it varies, on every launcher that sends it.
MOST_FEEDS = 2_000
MOST_BALLS = 10_000
MOST_HOURS = 12
#: Whatever happens in a run: balls, rests, words, collects, turns, questions, rounds.
MOST_EVENTS = 100_000
#: Times that one ball may follow another, as written; each is held against the launcher.
MOST_PAIRS = 150_000
#: Feeds of one station beside those of another, and feeds beside the areas that are kept out.
MOST_NEIGHBOURS = 5_000

#: Balls that one command draws, over all its runs; and balls for each percentage of a test.
MOST_DRAWN = 2_000_000
MOST_DRAWN_ON_CLUSTER = 200_000_000
MOST_DRAWS = 1_000_000

TOO_BIG = Page(
    slug="too-big",
    title="A lesson bigger than any",
    why=f"""A lesson comes to {MOST_BALLS:,} balls and {MOST_HOURS} hours at most, has
{MOST_FEEDS:,} aimed feeds (each variation and each launcher counts), {MOST_EVENTS:,} events of any
kind, {MOST_PAIRS:,} ways in which one ball may follow another, and {MOST_NEIGHBOURS:,} feeds beside
another station's feeds or an area that is kept out. Design values, far beyond a day on court: what
is bigger is a mistake in a `repeat`, and nobody could look it over. Never set aside.""",
    wrong="""feedscript 1
feed deep { land 2 m inside baseline, on centre line  speed 66 km/h }
lesson { show speed of deep  repeat 200 { repeat 60 { send deep after 4 s }  collect } }
""",
    corrected="""feedscript 1
feed deep { land 2 m inside baseline, on centre line  speed 66 km/h }
lesson { show speed of deep  repeat 20 { repeat 60 { send deep after 4 s }  collect } }
""",
)


_SHORTER = "repeat less, or split it into several lessons"


def too_many_feeds(count: int, span: Span | None) -> Diagnostic | None:
    """Too many feeds to aim, told before any is."""
    if count <= MOST_FEEDS:
        return None
    what = f"the program aims {_number(count)} feeds, and {_number(MOST_FEEDS)} are the most"
    return TOO_BIG.report(what, help="split it into several programs", span=span)


def too_big(plan: Plan, span: Span | None, memo: Memo | None = None) -> Diagnostic | None:
    """The first way in which a plan with its bounds is too big; None where there is none.

    ``memo`` is of earlier checks.
    """
    excess = next(_past_bounds(plan), None)
    if excess is None:
        alone = steps_alone(plan)
        memo = Memo() if memo is None else memo
        excess = memo.one("too big", content(alone), lambda: next(_excesses(alone), None))
    return None if excess is None else TOO_BIG.report(excess[0], help=excess[1], span=span)


def most_runs(plan: Plan, balls: int = MOST_DRAWN) -> int:
    """How many whole runs of a plan may be drawn at once, of so many balls."""
    return balls // max(plan.bounds.balls[1], 1)


def _past_bounds(plan: Plan) -> Iterator[tuple[str, str]]:
    """Balls and hours; they may be more than anything writes down."""
    balls, seconds = plan.bounds.most_balls, plan.bounds.time_s[1]
    if balls > MOST_BALLS:
        what = (
            f"the lesson can come to {_number(balls)} balls, and {_number(MOST_BALLS)} are the most"
        )
        yield what, _SHORTER
    if seconds > MOST_HOURS * 3600:
        what = f"the lesson can run {_number(seconds / 3600)} hours, and {MOST_HOURS} are the most"
        yield what, _SHORTER


def _excesses(plan: Plan) -> Iterator[tuple[str, str]]:
    """What no bound says: things that happen, and ways in which balls meet."""
    events = Fold(plan, _Events()).whole()
    if events > MOST_EVENTS:
        what = (
            f"{_number(events)} things can happen in the lesson (balls, rests, words, collects, "
            f"rounds), and {_number(MOST_EVENTS)} are the most"
        )
        yield what, _SHORTER
    if meetings(plan, MOST_PAIRS) > MOST_PAIRS:
        what = (
            f"there are more than {_number(MOST_PAIRS)} ways in which one ball may follow another"
        )
        yield what, "choose among fewer feeds at a time"
    beside = _neighbours(plan)
    if beside > MOST_NEIGHBOURS:
        what = (
            f"{_number(beside)} times a feed stands beside another station's feed or a kept-out "
            f"area, and {_number(MOST_NEIGHBOURS)} are the most"
        )
        yield what, "send fewer feeds at stations side by side, or join the areas"


def _number(value: float) -> str:
    """A number as a person reads it, however great."""
    if value >= 1e15:
        return f"{float(value):.1e}"
    return f"{value:,.0f}".replace(",", " ")


class _Events(Algebra[int]):
    """The most things that can happen in a run."""

    @override
    def nothing(self) -> int:
        return 0

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> int:
        return 1

    @override
    def show_speed(self, step: ShowSpeed) -> int:
        return 1

    @override
    def rest(self, step: Rest) -> int:
        return 1

    @override
    def say(self, step: Say) -> int:
        return 1

    @override
    def move(self, step: Move) -> int:
        return 1

    @override
    def collect(self, step: Collect) -> int:
        return 1

    @override
    def then(self, before: int, after: int) -> int:
        return before + after

    @override
    def either(self, ways: Sequence[int]) -> int:
        return 1 + max(ways)

    @override
    def passes(self, body: int, passes: Passes) -> int:
        return (body + 1) * passes.most

    @override
    def any_order(self, items: Sequence[int]) -> int:
        return sum(items)

    @override
    def padded(self, body: int, to_ms: int) -> int:
        return body

    @override
    def beside(self, stations: Sequence[tuple[Station, int]], for_ms: int) -> int:
        return sum(body for _, body in stations)


def _neighbours(plan: Plan) -> int:
    side_by_side = 0
    for step in within(plan.steps):
        if isinstance(step, Together):
            sent = [len(_feeds(station.body)) for station in step.stations]
            side_by_side += sum(one * other for one, other in combinations(sent, 2))
    return side_by_side + len(plan.feeds) * len(plan.keep_outs)


def _feeds(steps: Sequence[Step]) -> set[int]:
    return {feed for step in within(steps) if isinstance(step, Send) for feed in step.all_feeds()}
