"""The plan is whole: every number is one, every index points at something."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence

import msgspec

from feedscript.court.lines import COURTS
from feedscript.diagnostics import Page
from feedscript.memo import content
from feedscript.plan.bodies import asks, bodies, untimed, within
from feedscript.plan.model import (
    PLAN_VERSION,
    Exercise,
    Move,
    OnRequest,
    Plan,
    Repeat,
    Rest,
    Say,
    Send,
    ShowSpeed,
    Step,
    Together,
    Turns,
)
from feedscript.plan.times import milliseconds
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Breach, Finding, Rule, Worst

PAGE = Page(
    slug="sound-plan",
    title="The plan is not whole",
    why=(
        "A plan that was cut short, edited or written by another version may point at feeds that "
        "are not there or carry numbers that are none. Before any other rule: the version is "
        "ours, every index points at something, every number is finite, no time runs backwards. "
        "Never waived."
    ),
)


def _numbers(value: object, place: str) -> Iterator[str]:
    """Every place where a number is not finite."""
    if isinstance(value, float) and not math.isfinite(value):
        yield f"{place} is not a number"
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _numbers(item, f"{place}.{key}" if place else str(key))
    elif isinstance(value, list | tuple):
        for index, item in enumerate(value):
            yield from _numbers(item, f"{place}[{index}]")


def _finite(facts: PlanFacts) -> bool:
    """Whether every number is finite: asked quickly, as nearly always it is, and once of each part
    that stays as it is."""
    plan = facts.plan
    names = (name for name in Plan.__struct_fields__ if name != "feeds")
    parts = [*plan.feeds, *(getattr(plan, name) for name in names)]
    return all(
        facts.memo.each(
            "finite", list(map(content, parts)), lambda rows: [_whole(parts[row]) for row in rows]
        )
    )


def _whole(value: object) -> bool:
    try:
        json.dumps(msgspec.to_builtins(value), allow_nan=False)
    except ValueError:
        return False
    return True


def _tables(plan: Plan) -> Iterator[str]:
    if plan.version != PLAN_VERSION:
        yield f"the plan is of version {plan.version}, not {PLAN_VERSION}"
    if not plan.launchers:
        yield "the plan has no launcher"
    if plan.court.kind not in COURTS:
        yield f"there is no court called {plan.court.kind!r}"
    for feed in plan.feeds:
        if not 0 <= feed.launcher < len(plan.launchers):
            yield f"{feed.name} is sent by launcher {feed.launcher}, which is not there"
    for area in plan.keep_outs:
        if len(area.outline_m) < 3:
            yield f"the keep-out {area.name!r} has no area"


def _step(plan: Plan, step: Step) -> Iterator[str]:
    fed: Sequence[int] = ()
    if isinstance(step, Send):
        fed = step.all_feeds()
        if not step.feeds:
            yield "a send has no feed"
        yield from _progression(plan, step)
        if not 0 <= step.after_s[0] <= step.after_s[1]:
            yield f"a send waits from {step.after_s[0]:g} to {step.after_s[1]:g} s"
    elif isinstance(step, ShowSpeed):
        fed = (step.feed,)
    elif isinstance(step, Move):
        yield from _move(plan, step)
    elif isinstance(step, Repeat) and step.times < 0:
        yield f"a body is repeated {step.times} times"
    elif isinstance(step, Exercise) and step.repeats < 0:
        yield f"an exercise is repeated {step.repeats} times"
    elif isinstance(step, OnRequest):
        yield from _asked(step)
    elif isinstance(step, Turns):
        yield from _turns(plan, step)
    elif isinstance(step, Together):
        yield from _stations(plan, step)
    yield from _timed(step)
    for feed in fed:
        if not 0 <= feed < len(plan.feeds):
            yield f"feed {feed} is sent, which is not there"


def _progression(plan: Plan, step: Send) -> Iterator[str]:
    """A send of a progression has a ball for each of its rungs, and any other has one rung."""
    known = 1
    if step.progression is not None:
        if not 0 <= step.progression < len(plan.progressions):
            yield f"progression {step.progression} is sent, which is not there"
            return
        known = len(plan.progressions[step.progression].rungs)
    if step.rungs != known:
        yield f"a send has {step.rungs} rungs, and there are {known}"
    elif not {*range(1, known)} <= {one.rung for one in step.own}:
        yield "a send has no ball for one of its rungs"


def _move(plan: Plan, step: Move) -> Iterator[str]:
    if not 0 <= step.progression < len(plan.progressions):
        yield f"progression {step.progression} is gone up or down in, which is not there"
    if step.player is not None and not 0 <= step.player < len(plan.group.players):
        yield f"player {step.player} goes up or down, who is not in the group"


def _turns(plan: Plan, step: Turns) -> Iterator[str]:
    if step.slots < 0 or step.passes < 0:
        yield f"turns have {step.slots} slots of {step.passes} passes"
    for player in step.players or ():
        if not 0 <= player < len(plan.group.players):
            yield f"player {player} has a turn, who is not in the group"


def _timed(step: Step) -> Iterator[str]:
    """How long a person takes to ask is counted where there is a time for it, so nothing of a fixed
    length may wait without one; and who asks can ask at one station at a time."""
    fixed = isinstance(step, Together) or (isinstance(step, Turns) and step.every_s is not None)
    if fixed and untimed([step]):
        yield "balls on request stand in something that has a time of its own"
    if isinstance(step, Together) and sum(asks(one.body) for one in step.stations) > 1:
        yield "balls come on request at two stations side by side"


def _asked(step: OnRequest) -> Iterator[str]:
    if step.at_most < 0:
        yield f"{step.at_most} balls come on request"
    if step.lasts_s is not None:
        least, most = map(milliseconds, step.send.after_s)
        if least != most or step.at_most * least > milliseconds(step.lasts_s):
            yield f"{step.at_most} balls on request do not fit into {step.lasts_s:g} s"


def _stations(plan: Plan, step: Together) -> Iterator[str]:
    launchers = [one.launcher for one in step.stations if one.launcher is not None]
    if len(set(launchers)) != len(launchers):
        yield "two stations share a launcher"
    for station in step.stations:
        if station.launcher is None:
            if any(not isinstance(one, Say | Rest | Repeat) for one in within(station.body)):
                yield f"station {station.name!r} has no launcher, and more than work in it"
        elif not 0 <= station.launcher < len(plan.launchers):
            yield f"station {station.name!r} is on launcher {station.launcher}, which is not there"
        if any(not 0 <= player < len(plan.group.players) for player in station.players):
            yield f"station {station.name!r} has players who are not in the group"


def _steps(plan: Plan, steps: Sequence[Step]) -> Iterator[tuple[str, int]]:
    for step in steps:
        for trouble in _step(plan, step):
            yield trouble, step.line
        for body in bodies(step):
            yield from _steps(plan, body)


def _exercises(plan: Plan) -> Iterator[tuple[str, int]]:
    """Each has a title of its own and stands among the lesson's own steps."""
    titles: set[str] = set()
    for step in plan.steps:
        if isinstance(step, Exercise):
            if step.title in titles:
                yield f"two exercises are called {step.title!r}", step.line
            titles.add(step.title)
    inner = (body for step in plan.steps for body in bodies(step))
    for step in (one for body in inner for one in within(body)):
        if isinstance(step, Exercise):
            yield f"the exercise {step.title!r} stands inside another step", step.line


def _find(facts: PlanFacts) -> Finding:
    plan = facts.plan
    troubles: list[tuple[str, int | None]] = [(one, None) for one in _tables(plan)]
    if not _finite(facts):
        troubles += [(one, None) for one in _numbers(msgspec.to_builtins(plan), "")]
    troubles += list(_steps(plan, plan.steps))
    troubles += list(_exercises(plan))
    if len(facts.profiles) != len(plan.launchers):
        what = f"{len(facts.profiles)} profiles for {len(plan.launchers)} launchers"
        troubles.append((what, None))
    breaches = tuple(
        Breach(words, "make the plan again from its program", line=line) for words, line in troubles
    )
    words = breaches[0].message if breaches else "every index and every number is sound"
    return Finding(Worst(words), breaches)


RULE = Rule(
    page=PAGE,
    assumption="",
    source="the plan's own format",
    find=_find,
)
