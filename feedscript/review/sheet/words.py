"""What the sheet and the cards say, in words that are read from a few steps away."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import reduce

from feedscript.plan.bodies import within
from feedscript.plan.model import Collect, Goal, OnRequest, Plan, Result, Score, Send, Target
from feedscript.review.report.words import balls, feed_name
from feedscript.review.sheet.blocks import Block, Fed, Players, Rounds, Sheet
from feedscript.safety.set_up import balls_to_load
from feedscript.told_units import speed_words
from feedscript.tongues import terms
from feedscript.tongues.text import _, joined, n_, p_
from feedscript.units import spoken_time

#: From here on the air is called hot on paper; the rule has its own limit. Design value.
WARM_C = 28.0

#: Common practice on a court with a launcher, no source; the maker's manual comes first.
CAUTIONS = (
    _("First look the launcher over, power off; then watch each speed once, from the side."),
    _("While it is armed, nobody stands in front of it and nobody picks up balls."),
    _("No loose ball when a turn begins. Who waits stands clear of swings and of the balls' way."),
)
MANUAL = _("Where the maker's manual for the launcher says otherwise, the manual counts.")


def minutes(seconds: float) -> str:
    """Whole minutes, as a coach plans them; what lasts less than one is told in seconds."""
    return spoken_time(seconds) if seconds < 59.5 else f"{round(seconds / 60)} min"


def facts(plan: Plan, whole_s: float) -> str:
    """The line under the title: how long, where, with which balls."""
    length = _about(whole_s) if plan.planned_s is None else minutes(plan.planned_s)
    court = _("{kind} court", kind=terms.court(plan.court.kind))
    surface = terms.surface(plan.court.surface) if plan.court.surface else ""
    balls_of = _("{kind} balls", kind=terms.balls(plan.balls.kind))
    return joined(" · ", [length, joined(", ", [court, surface]), balls_of])


def _about(seconds: float) -> str:
    return _("about {time}", time=minutes(seconds))


def group(plan: Plan) -> str:
    """Everybody by name, with the hand and level of those who are other than the group."""
    its = plan.group
    people = []
    for player in its.players:
        hand = p_("hand", "left") if player.left_handed else ""
        also = joined(", ", [_level(player.level), _stage(player.stage), hand])
        people.append(joined("", [player.name, " (", also, ")"]) if also else player.name)
    stage = _("stage {stage}", stage=_stage(its.stage)) if its.stage else ""
    kind = joined(", ", [_level(its.level), stage])
    return joined(" · ", [joined(", ", people), kind])


def _level(level: str | None) -> str:
    return terms.level(level) if level else ""


def _stage(stage: str | None) -> str:
    return terms.stage(stage) if stage else ""


def block_title(block: Block, alone: bool) -> str:
    """The exercise's title; what stands outside exercises has none of its own."""
    if block.exercise is not None:
        return block.exercise.title
    return _("The lesson") if alone else _("Besides")


def timing(block: Block) -> str:
    """Planned minutes, balls, and how often it may be done again."""
    planned = block.exercise is not None and block.exercise.planned_s
    least, most = block.balls
    said = [minutes(block.minutes_s) if planned else _about(block.minutes_s)]
    if most and least == most:
        said.append(balls(most))
    elif most:
        said.append(n_("{least} to {n} ball", "{least} to {n} balls", most, least=least))
    return joined(" · ", said)


def heads(block: Block, *, whole: bool) -> list[tuple[str, str]]:
    """What stands at the exercise's head, each with its word; how to change it where ``whole``."""
    exercise = block.exercise
    if exercise is None:
        return []
    said: list[tuple[str, str]] = [
        (_("Aim"), exercise.aim),
        (_("Target"), target(exercise.target)),
        (_("Goal"), joined("; ", map(goal, exercise.goals))),
        (_("Score"), score(exercise.score, target=exercise.target is not None)),
        (_("Watch"), exercise.watch),
    ]
    if not whole:
        return said
    return [*said, (_("Easier"), exercise.easier), (_("Harder"), exercise.harder)]


def target(one: Target | None) -> str:
    """A target by name, and with what it is laid out."""
    if one is None:
        return ""
    return f"{one.name} ({one.marked})" if one.marked else one.name


