"""What the sheet and the cards say, in words that are read from a few steps away."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from feedscript.plan.bodies import within
from feedscript.plan.model import Collect, Goal, OnRequest, Plan, Result, Score, Send, Target
from feedscript.review.report.words import balls, feed_name
from feedscript.review.sheet.blocks import Block, Fed, Players, Rounds, Sheet
from feedscript.safety.set_up import balls_to_load
from feedscript.units import spoken_time

#: From here on the air is called hot on paper; the rule has its own limit. Design value.
WARM_C = 28.0

#: Common practice on a court with a launcher, no source; the maker's manual comes first.
CAUTIONS = (
    "First look the launcher over, power off; then watch each speed once, from the side.",
    "While it is armed, nobody stands in front of it and nobody picks up balls.",
    "No loose ball when a turn begins. Who waits stands clear of swings and of the balls' way.",
)
MANUAL = "Where the maker's manual for the launcher says otherwise, the manual counts."


def minutes(seconds: float) -> str:
    """Whole minutes, as a coach plans them."""
    return f"{max(1, round(seconds / 60))} min"


def facts(plan: Plan, whole_s: float) -> str:
    """The line under the title: how long, where, with which balls."""
    surface = f", {plan.court.surface}" if plan.court.surface else ""
    length = minutes(whole_s if plan.planned_s is None else plan.planned_s)
    about = "about " if plan.planned_s is None else ""
    return f"{about}{length} · {plan.court.kind} court{surface} · {plan.balls.kind} balls"


def group(plan: Plan) -> str:
    """Everybody by name, with the hand and level of those who are other than the group."""
    its = plan.group
    people = []
    for player in its.players:
        own = [player.level or "", player.stage or "", "left" if player.left_handed else ""]
        also = ", ".join(word for word in own if word)
        people.append(f"{player.name} ({also})" if also else player.name)
    kind = ", ".join(word for word in (its.level, its.stage and f"stage {its.stage}") if word)
    return ", ".join(people) + (f" · {kind}" if kind else "")


def block_title(block: Block, alone: bool) -> str:
    """The exercise's title; what stands outside exercises has none of its own."""
    if block.exercise is not None:
        return block.exercise.title
    return "The lesson" if alone else "Besides"


def timing(block: Block) -> str:
    """Planned minutes, balls, and how often it may be done again."""
    about = "" if block.exercise is not None and block.exercise.planned_s else "about "
    least, most = block.balls
    said = [f"{about}{minutes(block.minutes_s)}"]
    if most:
        said.append(balls(most) if least == most else f"{least} to {most} balls")
    return " · ".join(said)


def heads(block: Block, *, whole: bool) -> list[tuple[str, str]]:
    """What stands at the exercise's head, each with its word; how to change it where ``whole``."""
    exercise = block.exercise
    if exercise is None:
        return []
    said = [
        ("Aim", exercise.aim),
        ("Target", target(exercise.target)),
        ("Goal", "; ".join(map(goal, exercise.goals))),
        ("Score", score(exercise.score, target=exercise.target is not None)),
        ("Watch", exercise.watch),
    ]
    return [*said, ("Easier", exercise.easier), ("Harder", exercise.harder)] if whole else said


def target(one: Target | None) -> str:
    """A target by name, and with what it is laid out."""
    if one is None:
        return ""
    return f"{one.name} ({one.marked})" if one.marked else one.name


def goal(one: Goal) -> str:
    """A goal as the program writes it."""
    where = "in target" if one.in_target else "in"
    if one.share is not None:
        return f"{100 * one.share:g} % {where} of the last {one.of}"
    if one.in_a_row:
        return f"{one.at_least} {where} in a row"
    return f"{one.at_least} {where}" if one.of is None else f"{one.at_least} of {one.of} {where}"


def score(one: Score | None, *, target: bool) -> str:
    """What a ball gives, and to how many it is played; without a target nothing is in it."""
    if one is None:
        return ""
    to = "" if one.to is None else f"to {one.to}, "
    pairs = "in pairs, " if one.pairs else ""
    counted = {r: given for r, given in one.points.items() if target or r is not Result.TARGET}
    gives = [f"{word} {points}" for word, points in _by_word(counted) if points]
    gives += [f"{word} {points} to the launcher" for word, points in _by_word(one.against)]
    return f"{to}{pairs}{', '.join(gives)}"


def _by_word(points: Mapping[Result, int]) -> list[tuple[str, int]]:
    """Points by what they are for; errors that all give the same are one."""
    errors = {points.get(result) for result in Result if not result.good}
    same = len(errors) == 1 and None not in errors
    named = [
        (_result(result), given) for result, given in points.items() if result.good or not same
    ]
    return [*named, *(("error", given) for given in errors if same and given is not None)]


def _result(result: Result) -> str:
    return "in target" if result is Result.TARGET else result.value


def works(block: Block) -> list[tuple[str, str]]:
    """What players do by themselves at stations without a launcher."""
    return [
        (name, "; ".join(said))
        for rounds in block.rounds
        for name, said in zip(rounds.stations, rounds.works, strict=True)
    ]


