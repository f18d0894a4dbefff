"""A sceptical second opinion: whole runs drawn by chance, held against the certified envelope.

Each run draws every choice, order, variation and answer from its own seed; each ball strays at the
mouth as the profile says and is flown. What the analysis says can never happen (a pair of feeds,
a gap, a count, a speed) must not happen once; what three sigma let through (a landing outside the
ellipse, a ball lower at the net or higher at its apex than stated, a ball where people, a court
beside, a roof, the room behind a fence or another station's balls are) must not happen more often
than three sigma allow.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping

import msgspec
import numpy as np

from feedscript.check.sample_places import Count, Drawn, Places
from feedscript.court.lines import COURTS
from feedscript.flight.launches import Launches
from feedscript.flight.motion.flights import fly
from feedscript.launcher.scatter import mouth_samples
from feedscript.plan.aiming.flying import conditions_for
from feedscript.plan.interpreter.actions import Action, Ask, PickUp, Reply, SendBall, WatchSpeed
from feedscript.plan.interpreter.chance import Chance, stream
from feedscript.plan.interpreter.runs import any_stands, run_through
from feedscript.plan.model import Plan
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.hazards.ellipse import sigmas_out
from feedscript.safety.hazards.strays import throw_of_feed

#: Balls of one feed that are flown together; bounds the memory whatever is sampled.
CHUNK = 20_000
#: Flights bend where propagation of the first order is straight, so a little more gets out than the
#: normal law says. A fifth more is taken as agreement; design value.
BEND = 1.2


class Excess(msgspec.Struct, frozen=True):
    """One kind of event: how often it came, and how often it may."""

    what: str
    count: int
    balls: int
    allowed_share: float

    @property
    def most(self) -> float:
        """What is let through: the allowed count with its bend, and three standard errors."""
        expected = self.balls * self.allowed_share * BEND
        return expected + 3.0 * math.sqrt(expected)

    @property
    def agrees(self) -> bool:
        return self.count <= self.most


class Surprise(msgspec.Struct, frozen=True):
    """Something that the analysis rules out, and the seed of the run that did it."""

    seed: int
    what: str


class Sample(msgspec.Struct, frozen=True):
    """What the drawn runs did."""

    runs: int
    balls: int
    surprises: tuple[Surprise, ...]
    excesses: tuple[Excess, ...]

    @property
    def agrees(self) -> bool:
        return not self.surprises and all(excess.agrees for excess in self.excesses)


def sample(facts: PlanFacts, runs: int, seed: int) -> Sample:
    """Draw ``runs`` whole runs, with the seeds ``seed``, ``seed + 1`` and so on."""
    sent: Counter[int] = Counter()
    surprises: list[Surprise] = []
    for number in range(seed, seed + runs):
        drawn = _run(msgspec.structs.replace(facts.plan, seed=number), number)
        sent.update(drawn.feeds)
        surprises += [Surprise(number, what) for what in _impossible(facts, drawn)]
    return Sample(runs, sum(sent.values()), tuple(surprises), _flown(facts, sent, seed))


class _Run(msgspec.Struct):
    """One run as it came out."""

    feeds: list[int] = []
    pairs: list[tuple[int | None, int, float]] = []
    seconds: float = 0.0


def _run(plan: Plan, number: int) -> _Run:
    answers = stream(number, "sample", "answers")
    drawn = _Run()
    last: dict[int, tuple[int, float] | None] = {}
    stands = any_stands(plan, stream(number, "stands"))
    for action in run_through(plan, lambda action: _reply(action, answers), stands=stands):
        drawn.seconds = max(drawn.seconds, action.at_s)
        if isinstance(action, PickUp):
            drawn.seconds = action.until_s
            last.clear()
        if isinstance(action, SendBall):
            before = last.get(action.launcher)
            gap = math.inf if before is None else action.at_s - before[1]
            drawn.pairs.append((None if before is None else before[0], action.feed, gap))
        if isinstance(action, SendBall | WatchSpeed):
            drawn.feeds.append(action.feed)
            last[action.launcher] = (action.feed, action.at_s)
    return drawn


def _reply(action: Action, answers: Chance) -> Reply:
    return bool(answers.below(2)) if isinstance(action, Ask) else None


def _impossible(facts: PlanFacts, drawn: _Run) -> Iterator[str]:
    """Everything this run did that the analysis says no run can do."""
    bounds, feeds = facts.plan.bounds, facts.plan.feeds
    if not bounds.balls[0] <= len(drawn.feeds) <= bounds.balls[1]:
        yield f"{len(drawn.feeds)} balls, certified {bounds.balls[0]} to {bounds.balls[1]}"
    if drawn.seconds > bounds.time_s[1] + 1e-6:
        yield f"{drawn.seconds:.3f} s, certified at most {bounds.time_s[1]:.3f} s"
    fastest = max((feeds[index].speed_mps for index in drawn.feeds), default=0.0)
    if fastest > bounds.fastest_mps + 1e-9:
        yield f"a ball of {fastest:.2f} m/s, certified at most {bounds.fastest_mps:.2f} m/s"
    certified = _least_gaps(facts)
    for before, after, gap in drawn.pairs:
        least = certified.get((before, after))
        start = "from rest" if before is None else f"after {feeds[before].name}"
        if least is None:
            yield f"{feeds[after].name} {start}, a pair that was not certified"
        elif gap < least - 1e-6:
            yield f"{feeds[after].name} {gap:.3f} s {start}, certified {least:.3f} s"


def _least_gaps(facts: PlanFacts) -> Mapping[tuple[int | None, int], float]:
    return {(pair.before, pair.after): pair.least_gap_s for pair in facts.pairs}


OUT_OF_ELLIPSE = "landed outside its ellipse"


def _shares(sigma: float) -> tuple[float, float]:
    """The share of balls that scatter may let out at so many sigma.

    Outside an ellipse in two dimensions exp(-k^2/2), past one end of a line 1 - Phi(k).
    """
    return math.exp(-(sigma**2) / 2.0), math.erfc(sigma / math.sqrt(2.0)) / 2.0


def _flown(facts: PlanFacts, sent: Mapping[int, int], seed: int) -> tuple[Excess, ...]:
    counts: Counter[str] = Counter()
    trials: Counter[str] = Counter()
    places = Places.of(facts)
    for index, balls in sorted(sent.items()):
        random = np.random.default_rng([seed, index])
        for start in range(0, balls, CHUNK):
            drawn = _fly(facts, index, min(CHUNK, balls - start), random)
            for what, trial, count in (*_outside(facts, index, drawn), *places.look(index, drawn)):
                counts[what] += count
                trials[what] += trial
    for what, trial, count in places.meetings():
        counts[what] += count
        trials[what] += trial
    ellipse, end = _shares(facts.sigma)
    return tuple(
        Excess(what, counts[what], trial, ellipse if what == OUT_OF_ELLIPSE else end)
        for what, trial in trials.items()
    )


def _outside(facts: PlanFacts, index: int, drawn: Drawn) -> Iterator[Count]:
    """How many balls of one feed landed, rose and passed the net further out than they may."""
    feed, recomputed, flights = facts.plan.feeds[index], facts.recomputed[index], drawn.flights
    out = sigmas_out(
        feed.scatter,
        flights.landing_x_m - feed.landing_m[0],
        flights.landing_y_m - feed.landing_m[1],
    )
    net = COURTS[facts.plan.court.kind].net
    radius = drawn.conditions.ball.radius_m
    room = flights.net_height_m - radius - net.heights_m(flights.net_x_m)
    # Written so that a ball without a landing or a crossing counts as outside.
    for what, inside in (
        (OUT_OF_ELLIPSE, out <= facts.sigma),
        ("passed the net lower", room >= recomputed.net_room_m),
        ("rose higher", flights.apex_m <= recomputed.top_m),
    ):
        yield what, len(inside), int(np.sum(~inside))


def _fly(facts: PlanFacts, index: int, balls: int, random: np.random.Generator) -> Drawn:
    feed = facts.plan.feeds[index]
    profile = facts.profile(feed)
    throw = throw_of_feed(feed)
    speed, elevation, azimuth, top, side = mouth_samples(profile, throw, balls, random).T
    x, y, z = facts.plan.launchers[feed.launcher].mouth_m
    launches = Launches.of(
        speed, elevation, azimuth, top_rpm=top, side_rpm=side, x_m=x, y_m=y, z_m=z
    ).thrown_by_wheels()
    conditions = conditions_for(facts.plan.court, facts.plan.balls, profile)
    return Drawn(launches, fly(launches, conditions), conditions)
