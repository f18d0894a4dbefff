"""A group that changes while its lesson runs, held against what was certified.

Somebody comes, leaves or rests; the lesson goes on with another share of balls for each. Nothing
may come of that which the check did not allow: the plan is judged again as if it were written for
the people now here, every rule that held must hold, a guide that was exceeded may not be exceeded
further, and no bound may grow. How many balls one player gets is counted exactly where it can be:
those had already, and the most that may still come.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import msgspec

from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher.profile.model import Profile
from feedscript.plan.certificate import Clause, Standing
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.model import Plan, Step, Turns
from feedscript.plan.scene import Group, Player
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.certify import certify
from feedscript.safety.hazards.balls_to_come import balls_to_come
from feedscript.safety.hazards.stations import most_stations
from feedscript.safety.hazards.who_gets import each_group
from feedscript.safety.rules import long_series, many_balls, too_fast_for_group, wrong_ball

GROUP_BEYOND = Page(
    slug="group-beyond",
    title="A change of the group that the certificate does not cover",
    why=(
        "The plan was checked for a group: so many balls for each player, so long a stretch "
        "without a break, feeds for a stage, a level and a hand. When somebody comes, leaves or "
        "rests, the plan is judged again for the people then here. A change that would break what "
        "held is refused and the lesson goes on as it was: stop it, and check a program for the "
        "new group."
    ),
)


LEVELS = tuple(too_fast_for_group.LEVEL_MPS)  # from the most careful on


class Changed(msgspec.Struct, frozen=True, kw_only=True):
    """A group as it would be, and how far the lesson is.

    ``stages`` and ``levels`` are those that were said of people who came; the most careful holds.
    ``had``: balls that each player here was fed or has coming. ``unnamed``: balls so far that
    nobody in particular was fed. ``step``: the lesson's step that is under way, by its index.
    ``slots_left``: the turns of that step that may still be given, where it consists of turns.
    """

    players: tuple[Player, ...]
    stages: tuple[str, ...] = ()
    levels: tuple[str, ...] = ()
    had: Mapping[str, int]
    unnamed: int = 0
    step: int = 0
    slots_left: int | None = None
    begun: Mapping[int, int] = {}  # how often each step of the lesson was begun


def refusals(plan: Plan, profiles: tuple[Profile, ...], changed: Changed) -> tuple[Diagnostic, ...]:
    """Why the group of this certified plan may not become that; empty when it may."""
    wrong = _impossible(plan, changed)
    if wrong is not None:
        return (wrong,)
    other = plan_for(plan, changed)
    again = certify(other, profiles)
    found = [one for one in again.diagnostics if one.is_error]
    certified = {} if plan.certificate is None else {c.rule: c for c in plan.certificate.clauses}
    no_break = _without_break(again.facts, certified.get(long_series.PAGE.slug))
    told_apart = {many_balls.PAGE.slug, *([long_series.PAGE.slug] if no_break else [])}
    for clause in again.certificate.clauses:
        if clause.rule not in told_apart and _worse(certified.get(clause.rule), clause):
            found.append(_beyond(clause.worst_case, clause.rule, "let fewer rest"))
    found += no_break
    found += _too_many(again.facts, certified.get(many_balls.PAGE.slug), changed)
    if (
        other.bounds.most_balls > plan.bounds.most_balls
        or other.bounds.time_s[1] > plan.bounds.time_s[1]
    ):
        words = f"the lesson could grow to {other.bounds.most_balls} balls"
        found.append(_beyond(words, "the certified bounds", "keep to the group that was checked"))
    return tuple(found)


def _beyond(words: str, rule: str, fix: str) -> Diagnostic:
    return GROUP_BEYOND.report(
        f"for this group {words} ({rule})",
        help=f"{fix}, or stop and check a program for the new group",
    )


def _impossible(plan: Plan, changed: Changed) -> Diagnostic | None:
    """What no judgement is needed for."""
    if not changed.players:
        return _beyond("nobody would be left to be fed", "no players", "hold or stop the lesson")
    known = {*wrong_ball.ORDER, *too_fast_for_group.LEVEL_MPS}
    for word in (*changed.stages, *changed.levels):
        if word not in known:
            return _beyond(f"{word!r} is no stage or level", "group", "say it as in a program")
    certified_left = any(player.left_handed for player in plan.group.players)
    lefts = [player.name for player in changed.players if player.left_handed]
    if lefts and not certified_left:
        return _beyond(
            f"no mirrored feed was checked for {lefts[0]}, who is left-handed",
            "left-handed",
            "write `left-handed 1` into the program's group",
        )
    return None


def _worse(before: Clause | None, now: Clause) -> bool:
    """Whether a rule that held holds no more, or an exceeded guide is exceeded further.

    What is refused outright is reported as such already.
    """
    if now.standing is not Standing.GUIDE or before is None:
        return False
    if before.standing is not Standing.GUIDE:
        return True
    margins = (now.margin, before.margin)
    return None in margins or now.margin < before.margin - 1e-9  # type: ignore[operator]


def group_for(plan: Plan, changed: Changed) -> Group:
    """The group of a plan with these players, as careful as whoever of them is most."""
    was = plan.group
    unsaid = was.stage is None and was.level is None  # then the beginner's figures hold already
    return msgspec.structs.replace(
        was,
        players=changed.players,
        stage=_careful(wrong_ball.ORDER, was.stage, changed.stages),
        level=None if unsaid else _careful(LEVELS, was.level, changed.levels),
    )


def plan_for(plan: Plan, changed: Changed) -> Plan:
    """The plan as if it were written for this group; not certified.

    Its turns stay as many as they are; every station's players are its share of the group.
    """
    steps = msgspec.convert(
        _shared(msgspec.to_builtins(plan.steps), _Renumbered(plan.group, changed.players)),
        type=tuple[Step, ...],
    )
    group = group_for(plan, changed)
    other = msgspec.structs.replace(plan, group=group, steps=steps, certificate=None)
    return msgspec.structs.replace(other, bounds=bounds(other))


class StillToCome(msgspec.Struct, frozen=True):
    """Balls, and seconds of play, from the least to the most."""

    balls: tuple[int, int]
    time_s: tuple[float, float]


def still_to_come(plan: Plan, changed: Changed) -> StillToCome:
    """What the rest of a plan holds for this group. Of the step under way nothing may be left, or
    all of it but the turns that were given."""
    other = plan_for(plan, changed)
    steps = msgspec.convert(_passed_over(msgspec.to_builtins(other.steps)), type=tuple[Step, ...])
    other = msgspec.structs.replace(other, steps=steps)
    under_way = other.steps[changed.step : changed.step + 1]
    if under_way and isinstance(under_way[0], Turns) and changed.slots_left is not None:
        slots = min(under_way[0].slots, changed.slots_left)
        under_way = (msgspec.structs.replace(under_way[0], slots=slots),)
    later = bounds(msgspec.structs.replace(other, steps=other.steps[changed.step + 1 :]))
    now = bounds(msgspec.structs.replace(other, steps=under_way))
    return StillToCome(
        (later.balls[0], later.balls[1] + now.balls[1]),
        (later.time_s[0], later.time_s[1] + now.time_s[1]),
    )


def _passed_over(value: Any) -> Any:
    """Turns of people of whom nobody is here are none."""
    if isinstance(value, list | tuple):
        return [_passed_over(item) for item in value]
    if not isinstance(value, dict):
        return value
    plain = {key: _passed_over(item) for key, item in value.items()}
    if plain.get("step") == "turns" and plain["players"] == []:
        plain["slots"] = 0
    return plain


def _careful(order: Sequence[str], was: str | None, said: Sequence[str]) -> str | None:
    """The first in this order of what was and of what was said."""
    named = [word for word in (was, *said) if word in order]
    return min(named, key=order.index, default=was)


class _Renumbered:
    """The numbers of those who are here, and who of them may have a turn."""

    def __init__(self, was: Group, here: Sequence[Player]) -> None:
        names = [player.name for player in here]
        known = [player.name for player in was.players]
        self.here = list(range(len(here)))
        self._now = {
            number: names.index(name) for number, name in enumerate(known) if name in names
        }
        self._new = [number for number, name in enumerate(names) if name not in known]

    def of(self, player: int | None) -> int | None:
        """Somebody's number now; None of who is not here."""
        return None if player is None else self._now.get(player)

    def of_turns(self, players: Sequence[int], named: bool) -> list[int]:
        """Those of these players who are here; and who came late, unless some are named."""
        return [self._now[one] for one in players if one in self._now] + (
            [] if named else self._new
        )