def goal(one: Goal) -> str:
    """A goal as the program writes it."""
    where = terms.result(Result.TARGET if one.in_target else Result.IN)
    parts = {"where": where, "n": one.at_least, "of": one.of}
    if one.share is not None:
        return _("{share:g} % {where} of the last {of}", share=100 * one.share, **parts)
    if one.in_a_row:
        return _("{n} {where} in a row", **parts)
    if one.of is None:
        return _("{n} {where}", **parts)
    return _("{n} of {of} {where}", **parts)


def score(one: Score | None, *, target: bool) -> str:
    """What a ball gives, and to how many it is played; without a target nothing is in it."""
    if one is None:
        return ""
    counted = {r: given for r, given in one.points.items() if target or r is not Result.TARGET}
    to = "" if one.to is None else _("to {n}", n=one.to)
    pairs = _("in pairs") if one.pairs else ""
    gives: list[str] = [
        joined(" ", [word, str(points)]) for word, points in _by_word(counted) if points
    ]
    gives += [
        _("{result} {points} to the launcher", result=word, points=points)
        for word, points in _by_word(one.against)
    ]
    return joined(", ", [to, pairs, *gives])


def _by_word(points: Mapping[Result, int]) -> list[tuple[str, int]]:
    """Points by what they are for; errors that all give the same are one."""
    errors = {points.get(result) for result in Result if not result.good}
    same = len(errors) == 1 and None not in errors
    named: list[tuple[str, int]] = [
        (terms.result(result), given) for result, given in points.items() if result.good or not same
    ]
    return [
        *named,
        *((p_("result", "error"), given) for given in errors if same and given is not None),
    ]


def works(block: Block) -> list[tuple[str, str]]:
    """What players do by themselves at stations without a launcher."""
    return [
        (name, "; ".join(said))
        for rounds in block.rounds
        for name, said in zip(rounds.stations, rounds.works, strict=True)
    ]


def steps(block: Block) -> list[tuple[str, str]]:
    """Progressions from the easiest feed on, and what leaves when the coach taps."""
    plan = block.alone
    found: dict[str, list[str]] = {}
    for step in within(plan.steps):
        if isinstance(step, Send) and step.progression is not None:
            one = plan.progressions[step.progression]
            rungs = reduce(_and_then, (_spoken(rung) for rung in one.rungs))
            said = joined(": ", [_spoken(one.name), rungs])
            found.setdefault(_("Steps"), []).append(said)
        elif isinstance(step, OnRequest):
            least = spoken_time(step.send.after_s[0])
            many = balls(step.at_most)
            said = _("up to {balls}, {time} apart or more", balls=many, time=least)
            if step.lasts_s is not None:
                lasts = spoken_time(step.lasts_s)
                said = _(
                    "up to {balls} in {lasts}, {time} apart or more",
                    balls=many,
                    lasts=lasts,
                    time=least,
                )
            found.setdefault(_("On the coach's tap"), []).append(said)
    # `within` takes the last step first.
    return [(head, joined("; ", dict.fromkeys(reversed(said)))) for head, said in found.items()]


def _and_then(before: str, after: str) -> str:
    return _("{before}, then {after}", before=before, after=after)


def suited(sheet: Sheet) -> str:
    """For whom it is: as the program says, else the group that it was written for."""
    plan, suits = sheet.plan, sheet.suits
    kinds: str = joined(", ", map(_kind, suits.stages))
    kinds = kinds or _level(plan.group.level) or _stage(plan.group.stage)
    low, high = suits.players or (len(plan.group.players),) * 2
    return joined(" · ", [kinds, _players(low, high), ", ".join(suits.themes)])


def _kind(word: str) -> str:
    """A stage or a level, as programs say whom they suit."""
    stage = terms.stage(word)
    return terms.level(word) if stage is word else stage


def _players(low: int, high: int) -> str:
    if low < high:
        return n_("{low} to {n} player", "{low} to {n} players", high, low=low)
    return n_("{n} player", "{n} players", high) if high else ""


