"""Which exercises suit, and how a lesson's minutes are shared out.

Design values stand in capitals; none of them is measured.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import msgspec

from feedscript.desk.first_lesson.answers import Answers
from feedscript.desk.first_lesson.exercises import Exercise, library
from feedscript.desk.first_lesson.words import AGAIN_BALLS, BREAK_MIN, Part
from feedscript.language.resolve.planning.suits import WHO

#: How long an exercise should be, and at most; and what arming and collecting take beside it.
_WELL_MIN, _MOST_MIN, _LEAST_MIN, _BESIDE_MIN = 10, 18, 4, 1.6
#: The same where groups go round stations.
_ROUNDS_MIN = 15
#: From here on a lesson has a break, and another one.
_BREAKS_OVER_MIN = (40, 80)
#: No turns beyond this: the same ball longer is no exercise any more.
_MOST_TURNS = 6
#: So many people stand at one launcher, as the library's exercises have it at most; more go round
#: stations, so many at each.
_MOST_AT_LAUNCHER, _AT_STATION = 6, 5
_WARM_UP = "warm-up"


def stations(players: int) -> int:
    """How many groups a lesson has: one, or two or three that go round."""
    return 1 if players <= _MOST_AT_LAUNCHER else 2 if players <= 8 else 3


def at_launcher(players: int) -> int:
    """How many stand at the launcher at once, at most."""
    return math.ceil(players / stations(players))


def suiting(answers: Answers) -> list[Exercise]:
    """What suits the players and what is at hand; what is of the theme first.

    Last comes what is written for the stage or level beside theirs, for groups that few are for.
    """
    many, has = at_launcher(answers.players), set(answers.has)
    fits = [
        one
        for one in library()
        if far(one, answers.who) <= 1
        and one.suits.players is not None
        and one.suits.players[0] <= many <= one.suits.players[1]
        and has.issuperset(one.suits.needs)
    ]

    def rank(one: Exercise) -> tuple[int, bool]:
        return far(one, answers.who), answers.theme not in ("", *one.suits.themes)

    return sorted(fits, key=rank)


def far(one: Exercise, who: str) -> int:
    """How many stages or levels an exercise is away from those it is written for."""
    return min(abs(WHO.index(stage) - WHO.index(who)) for stage in one.suits.stages)


def warm_ups(answers: Answers, wanted: Sequence[Exercise]) -> Iterator[Exercise]:
    """Warm-ups for this stage, then for the stages beside it, then whatever suits."""
    has = set(answers.has)
    found = [one for one in library() if _WARM_UP in one.suits.themes]
    ready = [one for one in found if has.issuperset(one.suits.needs)]
    yield from sorted(ready, key=lambda one: far(one, answers.who))
    yield from (one for one in wanted if one not in found)


def finishes(wanted: Sequence[Exercise], who: str, theme: str) -> Iterator[Exercise]:
    """What has a goal or a score: of the theme first, if one is named, then points."""
    counting = [one for one in wanted if one.counts]

    def rank(one: Exercise) -> tuple[bool, int, bool, bool]:
        themes = one.suits.themes
        off = theme not in ("", *themes)
        return off, far(one, who), "points" not in themes, one.said.score is None

    return iter(sorted(counting, key=rank))


def slots(minutes: int, players: int) -> Iterator[int]:
    """How many exercises to try with: the usual number first, then fewer, then more."""
    well_min = _WELL_MIN if stations(players) == 1 else _ROUNDS_MIN
    usual = max(2, round(_free_min(minutes) / (well_min + _BESIDE_MIN)))
    for many in (usual, *range(usual - 1, 1, -1), usual + 1, usual + 2):
        if slot_min(minutes, many) >= _LEAST_MIN:
            yield many


def slot_min(minutes: int, many: int) -> int:
    """The minutes of each of so many exercises."""
    return min(_MOST_MIN, int(_free_min(minutes) / many - _BESIDE_MIN))


def _free_min(minutes: int) -> int:
    return minutes - 1 - BREAK_MIN * sum(minutes > over for over in _BREAKS_OVER_MIN)


def breaks(minutes: int, many: int) -> tuple[int, ...]:
    """After which exercises there is a break, shared out evenly."""
    wanted = min(many - 1, sum(minutes > over for over in _BREAKS_OVER_MIN))
    return tuple(round(many * (number + 1) / (wanted + 1)) for number in range(wanted))


def shorter(parts: list[Part]) -> list[Part]:
    """Without the last of the middle; none where only first and last are left."""
    return [*parts[:-2], parts[-1]] if len(parts) > 2 else []


def again(part: Part, players: int, load: int) -> Part:
    """The exercise a second time: its ball, with as many turns as there is room for."""
    room = min(0.9 * 60 * part.minutes / (60 * players), (load - 1) / (AGAIN_BALLS * players))
    turns = max(1, min(_MOST_TURNS, int(room)))
    return msgspec.structs.replace(part, again=True, numbers=(("turns", turns),))


def larger(part: Part, room: float) -> Iterator[Part]:
    """With more of what is first in the hour: turns, or else balls; the most first."""
    *_, number = part.exercise.numbers
    most = min(_MOST_TURNS if number.name == "turns" else 2 * number.default, 12)
    for many in range(min(most, int(room * number.default)), number.default, -1):
        yield _with(part, {number.name: many})


def smaller(part: Part) -> Iterator[Part]:
    """With one turn, then with fewer balls."""
    first, *_, last = (*part.exercise.numbers, part.exercise.numbers[-1])
    turns = {last.name: 1} if last.name == "turns" else {}
    if turns:
        yield _with(part, turns)
    for share in (2 / 3, 1 / 2):
        yield _with(part, {first.name: math.ceil(share * first.default)})
        if turns:
            yield _with(part, {first.name: math.ceil(share * first.default), **turns})


def _with(part: Part, numbers: dict[str, int]) -> Part:
    return msgspec.structs.replace(part, numbers=tuple(numbers.items()))