def _shared(value: Any, group: _Renumbered) -> Any:
    if isinstance(value, list | tuple):
        return [_shared(item, group) for item in value]
    if not isinstance(value, dict):
        return value
    plain = {key: _shared(item, group) for key, item in value.items()}
    if plain.get("step") == "turns" and plain["players"] is not None:
        plain["players"] = group.of_turns(plain["players"], plain["named"])
    if "player" in plain and (plain.get("step") == "move" or "results" in plain):
        plain["player"] = group.of(plain["player"])
    if plain.get("step") == "together":
        _at_stations(plain["stations"], group)
    return plain


def _at_stations(stations: list[dict[str, Any]], group: _Renumbered) -> None:
    """Who is where: those whom a station names, and the others in shares."""
    own = [list(dict.fromkeys(_turns_of(station["body"]))) for station in stations]
    free = [number for number in group.here if not any(number in its for its in own)]
    open_ones = [station for station, its in zip(stations, own, strict=True) if not its]
    for station, its in zip(stations, own, strict=True):
        station["players"] = its
    for number, station in enumerate(open_ones):
        station["players"] = free[number :: len(open_ones)]


def _turns_of(value: Any) -> Iterator[int]:
    """The players of turns that only some have, however deep."""
    if isinstance(value, list):
        for item in value:
            yield from _turns_of(item)
    elif isinstance(value, dict):
        if value.get("step") == "turns" and value["players"] is not None:
            yield from value["players"]
        for item in value.values():
            yield from _turns_of(item)


