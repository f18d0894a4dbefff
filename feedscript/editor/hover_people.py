"""What an editor says of an exercise, a player, a subgroup, a station or a target."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import msgspec

from feedscript.check.hour import hour_of
from feedscript.editor.document import Document
from feedscript.editor.quoted import Quoted, Sort
from feedscript.plan.bodies import within
from feedscript.plan.expect.shares import balls_of_player
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.model import Exercise, Plan, Station, Together
from feedscript.tongues.tongue import Tongues
from feedscript.units import spoken_time


def about_quoted(document: Document, named: Quoted) -> str:
    """Markdown about a name in quotation marks; just what it is where nothing could be planned."""
    sort = named.sorts[0]
    head = f'{sort.value} "{named.name}"'
    plan = document.verdict.plan or document.verdict.draft
    about = _ABOUT.get(sort)
    lines = about(plan, document, named.name) if plan is not None and about is not None else ()
    return "\n\n".join((head, *lines))


def _of_exercise(plan: Plan, _: Document, title: str) -> Iterable[str]:
    found = [one for one in plan.steps if isinstance(one, Exercise) and one.title == title]
    for exercise in found[:1]:
        its = bounds(msgspec.structs.replace(plan, steps=tuple(exercise.body)))
        takes_s = next(p.takes_s for p in hour_of(plan).exercises if p.title == title)
        planned = exercise.planned_s
        meant = "" if planned is None else f", {spoken_time(planned)} planned"
        yield f"takes about {spoken_time(takes_s)}{meant}"
        yield f"{_between(its.balls)} balls, at most {exercise.repeats} more time(s)"


def _between(span: tuple[int, int]) -> str:
    least, most = span
    return f"{least}" if least == most else f"{least} to {most}"


def _of_player(plan: Plan, _: Document, name: str) -> Iterable[str]:
    for index, player in enumerate(plan.group.players):
        if player.name == name:
            its = (player.level or plan.group.level, player.stage or plan.group.stage)
            hand = "left-handed" if player.left_handed else "right-handed"
            named = Tongues().named(player.language or "")
            speaks = "" if named is None else f"speaks {named.catalogue.name}"
            yield ", ".join(word for word in (*its, hand, speaks) if word)
            yield f"gets {_between(balls_of_player(plan, index))} balls in the lesson"


def _of_subgroup(_: Plan, document: Document, name: str) -> Iterable[str]:
    program = document.verdict.program
    group = None if program is None else program.group
    members = () if group is None else group.subgroups.get(name, ())
    return (", ".join(members),) if members else ()


def _of_station(plan: Plan, _: Document, name: str) -> Iterable[str]:
    rounds = [one for one in _in_order(plan) if one.name == name]
    launchers = {plan.launchers[one.launcher].name for one in rounds if one.launcher is not None}
    if rounds:
        yield f"launcher {', '.join(sorted(launchers))}" if launchers else "without a launcher"
        there = [_names(plan, one.players) for one in rounds]
        yield "; then ".join(dict.fromkeys(names for names in there if names))


def _in_order(plan: Plan) -> list[Station]:
    steps = [step for step in within(plan.steps) if isinstance(step, Together)]
    # `within` takes the last step first.
    return [station for step in reversed(steps) for station in step.stations]


def _names(plan: Plan, players: tuple[int, ...]) -> str:
    return ", ".join(plan.group.players[index].name for index in players)


_ABOUT: dict[Sort, Callable[[Plan, Document, str], Iterable[str]]] = {
    Sort.EXERCISE: _of_exercise,
    Sort.PLAYER: _of_player,
    Sort.SUBGROUP: _of_subgroup,
    Sort.STATION: _of_station,
}