def card_load(block: Block) -> str:
    """How many balls one exercise needs in its launchers."""
    said = []
    for number in block.launchers:
        needed = balls_to_load(block.alone, number)[1]
        name = block.alone.launchers[number].name
        said.append(f"{name} {needed}" if name and len(block.alone.launchers) > 1 else f"{needed}")
    return _("at least {balls}", balls=", ".join(said)) if said else ""


def round_names(rounds: Rounds) -> tuple[str, ...]:
    """A name for each round, with its minutes; where all are as long, those stand once."""
    lasts: list[str] = [spoken_time(lasts_s) for lasts_s in rounds.lasts_s]
    if len(set(lasts)) == 1:
        first = _("{time} each", time=lasts[0]) if len(lasts) > 1 else lasts[0]
        lasts = [first, *("" for one in lasts[1:])]
    numbers = [_("Round {n}", n=number) for number in range(1, len(lasts) + 1)]
    return tuple(joined(", ", both) for both in zip(numbers, lasts, strict=True))


def names(plan: Plan, players: Players) -> str:
    """Players by name."""
    return ", ".join(plan.group.players[index].name for index in players)


def fed(plan: Plan, one: Fed) -> str:
    """A kind of ball with its speed; by name those who get it, where it is not everybody."""
    feed = one.flight.feed
    said = f"{_spoken(one.flight.wish)}, {speed_words(feed.speed_mps)}"
    who = "" if one.mirror is not None else _who(plan, one.players)
    return joined(": ", [said, who])


def _spoken(name: str) -> str:
    """A name as words; of a file that is used, that file's name first."""
    return feed_name(name)


def _who(plan: Plan, players: Players) -> str:
    """Those players in as few names as it takes; nothing where that is everybody."""
    others = tuple(k for k in range(len(plan.group.players)) if k not in players)
    if not players or not others:
        return ""
    if len(others) < len(players):
        return _("all but {players}", players=names(plan, others))
    return names(plan, players)


def order(plan: Plan, turns: Sequence[Players | None]) -> str:
    """Who has turns, one after the other; nothing where that is everybody."""
    if all(one is None for one in turns):
        return ""
    said = [_("everyone") if one is None else names(plan, one) for one in turns]
    return reduce(_then, said)


def _then(before: str, after: str) -> str:
    return _("{before}; then {after}", before=before, after=after)


def followed(then: Iterable[Collect]) -> str:
    """The break or the coach's word after an exercise."""
    return joined("; ", (_pause(one) for one in then))


def between_rounds(after: Iterable[Collect]) -> str:
    """What comes between two rounds of stations: balls are picked up, people rest or listen."""
    return joined(
        "; ", (_pause(one) if _speaks(one) else _("Then collect the balls") for one in after)
    )


def _speaks(one: Collect) -> bool:
    return bool(one.words or one.break_s)


def _pause(one: Collect) -> str:
    words = one.words
    if not one.break_s:
        return _("Then the coach: {words}", words=words)
    time = spoken_time(one.break_s)
    if words:
        return _("Then break {time}: {words}", time=time, words=words)
    return _("Then break {time}", time=time)


def load(plan: Plan) -> list[str]:
    """For every launcher, how many balls to put in."""
    said: list[str] = []
    for number, launcher in enumerate(plan.launchers):
        count, needed = balls_to_load(plan, number)
        put = _("{balls}, again after each collect", balls=balls(count))
        if needed != count:
            put = _(
                "{balls}, again after each collect (up to {needed} are needed)",
                balls=balls(count),
                needed=needed,
            )
        said.append(joined(": ", [launcher.name, put]))
    return said


def cautions(sheet: Sheet) -> list[str]:
    """What to mind, in the order of a lesson."""
    plan = sheet.plan
    said: list[str] = list(CAUTIONS)
    if len(plan.launchers) > 1:
        said.append(_("One person at each launcher, who can reach its stop."))
    if plan.keep_outs:
        areas = joined(", ", map(terms.area, _areas(plan)))
        said.append(_("Hatched ground is kept clear of balls: {areas}.", areas=areas))
    if plan.court.air_c >= WARM_C:
        heat = plan.court.air_c
        said.append(_("{heat:g} °C: water and shade at hand, short turns.", heat=heat))
    return [*said, MANUAL]


def _areas(plan: Plan) -> list[str]:
    return list(dict.fromkeys(area.name for area in plan.keep_outs))
