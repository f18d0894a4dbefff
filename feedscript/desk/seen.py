"""What the desk's page draws and lists of a program, as one message of plain values.

Everything is read off the verdict that the check has come to; nothing is worked out anew. Each
thing says where its words stand, so that a click in the picture finds them and back.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

import msgspec
import numpy as np

from feedscript.check.check_program import Verdict
from feedscript.check.expected import Met
from feedscript.court.lines import COURTS
from feedscript.desk.offsets import BrowserOffsets
from feedscript.desk.open_text import OpenText, Words
from feedscript.desk.seen_areas import SeenArea, SeenPlayer, kept_clear, players, targets
from feedscript.diagnostics import Severity, Span
from feedscript.editor.area_moves import written_areas
from feedscript.editor.document import Document
from feedscript.memo import content
from feedscript.own_library import SEASON_ENDING
from feedscript.plan.aiming.flying import surface_for
from feedscript.plan.expect.outcome import WorstCase
from feedscript.plan.model import AimedFeed, Plan
from feedscript.review.drawing.drawn_flights import DrawnFlight, styled, ways
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.tongues import terms
from feedscript.tongues.text import _, n_

Point = tuple[float, float]
Place = tuple[float, float, float]


class SeenCourt(msgspec.Struct, frozen=True, kw_only=True):
    """The lines to draw, in metres from the middle of the net."""

    kind: str
    surface: str | None
    half_length_m: float
    half_width_m: float
    singles_half_width_m: float
    doubles_half_width_m: float | None
    service_line_m: float
    net_half_m: float
    net_centre_m: float
    net_post_m: float
    run_off_back_m: float
    run_off_side_m: float


class SeenLauncher(msgspec.Struct, frozen=True, kw_only=True):
    """A launcher where it stands."""

    name: str
    mouth_m: Place
    heading_deg: float
    words: Words | None


class SeenFeed(msgspec.Struct, frozen=True, kw_only=True):
    """A feed as it flies. ``leads``: the first of its name, which carries the letter."""

    index: int
    name: str
    wish: str
    letter: str
    colour: str
    dash: str | None
    leads: bool
    launcher: int
    landing_m: Point
    path_m: tuple[Place, ...]
    after_m: tuple[Place, ...]
    scatter: tuple[float, float, float]  # one sigma: half axes in m, turn in degrees
    speed_kmh: float
    spin_rpm: tuple[float, float]  # top, side
    flight_s: float
    net_clearance_m: float
    apex_m: float
    within_m: float | None
    receiver_m: Point | None
    words: Words | None  # its definition, where that stands in this text
    land_words: Words | None
    wrong: bool  # a rule refuses it


class SeenExercise(msgspec.Struct, frozen=True, kw_only=True):
    """An exercise and its time."""

    title: str
    takes_s: float
    planned_s: float | None


class SeenHour(msgspec.Struct, frozen=True, kw_only=True):
    """Where the lesson's time goes, in seconds."""

    planned_s: float | None
    whole_s: float
    play_s: float
    change_overs_s: float
    collecting_s: float
    people_s: float
    breaks_s: float
    spare_s: float
    exercises: tuple[SeenExercise, ...]


class SeenExpectation(msgspec.Struct, frozen=True, kw_only=True):
    """An expectation as written and what became of it."""

    written: str
    standing: str
    figure: str
    line: int
    worst: WorstCase | None


class Seen(msgspec.Struct, frozen=True, kw_only=True):
    """Everything the page shows beside the words. ``court`` is null where nothing can be drawn.

    ``ok``: it may be run. A ``season`` is not run: its programs are.
    """

    ok: bool
    verdict: str  # one sentence
    season: bool = False
    errors: int
    warnings: int
    court: SeenCourt | None = None
    launchers: tuple[SeenLauncher, ...] = ()
    keep_outs: tuple[SeenArea, ...] = ()
    targets: tuple[SeenArea, ...] = ()
    players: tuple[SeenPlayer, ...] = ()
    group: tuple[str, ...] = ()  # everybody's name, in the program's order
    feeds: tuple[SeenFeed, ...] = ()
    receiver_m: Point | None = None
    hour: SeenHour | None = None
    expectations: tuple[SeenExpectation, ...] = ()


def seen(document: Document) -> Seen:
    """What there is to see of a document, passed or refused."""
    verdict = document.verdict
    errors = sum(one.is_error for one in verdict.diagnostics)
    warnings = sum(one.severity is Severity.WARNING for one in verdict.diagnostics)
    plan = verdict.plan or verdict.draft
    about = Seen(
        ok=verdict.ok,
        verdict=_sentence(verdict, errors, warnings),
        season=document.path.suffix == SEASON_ENDING,
        errors=errors,
        warnings=warnings,
        hour=_hour(verdict),
        expectations=tuple(map(expectation_seen, verdict.met)),
    )
    if plan is None or verdict.facts is None:
        return about
    text = OpenText(document.scope.source, BrowserOffsets(document.text))
    written = written_areas(document, COURTS[plan.court.kind])
    return msgspec.structs.replace(
        about,
        court=_court(plan),
        launchers=tuple(_launchers(text, verdict, plan)),
        keep_outs=tuple(kept_clear(text, plan, written)),
        targets=tuple(targets(text, verdict.program, written)),
        players=tuple(players(plan)),
        group=tuple(one.name for one in plan.group.players),
        feeds=tuple(_feeds(text, verdict, plan.feeds, verdict.facts)),
        receiver_m=None if verdict.program is None else verdict.program.group.receiver_m,
    )


