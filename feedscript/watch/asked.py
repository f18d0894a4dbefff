"""What a lesson asked of its balls, by the journal: when each left, and how it should fly."""

from __future__ import annotations

import math

import msgspec
import numpy as np

from feedscript.diagnostics import Diagnostic, FeedscriptError, Page
from feedscript.flight.bounce import SURFACES, Surface
from feedscript.flight.motion.conditions import Conditions
from feedscript.journal.queries import balls_that_left, session_of
from feedscript.journal.store import Journal
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.scatter import mouth_sigmas
from feedscript.launcher.throw import Throw
from feedscript.plan.aiming.flying import conditions_or_why, surface_for
from feedscript.plan.model import AimedFeed, Plan
from feedscript.watch.camera.camera import Camera
from feedscript.watch.seek.expected import Expected, Scatter
from feedscript.watch.sync.align import Clock, Event

#: How well a journal knows when a ball left, one standard deviation. Design value.
LEFT_SD_S = 0.02
#: The same of when it bounces, beside what its flight may differ by.
_BOUNCE_SD_S = 0.06
#: How often a launcher's thump and a bounce are heard at all. Design values.
_THUMP_HEARD, _BOUNCE_HEARD = 0.8, 0.6
#: In air of 20 degrees Celsius (from memory); some degrees more or less matter little here.
_SOUND_MPS = 343.0
#: Where the program says no surface, a ball may bounce as on any of them. Design values.
_ANY_SURFACE = {"rise": 0.16, "keep": 0.25}

LESSON_UNKNOWN = Page(
    slug="lesson-not-watchable",
    title="The journal does not say what this lesson's balls were to do",
    why=(
        "Each ball is looked for along the way that the lesson's plan has for it. Lessons that "
        "were written by another version of feedscript, and rehearsals, in which no ball flew, "
        "cannot be looked for in a film."
    ),
)


class AskedBall(msgspec.Struct, frozen=True, kw_only=True):
    """One ball that left: its number in the journal, and the feed that it was."""

    number: int
    left_utc_s: float
    feed: AimedFeed


class AskedLesson(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson's plan, its launchers' profiles, and the balls that left.

    ``number``: the journal's; None of a program by itself, whose times are the plan's seconds.
    """

    number: int | None
    plan: Plan
    profiles: tuple[Profile, ...]
    balls: tuple[AskedBall, ...]


def asked_of(journal: Journal, number: int) -> AskedLesson:
    """What a lesson asked. Raises FeedscriptError (``lesson-not-watchable``)."""
    head = session_of(journal, number)
    if head is None:
        raise _unknown(journal, f"there is no lesson {number}")
    if head.rehearsal:
        raise _unknown(journal, f"lesson {number} was a rehearsal: no ball flew")
    try:
        plan = msgspec.json.decode(head.plan, type=Plan)
        profiles = msgspec.json.decode(head.profiles, type=tuple[Profile, ...])
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as trouble:
        raise _unknown(journal, f"lesson {number} cannot be read: {trouble}") from trouble
    named = dict(enumerate(plan.feeds))
    balls = [
        AskedBall(number=row.feed_id, left_utc_s=row.left_utc_s, feed=feed)
        for row in balls_that_left(journal, number)
        if row.left_utc_s is not None
        and (feed := named.get(row.feed_index)) is not None
        and feed.name == row.feed
        and plan.launchers[feed.launcher].sweep_deg is None  # else nobody knows where to look
    ]
    if not balls and any(one.sweep_deg is not None for one in plan.launchers):
        why = "its launcher swings by itself, and where its balls went nobody knows"
        raise _unknown(journal, f"lesson {number} cannot be looked for in a film: {why}")
    if not balls or len(profiles) != len(plan.launchers):
        raise _unknown(journal, f"lesson {number} has no ball that left by its plan")
    return AskedLesson(number=number, plan=plan, profiles=profiles, balls=tuple(balls))


def _unknown(journal: Journal, message: str) -> FeedscriptError:
    help_words = "`feedscript journal list` names the lessons"
    return FeedscriptError(LESSON_UNKNOWN.report(message, device=journal.path, help=help_words))


def events_of(lesson: AskedLesson, camera: Camera) -> tuple[Event, ...]:
    """What should be heard at the camera: every ball as it leaves, and as it bounces."""
    return heard_at(lesson, camera.position_m)


def heard_at(lesson: AskedLesson, place_m: tuple[float, float, float]) -> tuple[Event, ...]:
    """The same at any place."""
    found = []
    for ball in lesson.balls:
        mouth_m = lesson.plan.launchers[ball.feed.launcher].mouth_m
        takes_s = math.dist(mouth_m, place_m) / _SOUND_MPS
        found.append(Event(ball.left_utc_s, takes_s, LEFT_SD_S, _THUMP_HEARD))
        takes_s = math.dist((*ball.feed.landing_m, 0.0), place_m) / _SOUND_MPS
        down_utc_s = ball.left_utc_s + ball.feed.flight_s
        found.append(Event(down_utc_s, takes_s, _BOUNCE_SD_S, _BOUNCE_HEARD))
    return tuple(found)


def expected_of(lesson: AskedLesson, clock: Clock) -> tuple[Expected, ...] | Diagnostic:
    """Every ball as it should be in the film; a diagnostic where plan and air do not fit."""
    found = []
    for ball in lesson.balls:
        conditions = conditions_or_why(
            lesson.plan.court, lesson.plan.balls, lesson.profiles[ball.feed.launcher]
        )
        if isinstance(conditions, Diagnostic):
            return conditions
        found.append(_expected(lesson, ball, clock, conditions))
    return tuple(found)


def _expected(
    lesson: AskedLesson, ball: AskedBall, clock: Clock, conditions: Conditions
) -> Expected:
    feed = ball.feed
    surface = surface_for(lesson.plan.court)
    scatter = _scatter(lesson.profiles[feed.launcher], feed, clock.error_s(ball.left_utc_s))
    if not isinstance(surface, Surface):
        surface, scatter = SURFACES["hard"], msgspec.structs.replace(scatter, **_ANY_SURFACE)
    return Expected(
        number=ball.number,
        left_s=clock.film_s(ball.left_utc_s),
        mouth_m=lesson.plan.launchers[feed.launcher].mouth_m,
        speed_mps=feed.speed_mps,
        elevation_deg=feed.elevation_deg,
        azimuth_deg=feed.azimuth_deg,
        top_rpm=feed.top_rpm,
        side_rpm=feed.side_rpm,
        scatter=scatter,
        conditions=conditions,
        surface=surface,
    )


def _scatter(profile: Profile, feed: AimedFeed, clock_s: float) -> Scatter:
    """The launcher's own, never narrower than what any launcher's is taken for: its profile may
    be a guess."""
    throw = Throw(
        speed_mps=feed.speed_mps,
        elevation_deg=feed.elevation_deg,
        azimuth_deg=feed.azimuth_deg,
        top_rpm=feed.top_rpm,
        side_rpm=feed.side_rpm,
    )
    usual = Scatter()
    least = (usual.speed_mps, usual.elevation_deg, usual.azimuth_deg, usual.top_rpm, usual.side_rpm)
    speed, up, turn, top, side = np.maximum(mouth_sigmas(profile, throw), least).tolist()
    return Scatter(
        speed_mps=speed,
        elevation_deg=up,
        azimuth_deg=turn,
        top_rpm=top,
        side_rpm=side,
        left_s=math.hypot(LEFT_SD_S, clock_s),
    )