def steps(block: Block) -> list[tuple[str, str]]:
    """Progressions from the easiest feed on, and what leaves when the coach taps."""
    plan, found = block.alone, dict[str, list[str]]()
    for step in within(plan.steps):
        if isinstance(step, Send) and step.progression is not None:
            one = plan.progressions[step.progression]
            rungs = ", then ".join(_spoken(rung) for rung in one.rungs)
            found.setdefault("Steps", []).append(f"{_spoken(one.name)}: {rungs}")
        elif isinstance(step, OnRequest):
            least = spoken_time(step.send.after_s[0])
            said = f"up to {balls(step.at_most)}, {least} apart or more"
            found.setdefault("On the coach's tap", []).append(said)
    # `within` takes the last step first.
    return [(head, "; ".join(dict.fromkeys(reversed(said)))) for head, said in found.items()]


def suited(sheet: Sheet) -> str:
    """For whom it is: as the program says, else the group that it was written for."""
    plan, suits = sheet.plan, sheet.suits
    kinds = ", ".join(suits.stages) or plan.group.level or plan.group.stage or ""
    low, high = suits.players or (len(plan.group.players),) * 2
    many = f"{low} to {high}" if low < high else f"{low}"
    players = f"{many} player{'s' * (high > 1)}" if high else ""
    return " · ".join(part for part in (kinds, players, ", ".join(suits.themes)) if part)


def card_load(block: Block) -> str:
    """How many balls one exercise needs in its launchers."""
    said = []
    for number in block.launchers:
        _, needed = balls_to_load(block.alone, number)
        name = block.alone.launchers[number].name
        said.append(f"{name} {needed}" if name and len(block.alone.launchers) > 1 else f"{needed}")
    return f"at least {', '.join(said)}" if said else ""


def round_names(rounds: Rounds) -> tuple[str, ...]:
    """A name for each round, with its minutes; where all are as long, those stand once."""
    lasts = [spoken_time(lasts_s) for lasts_s in rounds.lasts_s]
    if len(set(lasts)) == 1:
        each = " each" if len(lasts) > 1 else ""
        lasts = [f"{lasts[0]}{each}", *("" for _ in lasts[1:])]
    numbers = [f"Round {number}" for number in range(1, len(lasts) + 1)]
    return tuple(
        f"{name}, {long}" if long else name for name, long in zip(numbers, lasts, strict=True)
    )


def names(plan: Plan, players: Players) -> str:
    """Players by name."""
    return ", ".join(plan.group.players[index].name for index in players)


def fed(plan: Plan, one: Fed) -> str:
    """A kind of ball with its speed; by name those who get it, where it is not everybody."""
    feed = one.flight.feed
    said = f"{_spoken(one.flight.wish)}, {feed.speed_mps * 3.6:.0f} km/h"
    who = "" if one.mirror is not None else _who(plan, one.players)
    return f"{said}: {who}" if who else said


def _spoken(name: str) -> str:
    """A name as words; of a file that is used, that file's name first."""
    return feed_name(name).replace(".", " ")


def _who(plan: Plan, players: Players) -> str:
    """Those players in as few names as it takes; nothing where that is everybody."""
    others = tuple(k for k in range(len(plan.group.players)) if k not in players)
    if not players or not others:
        return ""
    if len(others) < len(players):
        return f"all but {names(plan, others)}"
    return names(plan, players)


def order(plan: Plan, turns: Sequence[Players | None]) -> str:
    """Who has turns, one after the other; nothing where that is everybody."""
    if all(one is None for one in turns):
        return ""
    said = ["everyone" if one is None else names(plan, one) for one in turns]
    return "; then ".join(said)


def followed(then: Iterable[Collect]) -> str:
    """The break or the coach's word after an exercise."""
    return "; ".join(_pause(one) for one in then)


def _pause(one: Collect) -> str:
    words = one.words
    if one.break_s:
        return f"Then break {spoken_time(one.break_s)}" + (f": {words}" if words else "")
    return f"Then the coach: {words}"


def load(plan: Plan) -> list[str]:
    """For every launcher, how many balls to put in."""
    said = []
    for number, launcher in enumerate(plan.launchers):
        count, needed = balls_to_load(plan, number)
        which = f"{launcher.name}: " if launcher.name else ""
        least = f" (up to {needed} are needed)" if needed != count else ""
        said.append(f"{which}{balls(count)}, again after each collect{least}")
    return said


def cautions(sheet: Sheet) -> list[str]:
    """What to mind, in the order of a lesson."""
    plan = sheet.plan
    said = list(CAUTIONS)
    if len(plan.launchers) > 1:
        said.append("One person at each launcher, who can reach its stop.")
    if plan.keep_outs:
        said.append(f"Hatched ground is kept clear of balls: {', '.join(_areas(plan))}.")
    if plan.court.air_c >= WARM_C:
        said.append(f"{plan.court.air_c:g} °C: water and shade at hand, short turns.")
    return [*said, MANUAL]


def _areas(plan: Plan) -> list[str]:
    return list(dict.fromkeys(area.name for area in plan.keep_outs))