def _sentence(verdict: Verdict, errors: int, warnings: int) -> str:
    if errors:
        return n_(
            "{n} thing to mend before it may run", "{n} things to mend before it may run", errors
        )
    plan = verdict.plan
    if plan is None:
        return _("the season and its programs pass")
    balls = plan.bounds.balls[1]
    if not warnings:
        return n_("it passes: up to {n} ball", "it passes: up to {n} balls", balls)
    return n_(
        "it passes, with {n} warning: {balls}",
        "it passes, with {n} warnings: {balls}",
        warnings,
        balls=n_("up to {n} ball", "up to {n} balls", balls),
    )


def _court(plan: Plan) -> SeenCourt:
    court = COURTS[plan.court.kind]
    return SeenCourt(
        kind=plan.court.kind,
        surface=plan.court.surface,
        half_length_m=court.half_length_m,
        half_width_m=court.half_width_m,
        singles_half_width_m=court.singles_half_width_m,
        doubles_half_width_m=court.doubles_half_width_m,
        service_line_m=court.service_line_m,
        net_half_m=court.net.support_x_m,
        net_centre_m=court.net.centre_m,
        net_post_m=court.net.support_m,
        run_off_back_m=court.run_off_back_m,
        run_off_side_m=court.run_off_side_m,
    )


def _launchers(text: OpenText, verdict: Verdict, plan: Plan) -> Iterator[SeenLauncher]:
    spans = verdict.places.launchers if verdict.places is not None else ()
    for index, one in enumerate(plan.launchers):
        span = spans[index] if index < len(spans) else None
        yield SeenLauncher(
            name=one.name,
            mouth_m=one.mouth_m,
            heading_deg=one.heading_deg,
            words=text.words(span),
        )


#: The ways of a feed as they are drawn, before and after the bounce.
_Ways = tuple[tuple[Place, ...], tuple[Place, ...]]
#: In place of a way that is kept beside the feed's style.
_NOT_HERE = np.empty((0, 3))


def _ways(facts: PlanFacts) -> dict[int, _Ways]:
    """Of every feed, by its index; worked out once for feeds that stay as they are."""
    surface, found = content(surface_for(facts.plan.court)), dict[int, _Ways]()
    for number, throws in enumerate(batch.throws for batch in facts.batches):
        keys = [(surface, key) for key in throws.keys]
        drawn = facts.memo.each("drawn", keys, partial(_drawn, facts, number))
        found.update(zip(throws.feeds, drawn, strict=True))
    return found


def _drawn(facts: PlanFacts, batch: int, rows: Sequence[int]) -> list[_Ways]:
    return [
        (_points(path), () if on is None else _points(on)) for path, on in ways(facts, batch, rows)
    ]


def _feeds(
    text: OpenText, verdict: Verdict, feeds: tuple[AimedFeed, ...], facts: PlanFacts
) -> Iterator[SeenFeed]:
    places, drawn = verdict.places, _ways(facts)
    broken = {one.span for one in verdict.diagnostics if one.is_error and one.span is not None}
    for index, flight in enumerate(styled(feeds, [_NOT_HERE] * len(feeds))):
        wish = None if places is None else places.wishes[index]
        spans = {} if wish is None else {"": wish.span, **wish.spans}
        yield _feed(
            index,
            flight,
            drawn[index],
            words=text.words(spans.get("")),
            land_words=text.words(spans.get("land")),
            wrong=any(_within(span, spans.get("")) for span in broken),
        )


def _within(inner: Span, outer: Span | None) -> bool:
    return (
        outer is not None
        and inner.source == outer.source
        and outer.line <= inner.line <= inner.end_line <= outer.end_line
    )


def _feed(
    index: int,
    flight: DrawnFlight,
    drawn: _Ways,
    *,
    words: Words | None,
    land_words: Words | None,
    wrong: bool,
) -> SeenFeed:
    feed: AimedFeed = flight.feed
    return SeenFeed(
        index=index,
        name=feed.name,
        wish=terms.feed(flight.wish),
        letter=flight.style.letter,
        colour=flight.style.colour,
        dash=flight.style.dash,
        leads=flight.leads,
        launcher=feed.launcher,
        landing_m=feed.landing_m,
        path_m=drawn[0],
        after_m=drawn[1],
        scatter=(feed.scatter.major_m, feed.scatter.minor_m, feed.scatter.turn_deg),
        speed_kmh=feed.speed_mps * 3.6,
        spin_rpm=(feed.top_rpm, feed.side_rpm),
        flight_s=feed.flight_s,
        net_clearance_m=feed.net_clearance_m,
        apex_m=feed.apex_m,
        within_m=feed.within_m,
        receiver_m=feed.receiver_m,
        words=words,
        land_words=land_words,
        wrong=wrong,
    )


def _points(path: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> tuple[Place, ...]:
    """A path to the centimetre, which no screen shows finer."""
    found = np.round(path[np.isfinite(path).all(axis=1)], 2)
    return tuple(map(tuple, found.tolist()))


def _hour(verdict: Verdict) -> SeenHour | None:
    hour = verdict.hour
    if hour is None:
        return None
    return SeenHour(
        planned_s=hour.planned_s,
        whole_s=hour.whole_s,
        play_s=hour.play_s,
        change_overs_s=hour.change_overs_s,
        collecting_s=hour.collecting_s,
        people_s=hour.people_s,
        breaks_s=hour.breaks_s,
        spare_s=hour.spare_s,
        exercises=tuple(
            SeenExercise(title=one.title, takes_s=one.takes_s, planned_s=one.planned_s)
            for one in hour.exercises
        ),
    )


def expectation_seen(one: Met) -> SeenExpectation:
    """What became of an expectation."""
    return SeenExpectation(
        written=one.words,
        standing=one.outcome.standing.value,
        figure=one.outcome.figure,
        line=one.line,
        worst=one.outcome.worst,
    )
