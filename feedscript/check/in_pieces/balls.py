"""Balls strayed at the mouth and flown, held against the certified envelope."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from feedscript.check.in_pieces.case import Case
from feedscript.check.in_pieces.pieces import CHUNK, BallsAnswer, BallsPiece, Count
from feedscript.check.in_pieces.places import Drawn, Ground
from feedscript.court.lines import COURTS
from feedscript.flight.launches import Launches
from feedscript.flight.motion.flights import fly
from feedscript.launcher.scatter import mouth_samples
from feedscript.plan.aiming.flying import conditions_for
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.hazards.ellipse import sigmas_out
from feedscript.safety.hazards.strays import throw_of_feed

OUT_OF_ELLIPSE = "landed outside its ellipse"


def drawn_balls(case: Case, piece: BallsPiece) -> BallsAnswer:
    """This chunk of each feed flown, and beside one another where they are to keep apart."""
    grounds: dict[tuple[int, int], Ground] = {}
    counts: list[Count] = []
    for feed, total in piece.feeds:
        if _balls(total, piece.chunk) == 0:
            continue
        drawn = _flown(case.facts, piece.seed, feed, total, piece.chunk)
        found, ground = case.places.look(feed, drawn)
        counts += [*_outside(case.facts, feed, drawn), *found]
        if ground is not None:
            grounds[feed, piece.chunk] = ground
    counts += _meetings(case, piece, grounds)
    return BallsAnswer(tuple(counts))


def _balls(total: int, chunk: int) -> int:
    return max(0, min(CHUNK, total - chunk * CHUNK))


def chunks(total: int) -> int:
    """How many chunks so many balls are."""
    return -(-total // CHUNK)


def _meetings(
    case: Case, piece: BallsPiece, grounds: dict[tuple[int, int], Ground]
) -> Iterator[Count]:
    """Each ball beside one of the other feed, whose chunks begin again where it has fewer."""
    totals = dict(piece.feeds)

    def ground(feed: int) -> Ground:
        chunk = piece.chunk % chunks(totals[feed])
        if (feed, chunk) not in grounds:
            drawn = _flown(case.facts, piece.seed, feed, totals[feed], chunk)
            grounds[feed, chunk] = case.places.ground(drawn)
        return grounds[feed, chunk]

    for one, other in case.places.pairs:
        if not (totals.get(one) and totals.get(other)):
            continue
        if piece.chunk < max(chunks(totals[one]), chunks(totals[other])):
            yield case.places.meeting(ground(one), ground(other))


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


def _flown(facts: PlanFacts, seed: int, index: int, total: int, chunk: int) -> Drawn:
    """One chunk of a feed's balls; its seed is made of the number of the chunk too."""
    random = np.random.default_rng([seed, index, chunk])
    feed = facts.plan.feeds[index]
    profile = facts.profile(feed)
    strayed = mouth_samples(profile, throw_of_feed(feed), _balls(total, chunk), random)
    speed, elevation, azimuth, top, side = strayed.T
    x, y, z = facts.plan.launchers[feed.launcher].mouth_m
    launches = Launches.of(
        speed, elevation, azimuth, top_rpm=top, side_rpm=side, x_m=x, y_m=y, z_m=z
    ).thrown_by_wheels()
    conditions = conditions_for(facts.plan.court, facts.plan.balls, profile)
    return Drawn(launches, fly(launches, conditions), conditions)
