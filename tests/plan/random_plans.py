"""Small random plans of every construct, and every run that one of them can have."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import msgspec
from hypothesis import strategies as st

from feedscript.plan.bodies import within
from feedscript.plan.folds.bounds import Extents
from feedscript.plan.folds.fold import Context, Fold
from feedscript.plan.interpreter.actions import (
    Action,
    Ask,
    At,
    Jump,
    OnTurn,
    Reply,
    SendBall,
    TakeTurn,
)
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import (
    GOOD,
    Choose,
    Collect,
    Condition,
    Exercise,
    Fed,
    Move,
    OnRequest,
    Option,
    Plan,
    Progression,
    Repeat,
    Result,
    Send,
    ShowSpeed,
    Shuffle,
    Station,
    Step,
    Together,
    Turns,
    Until,
    When,
)
from feedscript.plan.scene import Player, left_handed
from tests.plan.small_plans import feed, plan, rest

FEEDS = (
    feed("a", 0, 20.0),
    feed("b", 0, 25.0),
    feed("c", 0, 30.0),
    feed("d", 1, 22.0),
    feed("e", 1, 35.0),
    feed("f", 2, 28.0),
)
OF_LAUNCHER = ((0, 1, 2), (3, 4), (5,))
PROGRESSIONS = (Progression(name="pace", rungs=("easy", "hard")),)
HANDS = st.sampled_from(
    [
        (),
        (Player(name="r"),),
        (Player(name="l", left_handed=True),),
        (Player(name="r"), Player(name="l", left_handed=True)),
        (Player(name="r"), Player(name="k", kind=1)),
        (Player(name="k", left_handed=True, kind=1),),
    ]
)
WHOLE_TENTHS = st.integers(0, 30).map(lambda tenths: tenths / 10)


class TooManyRuns(Exception):  # noqa: N818 - it ends a search
    """A plan with more runs than a test has time for."""


@dataclass
class Decisions:
    """One way through every decision; counts up to the next way."""

    taken: list[int] = field(default_factory=list)
    ways: list[int] = field(default_factory=list)
    at: int = 0

    def pick(self, ways: int) -> int:
        if ways == 1:
            return 0
        if self.at == len(self.taken):
            self.taken.append(0)
            self.ways.append(ways)
        self.at += 1
        return self.taken[self.at - 1]

    def to_the_next(self) -> bool:
        while self.taken and self.taken[-1] + 1 == self.ways[-1]:
            self.taken.pop()
            self.ways.pop()
        if not self.taken:
            return False
        self.taken[-1] += 1
        self.at = 0
        return True


@dataclass
class EveryDraw:
    """Stands where chance stands, and gives every draw in turn; of a range its two ends."""

    decisions: Decisions

    def below(self, bound: int) -> int:
        return self.decisions.pick(bound)

    def between(self, least: int, most: int) -> int:
        return (least, most)[self.decisions.pick(2)]

    def weighted(self, weights: Sequence[int]) -> int:
        return self.decisions.pick(len(weights))

    def order(self, count: int) -> list[int]:
        orders = itertools.permutations(range(count))
        return list(
            next(itertools.islice(orders, self.decisions.pick(math.factorial(count)), None))
        )


class AnyStands(dict[tuple[int, int], int]):
    """Where players stand as a run begins: decided for each when it is first looked at."""

    def __init__(self, whole: Plan, decisions: Decisions) -> None:
        self.whole, self.decisions = whole, decisions

    def get(self, key: tuple[int, int], default: int = 0) -> int:
        if key not in self:
            self[key] = self.decisions.pick(len(self.whole.progressions[key[0]].rungs))
        return self[key]


def every_run(whole: Plan, most_runs: int, *, any_hand: bool = True) -> Iterator[list[Action]]:
    """The actions of every run: all draws, all answers, every declared hand at every turn, every
    step that a player may begin on, and of balls on request every number of them. Where their time
    is counted each is asked for as soon as it may be or at the end of the time, and enough is said
    at once or never. A ball that was not asked for is left out, and one that was leaves then.

    Without ``any_hand`` the players take their turns as planned.
    """
    decisions = Decisions()
    players = whole.group.players

    enough: list[Action] = []
    asked: dict[int, SendBall] = {}  # by id: balls that leave later than they might

    def in_time(action: SendBall, until_s: float) -> Reply:
        reply = (
            None,
            At(until_s),
            At(action.at_s - action.after_s, Jump.NEXT),
            At(until_s, Jump.NEXT),
        )[decisions.pick(4)]
        if reply is not None and reply.then is not None:
            enough.append(action)
        elif reply is not None:
            later_s = reply.at_s - action.at_s
            asked[id(action)] = msgspec.structs.replace(
                action, at_s=reply.at_s, after_s=action.after_s + later_s
            )
        return reply

    def answer(action: Action) -> Reply:
        if isinstance(action, SendBall) and action.request and action.request.until_s is not None:
            return in_time(action, action.request.until_s)
        if isinstance(action, SendBall) and action.request and decisions.pick(2):
            enough.append(action)
            return Jump.NEXT
        if isinstance(action, Ask):
            return bool(decisions.pick(2))
        if isinstance(action, TakeTurn) and players and any_hand:
            may = range(len(players)) if action.players is None else action.players
            alike = {(players[one].left_handed, players[one].kind): one for one in may}
            on = list(alike.values())[decisions.pick(len(alike))]
            return OnTurn(on, players[on].left_handed)
        return None

    for number in itertools.count():
        if number == most_runs:
            raise TooManyRuns
        enough.clear()
        asked.clear()
        stands = AnyStands(whole, decisions)
        run = list(run_through(whole, answer, lambda *_: EveryDraw(decisions), stands=stands))
        yield [
            asked.get(id(action), action)
            for action in run
            if not any(action is one for one in enough)
        ]
        if not decisions.to_the_next():
            return


def conditions(most: int = 3) -> st.SearchStrategy[Condition]:
    return st.builds(
        lambda results, count, row: Condition(
            results=results, at_least=count, window=count if row else None
        ),
        st.sampled_from([GOOD, (Result.TARGET,)]),
        st.integers(1, most),
        st.booleans(),
    )


def sends(launcher: int) -> st.SearchStrategy[Step]:
    feeds = st.sampled_from(OF_LAUNCHER[launcher])
    one = st.tuples(feeds)
    two = st.tuples(feeds, feeds).filter(lambda pair: pair[0] != pair[1])
    variants = one if len(OF_LAUNCHER[launcher]) == 1 else st.one_of(one, one, two)
    return st.builds(
        lambda right, left, own, after, more: Send(
            feeds=right, left_feeds=left, own=own, after_s=(after, after + more), line=1
        ),
        variants,
        st.one_of(st.just(()), one),
        st.one_of(st.just(()), one.map(lambda f: (Fed(kinds=(1,), feeds=f),))),
        WHOLE_TENTHS,
        st.sampled_from([0.0, 0.0, 0.0, 0.4]),
    )


def requests(launcher: int) -> st.SearchStrategy[Step]:
    """Balls on request: up to so many of one send."""
    return st.builds(
        lambda most, ball: OnRequest(at_most=most, send=ball, line=1),
        st.integers(1, 3),
        sends(launcher),
    )


def requests_in_time(launcher: int) -> st.SearchStrategy[Step]:
    """The same, over so long after they began at the latest: with room for all of them."""

    def made(most: int, ball: Step, more: float) -> OnRequest:
        assert isinstance(ball, Send)
        least = ball.after_s[0]
        even = msgspec.structs.replace(ball, after_s=(least, least))
        lasts_s = round(most * least + more, 3) or 0.1
        return OnRequest(at_most=most, send=even, lasts_s=lasts_s, line=1)

    return st.builds(made, st.integers(1, 2), sends(launcher), WHOLE_TENTHS)


def rising(launcher: int) -> st.SearchStrategy[Step]:
    """A ball of a progression, or a step in it."""
    feeds = st.sampled_from(OF_LAUNCHER[launcher])

    def harder(easy: Step, hard: int, left: int) -> Step:
        assert isinstance(easy, Send)
        kinds = {kind for one in easy.own for kind in one.kinds} | {0, 1}
        above = Fed(kinds=tuple(sorted(kinds)), feeds=(hard,), left_feeds=(left,), rung=1)
        return msgspec.structs.replace(easy, own=(*easy.own, above), progression=0, rungs=2)

    moves = st.booleans().map(lambda up: Move(progression=0, up=up, line=1))
    return st.one_of(st.builds(harder, sends(launcher), feeds, feeds), moves)


def has_rungs(whole: Plan) -> bool:
    """Whether anything is sent by the rung on which a player stands.

    What is known of every run takes each player to be on each rung at each ball, whatever leads up
    and down: it bounds such a plan from outside.
    """
    return any(isinstance(one, Send) and one.rungs > 1 for one in within(whole.steps))


def speeds(launcher: int) -> st.SearchStrategy[Step]:
    return st.sampled_from(OF_LAUNCHER[launcher]).map(lambda ball: ShowSpeed(feed=ball, line=1))


#: A collect, or a break.
COLLECTS = st.one_of(
    st.just(Collect(line=1)), WHOLE_TENTHS.map(lambda long: Collect(break_s=long, line=1))
)


def bodies(launcher: int, depth: int, alone: bool) -> st.SearchStrategy[tuple[Step, ...]]:
    return st.lists(steps(launcher, depth, alone), max_size=3).map(tuple)


def even(launcher: int) -> st.SearchStrategy[tuple[Step, ...]]:
    """A body that always sends as many balls."""
    leaf = st.one_of(sends(launcher), WHOLE_TENTHS.map(rest))
    return st.lists(leaf, max_size=2).map(tuple)


def steps(launcher: int, depth: int, alone: bool) -> st.SearchStrategy[Step]:
    """One step; ``alone`` outside stations, where a person may have a part."""
    leaves = [sends(launcher), sends(launcher), rising(launcher), WHOLE_TENTHS.map(rest)]
    leaves.append(requests_in_time(launcher))
    if alone:
        leaves += [speeds(launcher), COLLECTS, requests(launcher)]
    if depth == 0:
        return st.one_of(leaves)
    body = bodies(launcher, depth - 1, alone)
    option = st.builds(lambda b: Option(weight=1, body=b), body)
    branches = [
        st.builds(lambda n, b: Repeat(times=n, body=b, line=1), st.integers(0, 3), body),
        st.lists(option, min_size=1, max_size=2).map(lambda o: Choose(options=tuple(o), line=1)),
        st.lists(body, min_size=1, max_size=3).map(lambda i: Shuffle(items=tuple(i), line=1)),
        st.builds(
            lambda c, n, b: Until(condition=c, at_most=n, body=b, line=1),
            conditions(),
            st.integers(1, 3),
            st.one_of(even(launcher), even(launcher), body),
        ),
        st.builds(
            lambda c, t, o: When(condition=c, then=t, otherwise=o, line=1),
            conditions(),
            body,
            body,
        ),
        st.builds(
            lambda n, p, b, timed, whose: (n, p, b, timed, whose),
            st.integers(1, 2),
            st.integers(1, 2),
            body,
            st.booleans(),
            st.sampled_from([None, None, 0, 1]),
        ),
    ]
    if alone:
        names = st.lists(st.sampled_from((0, 1, 2)), min_size=1, max_size=2, unique=True)
        stations = names.flatmap(
            lambda chosen: st.tuples(
                st.just(chosen), st.tuples(*(bodies(each, depth - 1, False) for each in chosen))
            )
        )
        branches.append(stations)
    return st.one_of([*leaves, *branches])


def _settle(step, build: Plan, fold: Fold, context: Context):
    """Give the drawn shapes of turns and stations the lengths that hold their longest run."""

    def inside(body, its):
        return tuple(_settle(each, build, fold, its) for each in body)

    if isinstance(step, Repeat | Until):
        return type(step)(
            **{name: getattr(step, name) for name in step.__struct_fields__ if name != "body"},
            body=inside(step.body, context),
        )
    if isinstance(step, Choose):
        options = tuple(Option(weight=1, body=inside(o.body, context)) for o in step.options)
        return Choose(options=options, line=1)
    if isinstance(step, Shuffle):
        return Shuffle(items=tuple(inside(item, context) for item in step.items), line=1)
    if isinstance(step, When):
        then, other = inside(step.then, context), inside(step.otherwise, context)
        return When(condition=step.condition, then=then, otherwise=other, line=1)
    if isinstance(step, tuple) and step[0] == "exercise":
        _, repeats, body = step
        title = f"exercise {id(step)}"
        return Exercise(title=title, repeats=repeats, body=inside(body, context), line=1)
    if isinstance(step, tuple) and len(step) > 2:
        slots, passes, body, timed, *whose = step
        body = inside(body, context)
        chosen = _chosen(build, whose)
        slots = slots if chosen is None else len(chosen)
        hands = {p.left_handed for p in build.group.players} or {context.left}
        longest = max(
            fold.steps(body, Context(hand, context.launcher)).time_ms.most for hand in hands
        )
        every_s = (longest * passes + 300) / 1000 if timed else None
        return Turns(slots=slots, passes=passes, body=body, every_s=every_s, players=chosen, line=1)
    if isinstance(step, tuple):
        return _stations(step, build, fold)
    return step


def _chosen(build: Plan, whose: list[int | None]) -> tuple[int, ...] | None:
    """Those of the group whose turns these are: one of them, or all where none is drawn."""
    players = len(build.group.players)
    if not players or whose in ([], [None]):
        return None
    return (whose[0] % players,)


def _stations(drawn, build: Plan, fold: Fold) -> Together:
    launchers, drawn_bodies = drawn
    everyone = tuple(range(len(build.group.players)))
    stations, longest = [], 0
    for launcher, body in zip(launchers, drawn_bodies, strict=True):
        context = Context(left_handed(build.group.players), launcher)
        settled = tuple(_settle(each, build, fold, context) for each in body)
        longest = max(longest, fold.steps(settled, context).time_ms.most)
        stations.append(
            Station(name=str(launcher), launcher=launcher, players=everyone, body=settled, line=1)
        )
    return Together(stations=tuple(stations), for_s=longest / 1000, line=1)


def _whole(drawn, players) -> Plan:
    build = plan(feeds=FEEDS, players=players, progressions=PROGRESSIONS)
    fold = Fold(build, Extents(build))
    context = Context(left_handed(players), 0)
    return plan(
        *(_settle(step, build, fold, context) for step in drawn),
        feeds=FEEDS,
        players=players,
        progressions=PROGRESSIONS,
    )


def plans(depth: int = 2) -> st.SearchStrategy[Plan]:
    """Plans of at most four steps at the top."""
    return st.builds(_whole, st.lists(steps(0, depth, True), min_size=1, max_size=4), HANDS)


def exercises(depth: int = 1) -> st.SearchStrategy[Plan]:
    """Lessons of exercises, and of steps that are none, before them and between."""
    body = st.lists(steps(0, depth, True), min_size=1, max_size=2).map(tuple)
    one = st.builds(lambda repeats, its: ("exercise", repeats, its), st.integers(0, 2), body)
    loose = st.one_of(sends(0), speeds(0), speeds(1), COLLECTS)
    drawn = st.lists(st.one_of(one, one, loose), min_size=2, max_size=5)
    return st.builds(_whole, drawn, HANDS)


def wrapped() -> st.SearchStrategy[Plan]:
    """One construct between two sends, half the time inside timed turns: where its edges show."""
    inner = steps(0, 1, False)
    pause = WHOLE_TENTHS.map(rest)
    bare = st.lists(inner, min_size=1, max_size=2)
    timed = bare.map(lambda body: [(1, 1, tuple(body), True)])
    middle = st.one_of(bare, timed, st.tuples(pause, inner).map(list))
    around = st.builds(lambda a, m, b: [a, *m, b], sends(0), middle, sends(0))
    return st.builds(_whole, around, HANDS)


def with_stations() -> st.SearchStrategy[Plan]:
    """Stations beside each other's and beside the lesson's own balls, once or again and again."""

    def together(first: int, second: int) -> st.SearchStrategy:
        short = [st.lists(st.one_of(sends(n), WHOLE_TENTHS.map(rest)), max_size=2) for n in (0, 1)]
        return st.tuples(st.just((first, second)), st.tuples(*(each.map(tuple) for each in short)))

    side_by_side = together(0, 1)
    between = st.one_of(WHOLE_TENTHS.map(rest), COLLECTS)
    leaf = st.one_of(sends(0), between, side_by_side)
    body = st.lists(leaf, min_size=1, max_size=2).map(tuple)
    again = st.builds(lambda n, b: Repeat(times=n, body=b, line=1), st.integers(2, 3), body)
    orders = st.lists(body, min_size=2, max_size=3).map(
        lambda items: Shuffle(items=tuple(items), line=1)
    )
    option = body.map(lambda b: Option(weight=1, body=b))
    ways = st.lists(option, min_size=2, max_size=2).map(lambda o: Choose(options=tuple(o), line=1))
    drawn = st.lists(st.one_of(leaf, again, orders, ways, speeds(0)), min_size=1, max_size=3)
    return st.builds(_whole, drawn, st.just(()))


def turned() -> st.SearchStrategy[Plan]:
    """Turns, each with a ball, after one another, beside each other and after other balls."""

    def body(launcher: int) -> st.SearchStrategy[tuple[Step, ...]]:
        pause = WHOLE_TENTHS.map(rest)
        inner = st.one_of(pause, sends(launcher), steps(launcher, 1, False).filter(_plain))
        ends = st.lists(inner, max_size=1)
        return st.builds(lambda a, s, b: (*a, s, *b), ends, sends(launcher), ends)

    def turns(launcher: int) -> st.SearchStrategy:
        drawn = (st.integers(1, 2), st.just(1), body(launcher), st.booleans())
        return st.tuples(*drawn)

    def station(launcher: int) -> st.SearchStrategy[tuple]:
        return st.lists(st.one_of(turns(launcher), sends(launcher)), max_size=1).map(tuple)

    side_by_side = st.tuples(st.just((0, 1)), st.tuples(station(0), station(1)))
    some = st.one_of(turns(0), sends(0), side_by_side, COLLECTS, speeds(0))
    return st.builds(_whole, st.lists(some, min_size=1, max_size=3), HANDS)


def _plain(step) -> bool:
    return not isinstance(step, tuple)


def untils(body: Sequence[Step], context_launcher: int = 0) -> Iterator[tuple[Until, int]]:
    """Every until in these steps, with the launcher whose balls it counts."""
    for step in body:
        match step:
            case Until():
                yield step, context_launcher
                yield from untils(step.body, context_launcher)
            case Repeat() | Turns():
                yield from untils(step.body, context_launcher)
            case Choose():
                for option in step.options:
                    yield from untils(option.body, context_launcher)
            case Shuffle():
                for item in step.items:
                    yield from untils(item, context_launcher)
            case When():
                yield from untils((*step.then, *step.otherwise), context_launcher)
            case Together():
                for station in step.stations:
                    yield from untils(station.body, station.launcher)
