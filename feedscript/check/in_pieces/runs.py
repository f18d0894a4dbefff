"""Whole runs drawn by chance, held against what the analysis says no run can do."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator

import msgspec

from feedscript.check.in_pieces.case import Case
from feedscript.check.in_pieces.pieces import RunsAnswer, RunsPiece, Surprise
from feedscript.plan.interpreter.actions import Action, Ask, PickUp, Reply, SendBall, WatchSpeed
from feedscript.plan.interpreter.chance import Chance, stream
from feedscript.plan.interpreter.runs import any_stands, run_through
from feedscript.plan.model import Plan


def drawn_runs(case: Case, piece: RunsPiece) -> RunsAnswer:
    """Each run under its own seed; one that draws nothing is what all of them are."""
    sent: Counter[int] = Counter()
    surprises: list[Surprise] = []
    numbers = range(piece.first, piece.first + piece.runs)
    for number in numbers:
        drawn = _run(msgspec.structs.replace(case.facts.plan, seed=number), number)
        alike = [number] if drawn.by_chance else numbers
        for feed, times in Counter(drawn.feeds).items():
            sent[feed] += times * len(alike)
        impossible = list(_impossible(case, drawn))
        surprises += [Surprise(one, what) for one in alike for what in impossible]
        if not drawn.by_chance:
            break
    return RunsAnswer(tuple(sorted(sent.items())), tuple(surprises))


class _Run(msgspec.Struct):
    """One run as it came out."""

    feeds: list[int] = []
    pairs: list[tuple[tuple[int | None, int], float]] = []
    seconds: float = 0.0
    by_chance: bool = False  # whether anything was drawn: one of another seed is another run


def _run(plan: Plan, number: int) -> _Run:
    drawn = _Run()
    streams: list[Chance] = []

    def source(seed: int, *words: str | int) -> Chance:
        streams.append(stream(seed, *words))
        return streams[-1]

    answers = source(number, "sample", "answers")
    last: dict[int, tuple[int, float]] = {}
    stands = any_stands(plan, source(number, "stands"))
    for action in run_through(plan, lambda action: _reply(action, answers), source, stands=stands):
        drawn.seconds = max(drawn.seconds, action.at_s)
        if isinstance(action, PickUp):
            drawn.seconds = action.until_s
            last.clear()
        if isinstance(action, SendBall):
            before, before_s = last.get(action.launcher, (None, -math.inf))
            drawn.pairs.append(((before, action.feed), action.at_s - before_s))
        if isinstance(action, SendBall | WatchSpeed):
            drawn.feeds.append(action.feed)
            last[action.launcher] = (action.feed, action.at_s)
    drawn.by_chance = any(one.was_drawn_from for one in streams)
    return drawn


def _reply(action: Action, answers: Chance) -> Reply:
    return bool(answers.below(2)) if isinstance(action, Ask) else None


def _impossible(case: Case, drawn: _Run) -> Iterator[str]:
    """Everything this run did that the analysis says no run can do."""
    bounds, feeds = case.facts.plan.bounds, case.facts.plan.feeds
    if not bounds.balls[0] <= len(drawn.feeds) <= bounds.balls[1]:
        yield f"{len(drawn.feeds)} balls, certified {bounds.balls[0]} to {bounds.balls[1]}"
    if drawn.seconds > bounds.time_s[1] + 1e-6:
        yield f"{drawn.seconds:.3f} s, certified at most {bounds.time_s[1]:.3f} s"
    fastest = max((feeds[index].speed_mps for index in {*drawn.feeds}), default=0.0)
    if fastest > bounds.fastest_mps + 1e-9:
        yield f"a ball of {fastest:.2f} m/s, certified at most {bounds.fastest_mps:.2f} m/s"
    for pair, gap in drawn.pairs:
        least = case.least_gaps_s.get(pair)
        if least is not None and gap >= least - 1e-6:
            continue
        before, after = pair
        start = "from rest" if before is None else f"after {feeds[before].name}"
        if least is None:
            yield f"{feeds[after].name} {start}, a pair that was not certified"
        else:
            yield f"{feeds[after].name} {gap:.3f} s {start}, certified {least:.3f} s"