def most_balls_of_each(plan: Plan, changed: Changed) -> list[float]:
    """The most balls that each player of the group can have had by the end of the lesson.

    ``plan`` is that of :func:`plan_for`. Turns differ by one at most between players; what nobody
    in particular is fed is shared evenly.
    """
    players = len(changed.players)
    come = balls_to_come(plan, players, changed.step, changed.slots_left, changed.begun)
    turns = -(-come.turns // players)
    each = turns * come.in_one + (changed.unnamed + come.shared) / players
    return [
        changed.had.get(player.name, 0) + each + own
        for player, own in zip(changed.players, come.own, strict=True)
    ]


def _without_break(facts: PlanFacts, certified: Clause | None) -> list[Diagnostic]:
    """Where so few are left that nobody is off between two turns, turns are no breaks."""
    if len(facts.plan.group.players) > most_stations(facts.plan.steps):
        return []
    limit = _allowed(long_series.most_s(facts), certified)
    longest_s = long_series.longest_alone_s(facts.plan)
    if longest_s <= limit:
        return []
    words = f"somebody may play {longest_s:.0f} s without a break, {limit:.0f} s is the most"
    return [_beyond(words, long_series.PAGE.slug, "let fewer rest")]


def _allowed(limit: float, certified: Clause | None) -> float:
    """A guide's figure, or the larger one that the coach was shown before the lesson."""
    if certified is None or certified.standing is not Standing.GUIDE or certified.worst is None:
        return limit
    return max(limit, certified.worst)


def _too_many(facts: PlanFacts, certified: Clause | None, changed: Changed) -> list[Diagnostic]:
    own_figures = len(each_group(facts.plan.group)) > 1
    for player, balls in enumerate(most_balls_of_each(facts.plan, changed)):
        limit = many_balls.most_balls(facts, player)
        # The figure that was shown is that of the player nearest to their own limit.
        if not own_figures or (certified is not None and certified.limit == limit):
            limit = _allowed(limit, certified)
        if balls > limit:
            who = changed.players[player].name if own_figures else "one player"
            words = f"{who} could come to {balls:.0f} balls, {limit:.0f} is the most"
            return [_beyond(words, many_balls.PAGE.slug, "let fewer rest")]
    return []
