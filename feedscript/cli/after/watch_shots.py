"""What ``feedscript watch --shots`` does: players' shots in a film, beside the coach's taps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from feedscript.court.lines import COURTS
from feedscript.journal.store import read_journal
from feedscript.plan.model import Exercise, Plan, Result, Target
from feedscript.review.report.lesson import Lesson, read_lesson
from feedscript.told_units import place_words, speed_told, told_units
from feedscript.visible import on_one_line
from feedscript.watch.asked import AskedLesson
from feedscript.watch.shots.ground import Ground
from feedscript.watch.suggested import Suggested, Unseen


class Shots(msgspec.Struct, frozen=True, eq=False):
    """Of each ball what its shot is held against, and what the coach tapped."""

    grounds: Mapping[int, Ground]
    taps: Mapping[int, Result]


def shots_of(lesson: AskedLesson, options: Mapping[str, Any]) -> Shots | None:
    """The lesson's shots, where ``--shots`` asks for them."""
    if not options.get("shots"):
        return None
    assert lesson.number is not None  # the option goes with a lesson
    journal = read_journal(options["journal_path"])
    try:
        recorded = read_lesson(journal, lesson.number)
    finally:
        journal.close()
    taps = {ball.number: ball.result for ball in recorded.played if ball.result is not None}
    return Shots(_grounds(recorded, lesson.plan), taps)


def _grounds(recorded: Lesson, plan: Plan) -> dict[int, Ground]:
    """Of each ball that was fed to somebody: the court, and what that player aimed at."""
    court, targets = COURTS[plan.court.kind], _targets(plan)
    return {
        ball.number: Ground(
            court, targets.get(ball.exercise), recorded.hand_of(ball.player) == "left"
        )
        for ball in recorded.played
    }


def _targets(plan: Plan) -> dict[str, Target]:
    """By the exercise's title; one that stands twice with other targets is left out."""
    found: dict[str, Target] = {}
    twice = set()
    for step in plan.steps:
        if isinstance(step, Exercise) and step.target is not None:
            title = on_one_line(step.title)
            if found.setdefault(title, step.target) != step.target:
                twice.add(title)
    return {title: one for title, one in found.items() if title not in twice}


def shot_rows(shots: Sequence[Suggested | Unseen]) -> list[str]:
    """Lines for the terminal; none where shots were not looked for."""
    if not shots:
        return []
    seen = [one for one in shots if isinstance(one, Suggested)]
    differ = sum(one.differs for one in seen)
    return [
        "",
        f"shots     {len(seen)} of {len(shots)} seen on their way back; {differ} differ from what "
        "was tapped, which stays as it is",
        "",
        _HEAD.format(told_units()),
        *map(_row, shots),
    ]


_HEAD = " ball    film  sure  tapped   x, {0.length:<2}   y, {0.length:<2} {0.speed:>5}"


def _row(one: Suggested | Unseen) -> str:
    tapped = "-" if one.tapped is None else one.tapped.value
    if isinstance(one, Unseen):
        return f"{one.number:>5} {'-':>7} {'':>5} {tapped:>7}  {one.why}"
    said = "?" if one.result is None else one.result.value
    sure = f"{one.odds[one.likeliest]:.0%}"
    place = f"{'':>7} {'':>7}"
    if one.landing_m is not None:
        place = " ".join(f"{figure:>7}" for figure in place_words(one.landing_m))
    note = "  differs" if one.differs else ""
    if one.result is None:
        note = "  too close: " + ", ".join(f"{k.value} {v:.0%}" for k, v in one.odds.items())
    speed = f"{speed_told(one.speed_mps):>5.0f}"
    return f"{one.number:>5} {said:>7} {sure:>5} {tapped:>7} {place} {speed}{note}"
