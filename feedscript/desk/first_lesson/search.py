"""Exercises, their order and their balls: tried with the check until all of it passes.

Design values stand in capitals; none of them is measured.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from functools import cache
from itertools import islice
from pathlib import Path

import msgspec

from feedscript.check.check_program import Verdict, check_program
from feedscript.desk.first_lesson.answers import (
    NO_FIRST_LESSON,
    Answers,
    choices,
    judged,
    no_lesson,
)
from feedscript.desk.first_lesson.choose import (
    again,
    at_launcher,
    breaks,
    far,
    finishes,
    larger,
    shorter,
    slot_min,
    slots,
    smaller,
    stations,
    suiting,
    warm_ups,
)
from feedscript.desk.first_lesson.exercises import Exercise
from feedscript.desk.first_lesson.words import Part, program_text
from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.launcher.change import head_from_rest_s
from feedscript.launcher.kinematics import CANNOT_THROW, natural_spin
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.profile.read_profile import read_profile
from feedscript.shipped import shipped_profiles
from feedscript.tongues.text import _

_FULL = 0.9  # of an exercise's minutes for its balls, the rest for words
_LEAST_USED = 2 / 3  # of the lesson's minutes
_LEAST_BALLS, _MOST_BALLS = 2, 10  # of one turn at a station
MOST_TRIALS = 90  # of each launcher: some seconds at most
#: What is wrong when a faster ball than the first part's is to be shown.
_SHOW_ANOTHER = "faster-than-shown"
#: What is wrong when there are too few balls, or too few in a turn.
_TOO_FEW = {"short-of-balls", "goal-out-of-reach", NO_FIRST_LESSON.slug}


class FirstLesson(msgspec.Struct, frozen=True, kw_only=True):
    """A lesson that passes the check. ``notes``: what the coach should know of it."""

    title: str
    words: str
    notes: tuple[str, ...]


def lay_out(answers: Answers, beside: Path) -> FirstLesson:
    """A lesson that passes the check, made of what suits. Nothing is written or started.

    ``beside``: where the program is going to lie, for its ``use``. Raises FeedscriptError with the
    cause and the mend where the answers cannot be met.
    """
    answers = judged(answers)
    searches = [_Search(answers, launcher, beside) for launcher in answers.launchers]
    for search in searches:
        lesson = search.lesson()
        if lesson is not None:
            return lesson
    raise _why_not(searches[0])


def _why_not(search: _Search) -> FeedscriptError:
    """What stood in the way most often."""
    answers = search.answers
    if search.best_used:
        return no_lesson(
            _(
                "the exercises that suit fill {n:.0f} of {minutes} minutes well",
                n=search.best_used * answers.minutes,
                minutes=answers.minutes,
            ),
            _("give other minutes, another theme or any, or say what is at hand, such as cones"),
        )
    if not search.faults:
        return no_lesson(
            _("no exercise with the theme `{theme}` suits these players", theme=answers.theme)
            if answers.theme
            else _("no exercise suits these players and what is at hand"),
            _("choose another theme or any, or say what is at hand, such as cones"),
        )
    (slug, _many), *_others = Counter(one.slug for one in search.faults).most_common(1)
    all_tried = search.trials < MOST_TRIALS
    if all_tried and slug == CANNOT_THROW.slug and not _chooses_spin(search.launcher):
        return _one_spin(search)
    first = next(one.message for one in search.faults if one.slug == slug)
    tries = "" if all_tried else _(" in {n} tries", n=MOST_TRIALS)
    return no_lesson(
        _(
            "nothing that suits passes the check with {launcher}{tries}: {why}",
            launcher=search.launcher,
            tries=tries,
            why=first,
        ),
        _("give more balls, more minutes or fewer players")
        if slug in _TOO_FEW
        else _("choose another theme or another launcher"),
    )


def _one_spin(search: _Search) -> FeedscriptError:
    """The exercises want a ball whose spin is chosen; this launcher has one for each speed."""
    free = [name for name in choices().launchers if _chooses_spin(name)]
    return no_lesson(
        _(
            "the exercises for {who} need a ball whose spin is chosen, and {launcher} has one "
            "spin for each speed",
            who=search.answers.who,
            launcher=search.launcher,
        ),
        _(
            "choose one of these, as the launcher or as the second one: {launchers}",
            launchers=", ".join(free),
        ),
    )


def _chooses_spin(launcher: str) -> bool:
    """Whether it gives any ball, to any place."""
    profile = _profile(launcher)
    return (
        natural_spin(profile.drive, profile.limits.speed_mps.most) is None
        and not profile.drive.steps
        and profile.sweep is None
    )


class _EnoughTriedError(Exception):
    """As many lessons were tried as a coach waits for."""


class _Search:
    """The search with one launcher. Every trial is a whole program through the check."""

    def __init__(self, answers: Answers, launcher: str, beside: Path) -> None:
        self.answers = answers
        self.launcher = launcher
        self.faults: list[Diagnostic] = []
        self.best_used = 0.0  # share of the minutes, of a lesson that passes
        self._beside = beside
        self._load = min(answers.balls, _hopper(launcher))
        self._stations = stations(answers.players)
        self._fitted: dict[tuple[str, int], Part | None] = {}
        self._hopeless: set[str] = set()  # exercises that no number of balls mends
        self.trials = 0

    def lesson(self) -> FirstLesson | None:
        """The lesson; None where none is found in time, and ``faults`` says why."""
        try:
            return self._found()
        except _EnoughTriedError:
            return None

    def _found(self) -> FirstLesson | None:
        theme, wanted = self.answers.theme, suiting(self.answers)
        if theme and not any(theme in one.suits.themes for one in wanted):
            return None
        for many in slots(self.answers.minutes, self.answers.players):
            parts = self._parts(many, slot_min(self.answers.minutes, many))
            while parts and self._is_themed(parts):
                lesson = self._whole(parts)
                if lesson is not None:
                    return lesson
                parts = shorter(parts)
        return None

    def _whole(self, parts: list[Part]) -> FirstLesson | None:
        """The lesson, if it passes and its hour is as long as it should be."""
        notes = tuple(self._notes(parts))
        for shown in parts:
            words = program_text(
                self.answers,
                self.launcher,
                self._load,
                parts,
                breaks=breaks(self.answers.minutes, len(parts)),
                notes=notes,
                shown=shown,
            )
            verdict = self._tried(words)
            wrong = [one for one in verdict.diagnostics if one.is_error]
            if {one.slug for one in wrong} != {_SHOW_ANOTHER}:
                break
        self.faults += wrong
        if not verdict.ok or verdict.hour is None or verdict.program is None:
            return None
        used = verdict.hour.whole_s / (60 * self.answers.minutes)
        self.best_used = max(self.best_used, min(used, 1.0))
        if not _LEAST_USED <= used <= 1 or not verdict.as_expected:
            return None
        return FirstLesson(title=verdict.program.title, words=words, notes=notes)

    def _parts(self, many: int, minutes: int) -> list[Part]:
        """As many exercises as there is time for: a warm-up first, one that counts last."""
        wanted = suiting(self.answers)
        first = next(self._fitting(warm_ups(self.answers, wanted), minutes), None)
        if first is None:
            return []
        others = [one for one in wanted if one != first.exercise]
        theme = self.answers.theme if many < 3 else ""
        last = next(self._fitting(finishes(others, self.answers.who, theme), minutes), None)
        if last is None:
            last = self._again(first)
        pool = [one for one in others if one != last.exercise]
        middle = list(islice(self._fitting(pool, minutes), many - 2))
        short = many - 2 - len(middle)
        again_of = [*middle] if last.again else [first, *middle]
        middle += [self._again(part) for part in again_of[:short]]
        if short > len(again_of) and not last.again:
            middle, last = [*middle, last], self._again(last)
        return [first, *middle, last]

    def _again(self, part: Part) -> Part:
        return again(part, self.answers.players, self._load)

    def _is_themed(self, parts: list[Part]) -> bool:
        theme = self.answers.theme
        return not theme or any(theme in one.exercise.suits.themes for one in parts)

    def _fitting(self, exercises: Iterable[Exercise], minutes: int) -> Iterator[Part]:
        """Each that passes by itself, with as many balls as its minutes hold."""
        for one in exercises:
            key = (one.name, minutes)
            if one.name in self._hopeless:
                continue
            if key not in self._fitted:
                self._fitted[key] = self._fit(one, minutes)
            found = self._fitted[key]
            if found is not None:
                yield found

    def _fit(self, one: Exercise, minutes: int) -> Part | None:
        spin = spin_of(self.launcher, one)
        part = Part(
            exercise=one,
            minutes=minutes,
            stations=self._stations,
            spin=spin,
            gap_s=gap_of(self.launcher, one),
        )
        return self._at_stations(part) if self._stations > 1 else self._in_turn(part)

    def _at_stations(self, part: Part) -> Part | None:
        turn_s = 60 * part.every_min / at_launcher(self.answers.players)
        if self._load - 2 < _LEAST_BALLS * self.answers.players:
            self.faults.append(
                NO_FIRST_LESSON.report(
                    _(
                        "{n} balls are too few for {players} players",
                        n=self._load,
                        players=self.answers.players,
                    )
                )
            )
            return None
        share = (self._load - 2) // self.answers.players
        balls = min(int((turn_s - 20) / part.beat_s), share, _MOST_BALLS)
        tried = msgspec.structs.replace(part, balls=balls)
        return (
            tried
            if balls >= _LEAST_BALLS and self._check(self._words([tried])) is not None
            else None
        )

    def _in_turn(self, part: Part) -> Part | None:
        """The part with the most balls that its minutes and the hopper hold."""
        verdict = self._tried(self._words([part]))
        if not verdict.ok and not self._is_of_numbers(verdict):
            self._hopeless.add(part.exercise.name)
            return None
        if verdict.ok and verdict.hour is not None:
            takes_s = verdict.hour.exercises[0].takes_s
            room = min(_FULL * 60 * part.minutes / takes_s, (self._load - 1) / _balls(verdict))
            for tried in larger(part, room):
                if self._fits(tried):
                    return tried
            if takes_s <= 60 * part.minutes:
                return part
        return next((tried for tried in smaller(part) if self._fits(tried)), None)

    def _is_of_numbers(self, verdict: Verdict) -> bool:
        """Whether more or fewer balls may mend all that is wrong; it is kept, as a cause."""
        wrong = [one for one in verdict.diagnostics if one.is_error]
        self.faults += wrong
        return {one.slug for one in wrong} <= _TOO_FEW

    def _fits(self, part: Part) -> bool:
        verdict = self._check(self._words([part]))
        if verdict is None or verdict.hour is None:
            return False
        return verdict.hour.exercises[0].takes_s <= 60 * part.minutes

    def _tried(self, words: str) -> Verdict:
        """The whole check, so many times at most. Raises _EnoughTriedError."""
        if self.trials >= MOST_TRIALS:
            raise _EnoughTriedError
        self.trials += 1
        return check_program(self._beside, text=words)

    def _words(self, parts: list[Part]) -> str:
        return program_text(self.answers, self.launcher, self._load, parts)

    def _check(self, words: str) -> Verdict | None:
        verdict = self._tried(words)
        if verdict.ok:
            return verdict
        self.faults += [one for one in verdict.diagnostics if one.is_error]
        return None

    def _notes(self, parts: list[Part]) -> Iterator[str]:
        theme = self.answers.theme
        exercises = [part.exercise for part in parts[1:]]
        others = {one.said.title for one in exercises if theme not in one.suits.themes}
        if theme and others:
            yield _("not all of it is {theme}: {titles}", theme=theme, titles=_titles(others))
        strange = {
            part.exercise.said.title for part in parts if far(part.exercise, self.answers.who)
        }
        if strange:
            who = self.answers.who
            yield _("not written for {who}: {titles}", who=who, titles=_titles(strange))
        if len(self.answers.launchers) > 1:
            yield _("one launcher serves: {launcher}", launcher=self.launcher)
        slowest_s = max((part.gap_s for part in parts), default=0)
        if slowest_s:
            yield _("the launcher's head is slow: a ball every {n} s", n=slowest_s)
        if self._stations > 1:
            yield _(
                "{n} groups go round: one at the launcher, the others beside the court",
                n=self._stations,
            )


def _titles(titles: set[str]) -> str:
    return ", ".join(sorted(titles))


def spin_of(launcher: str, exercise: Exercise) -> str:
    """The spin that a launcher cannot but give at the exercise's speed, in words; "" for any."""
    if exercise.ball is None or exercise.speed_mps is None:
        return ""  # its feeds are its own: the check says whether they can be thrown
    spin = natural_spin(_profile(launcher).drive, exercise.speed_mps)
    if spin is None:
        return ""
    top, across = (round(one) for one in spin)
    parts = [f"{'top' if top > 0 else 'back'} {abs(top)} rpm"] if top else []
    parts += [f"side {'ad' if across > 0 else 'deuce'} {abs(across)} rpm"] if across else []
    return ", ".join(parts) or "flat"


def gap_of(launcher: str, exercise: Exercise) -> int:
    """Whole seconds from ball to ball where a launcher's head is too slow for the exercise's own:
    its first ball waits until the head has come from wherever it stands. 0: as the exercise says.
    """
    least_s = head_from_rest_s(_profile(launcher))
    slow = exercise.gap_s is not None and exercise.gap_s < least_s
    return math.ceil(least_s) if slow else 0


def _hopper(launcher: str) -> int:
    """How many balls the hopper of a shipped profile holds."""
    return _profile(launcher).limits.hopper_balls


@cache
def _profile(launcher: str) -> Profile:
    profile = read_profile(shipped_profiles()[launcher]).profile
    assert profile is not None
    return profile


def _balls(verdict: Verdict) -> int:
    """The most that leave."""
    assert verdict.plan is not None
    return verdict.plan.bounds.balls[1]
