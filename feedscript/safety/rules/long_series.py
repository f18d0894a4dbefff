"""A guide: how long anybody plays without a break."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeAlias

from feedscript.diagnostics import Page, Severity
from feedscript.override import override
from feedscript.plan.folds.fold import Fold
from feedscript.plan.folds.player_fold import PlayerFold
from feedscript.plan.model import OnRequest, Plan, Rest, Send, ShowSpeed, Station, Turns
from feedscript.plan.scene import Group
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import example
from feedscript.safety.hazards.heaviest_segment import (
    CUT,
    EMPTY,
    Segment,
    Segments,
    heaviest_line,
    weighing,
)
from feedscript.safety.hazards.who_gets import as_group, lowest
from feedscript.safety.hazards.young import by_stage
from feedscript.units import apart

PAGE = Page(
    slug="long-series",
    title="A long series without a break",
    why=(
        "Points are short: 4 to 10 s of work, 10 to 20 s of rest (Fernandez, Mendez-Villanueva & "
        "Pluim 2006, Br. J. Sports Med. 40:387-391). A feeding series used in research ran 120 s "
        "with 90 s of rest (J. Sports Sci. Med. 10:540, 2011). A series longer than 120 s without "
        "a gap of 10 s is noted; green 105 s, orange 90 s, red 60 s are design values, and `ages` "
        "of up to 10, 9 and 8 count as these stages. A guide: it refuses nothing; the coach, who "
        "sees the player, decides."
    ),
    severity=Severity.WARNING,
    wrong=example(steps="show speed of deep  repeat 40 { send deep after 4 s }"),
    corrected=example(
        steps="show speed of deep  repeat 2 { repeat 20 { send deep after 4 s }  rest 30 s }"
    ),
)

#: A gap of at least this is a break: the short end of the rest between points in play.
BREAK_S = 10.0
STAGE_S: Mapping[str, float] = {"red": 60.0, "orange": 90.0, "green": 105.0}
FULL_COURT_S = 120.0


class _Seconds(Segments):
    """Seconds of play; a pause of a break's length cuts."""

    @override
    def send(self, step: Send, feeds: tuple[int, ...]) -> Segment:
        return CUT if step.after_s[0] >= BREAK_S else weighing(step.after_s[1])

    @override
    def show_speed(self, step: ShowSpeed) -> Segment:
        return CUT

    @override
    def rest(self, step: Rest) -> Segment:
        return CUT if step.seconds >= BREAK_S else weighing(step.seconds)

    @override
    def within_a_time(self, ball: Segment, step: OnRequest, launcher: int) -> Segment:
        """Whoever asks may do so just before it would be a break."""
        together_s = step.at_most * max(BREAK_S, step.send.after_s[1])
        return self.either([EMPTY, weighing(min(together_s, step.lasts_s or 0.0))])


class _Anybodys(_Seconds):
    """Those of somebody who has every turn, at whichever station it is longest."""

    @override
    def beside(self, stations: Sequence[tuple[Station, Segment]], for_ms: int) -> Segment:
        return self.either([body for _, body in stations]) if stations else EMPTY


class _Players(_Seconds):
    """Those of one player: somebody else's turn cuts, and so do stations where the player is not.

    Outside turns whoever it is takes every ball. ``on``: whether it is the player's own turn.
    """

    def __init__(self, player: int, *, on: bool) -> None:
        self._player, self._on = player, on

    @override
    def turn(self, body: Segment, step: Turns) -> Segment:
        return body if self._on else CUT

    @override
    def beside(self, stations: Sequence[tuple[Station, Segment]], for_ms: int) -> Segment:
        theirs = (body for station, body in stations if self._player in station.players)
        return next(theirs, CUT if for_ms >= 1000 * BREAK_S else EMPTY)


def longest_alone_s(plan: Plan) -> float:
    """The longest series without a break, on any run, of somebody who has every turn."""
    return Fold(plan, _Anybodys()).whole().most


def longest_s(plan: Plan, player: int) -> float:
    """The longest series that this player may have without a break, on any run."""
    return _fold(plan, player).whole().most


#: A longest series in seconds, and the line where most of it lies.
_Series: TypeAlias = tuple[float, int | None]


def _of_anybody(plan: Plan) -> _Series:
    return longest_alone_s(plan), _line(plan, None)


def _of_each(plan: Plan) -> tuple[_Series, ...]:
    players = range(len(plan.group.players))
    return tuple((longest_s(plan, player), _line(plan, player)) for player in players)


def _fold(plan: Plan, player: int) -> PlayerFold[Segment]:
    return PlayerFold(plan, player, _Players(player, on=True), _Players(player, on=False))


def _line(plan: Plan, player: int | None) -> int | None:
    """The line of the lesson's step in which the longest series lies, or most of it does."""
    if not plan.steps:
        return None
    if player is None:
        return heaviest_line(plan, _Anybodys())
    fold = _fold(plan, player)
    return max(plan.steps, key=lambda step: fold.step(step).most).line


LIMIT = Limit(default=FULL_COURT_S, unit="s", stricter=Stricter.LOWER)


def own_limit(facts: PlanFacts) -> float:
    """The guide's figure for this group whatever the program asks."""
    return lowest(facts.plan.group, lambda group: by_stage(group, STAGE_S, FULL_COURT_S))


def most_s(facts: PlanFacts) -> float:
    """The guide's figure for this lesson."""
    return min(own_limit(facts), facts.limit(PAGE.slug, LIMIT))


def _find(facts: PlanFacts) -> Finding:
    """Each player's longest series against the figure for their own stage; who has the same is
    told of once."""
    group = facts.plan.group
    asked = facts.limit(PAGE.slug, LIMIT)
    if not group.players:
        return finding(
            [_measured(*facts.of_steps("series of anybody", _of_anybody), most_s(facts), "")], ""
        )
    alike: dict[tuple[float, float], list[int]] = {}
    each = facts.of_steps("series of each", _of_each)
    for number, player in enumerate(group.players):
        own = by_stage(as_group(group, player), STAGE_S, FULL_COURT_S)
        alike.setdefault((each[number][0], min(own, asked)), []).append(number)
    return finding(
        [
            _measured(*each[numbers[0]], limit, _names(group, numbers))
            for (_, limit), numbers in alike.items()
        ],
        "",
    )


def _names(group: Group, numbers: Sequence[int]) -> str:
    """Whose series it is; nothing where it is everybody's."""
    if len(numbers) == len(group.players):
        return ""
    return ", ".join(group.players[number].name for number in numbers)


def _measured(longest: float, line: int | None, limit: float, names: str) -> Measurement:
    plays, guide = apart(longest, limit, 0)
    whose = f" of {names}" if names else ""
    return Measurement(
        value=longest,
        limit=limit,
        margin=limit - longest,
        unit="s",
        words=f"the longest series{whose} without a break is {longest:.0f} s",
        message=f"{names or 'somebody'} may play {plays} s without a break; the guide is {guide} s",
        help=f"put a rest of {BREAK_S:g} s or more into the series, or a change of player",
        line=line,
        part="block",
    )


RULE = Rule(
    page=PAGE,
    assumption="outside turns one player takes every ball",
    source="Fernandez et al. 2006; J. Sports Sci. Med. 10:540 (2011); stages: design value",
    find=_find,
    limit=LIMIT,
    own_limit=own_limit,
    guide=True,
)
