"""From the steps of a program to the steps of its plan.

Whole passes are counted here, from the bounds of the bodies: a turn repeats its body as often as
the body's longest run fits, and stations end together when the slowest is surely done.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from itertools import combinations

import msgspec

from feedscript.diagnostics import Diagnostic, Related, Span
from feedscript.language import program as said
from feedscript.language.program import Program
from feedscript.plan import model
from feedscript.plan.aiming.shots import ShotTable, bodies, launcher_index
from feedscript.plan.bodies import untimed
from feedscript.plan.goals import goal_of, results_of, score_of, target_of
from feedscript.plan.kept import in_step, no_room, no_stations, out_of_step
from feedscript.plan.kinds import kinds_of
from feedscript.plan.lengths import At, Lengths
from feedscript.plan.model import Plan, Step
from feedscript.plan.parts import holds, kept, parted, shares
from feedscript.plan.places import Places, line_in
from feedscript.plan.step_pages import STATION_STEP, no_time_of_its_own, two_ask, two_places
from feedscript.plan.times import milliseconds
from feedscript.plan.turns import in_time, passes, rounds


class Lowering:
    """Lowers one program's lesson; ``places`` and ``diagnostics`` fill up on the way.

    ``scene`` is the plan as far as it is known: its feeds, group and launchers, no steps yet.
    """

    def __init__(self, program: Program, scene: Plan, table: ShotTable, places: Places) -> None:
        self.program = program
        self.scene = scene
        self.table = table
        self.places = places
        self.diagnostics: list[Diagnostic] = []
        self._lengths = Lengths(scene)
        self._kept = False  # whether anybody kept together or apart stands at stations

    def lesson(self) -> tuple[Step, ...]:
        """The whole lesson."""
        everyone = tuple(range(len(self.scene.group.players)))
        steps, lesson = list[Step](), list[int]()
        for number, step in enumerate(self.program.lesson):
            lowered = self._step(step, At(0, everyone))
            steps.extend(lowered)
            lesson.extend(number for _ in lowered)
        self.places.lesson = tuple(lesson)
        if any(kept(self.scene.group)) and not self._kept:
            group = self.program.group
            self.diagnostics.append(
                no_stations(group.spans.get("keep", group.span or self.program.span))
            )
        # What stands in a station is lowered for every round, and told once.
        self.diagnostics[:] = [
            one for at, one in enumerate(self.diagnostics) if one not in self.diagnostics[:at]
        ]
        return tuple(steps)

    def _steps(self, steps: Sequence[said.Statement], at: At) -> tuple[Step, ...]:
        return tuple(lowered for step in steps for lowered in self._step(step, at))

    def _line(self, span: Span, calls: tuple[Span, ...] = ()) -> int:
        return line_in(self.program, span, calls)

    def _step(self, step: said.Statement, at: At) -> tuple[Step, ...]:
        line = self._line(step.span, step.calls)
        self.places.note(line, step)
        match step:
            case said.SendStatement():
                return (self._balls(step, at, line),)
            case said.RestStatement():
                return (model.Rest(seconds=_whole(step.seconds), line=line),)
            case said.SayStatement():
                return (model.Say(text=step.text, line=line),)
            case said.ShowSpeedStatement() | said.CollectStatement() | said.TogetherStatement():
                if at.station is not None:
                    return self._not_in_a_station(step, at.station)
                return self._for_everybody(step, at, line)
            case _:
                return self._nested(step, at, line)

    def _balls(self, step: said.SendStatement, at: At, line: int) -> Step:
        """One ball, or those that come on request."""
        sent = self._send(step, at, line)
        if step.at_most is None:
            return sent
        return model.OnRequest(at_most=step.at_most, send=sent, line=line)

    def _send(self, step: said.SendStatement, at: At, line: int) -> model.Send:
        """The ball of whoever is as the group is, and what each other kind of player gets."""
        rungs = len(self.program.rungs_of(step.feed))
        known = [one for on in range(rungs) for one in self._fed(step, at, on) if one.feeds]
        usual = known[0]
        own = tuple(
            one
            for one in known
            if (one.feeds, one.left_feeds, one.rung) != (usual.feeds, usual.left_feeds, 0)
        )
        sent = model.Send(
            feeds=usual.feeds,
            left_feeds=usual.left_feeds,
            own=own,
            progression=self._progression(step.feed),
            rungs=rungs,
            after_s=(
                _whole(max(0.0, step.after_s - step.vary_s)),
                _whole(step.after_s + step.vary_s),
            ),
            line=line,
        )
        self.places.note(line, step, sent.all_feeds())
        return sent

    def _fed(self, step: said.SendStatement, at: At, on: int) -> Iterator[model.Fed]:
        """What each kind of player gets on this rung, the group's own first."""
        for number, kind in enumerate(kinds_of(self.program.group)):
            name = step.feed_of(kind.level) if number else step.feed
            balls = self._shots(self.program.rungs_of(name)[on], at, number)
            yield msgspec.structs.replace(balls, rung=on)

    def _progression(self, name: str) -> int | None:
        """Its number in the plan; None for a feed."""
        found = self.program.progressions.get(name)
        if found is None:
            return None
        names = [one.name for one in self.scene.progressions]
        return names.index(found.name)

    def _shots(self, name: str, at: At, kind: int) -> model.Fed:
        """The balls of a wish for players of this kind; none where nobody of it is on turn."""
        other = self.program.feeds[name].mirrored
        return model.Fed(
            kinds=(kind,),
            feeds=self.table.get(name, at.launcher, kind),
            left_feeds=() if other is None else self.table.get(other, at.launcher, kind),
        )

    def _for_everybody(
        self,
        step: said.ShowSpeedStatement | said.CollectStatement | said.TogetherStatement,
        at: At,
        line: int,
    ) -> tuple[Step, ...]:
        match step:
            case said.ShowSpeedStatement():
                return self._show_speed(step, line)
            case said.CollectStatement():
                return (_collect(step, line),)
            case said.TogetherStatement():
                return self._together(step, at, line, None)

    def _show_speed(self, step: said.ShowSpeedStatement, line: int) -> tuple[Step, ...]:
        """One ball from every launcher that sends this feed; of several balls the fastest."""
        shown = []
        for feeds in self.table.at_launchers(self.program.rungs_of(step.feed)):
            self.places.note(line, step, feeds)
            fastest = max(feeds, key=lambda feed: self.scene.feeds[feed].speed_mps)
            shown.append(model.ShowSpeed(feed=fastest, line=line))
        return tuple(shown)

    def _nested(self, step: said.Statement, at: At, line: int) -> tuple[Step, ...]:
        match step:
            case said.RepeatStatement():
                body = self._steps(step.body, at)
                return (model.Repeat(times=step.times, body=body, line=line),)
            case said.ForTimeStatement():
                return (self._for_time(step, at, line),)
            case said.ChooseStatement():
                options = tuple(
                    model.Option(weight=option.weight, body=self._steps(option.body, at))
                    for option in step.options
                )
                return (model.Choose(options=options, seed=step.seed, line=line),)
            case said.ShuffleStatement():
                items = tuple(self._steps(item, at) for item in step.items)
                return (model.Shuffle(items=items, seed=step.seed, line=line),)
            case said.UntilStatement() | said.WhenStatement():
                return (self._asking(step, at, line),)
            case said.MoveStatement():
                return (self._move(step, line),)
            case said.WorkStatement():
                return self._work(step, at, line)
            case said.RotateStatement():
                return self._rotate(step, at, line)
            case said.ExerciseStatement():
                return (self._exercise(step, at, line),)
            case said.EachPlayerStatement():
                return (self._each(step, at, line),)
            case _:
                raise AssertionError(f"no such step: {step!r}")

    def _each(self, step: said.EachPlayerStatement, at: At, line: int) -> model.Turns:
        """A turn for each who is there, or for those that the program says."""
        players = at.players if at.fixed else None
        if step.names is not None:
            number = {one.name: index for index, one in enumerate(self.scene.group.players)}
            players = tuple(number[name] for name in step.names)
            if not step.named:
                players = tuple(one for one in players if one in at.players)
        slots = len(at.players if players is None else players)
        body = self._steps(step.body, at)
        return model.Turns(
            slots=slots, passes=1, body=body, players=players, named=step.named, line=line
        )

    def _for_time(self, step: said.ForTimeStatement, at: At, line: int) -> Step:
        body = self._steps(step.body, at)
        body = in_time(body, milliseconds(step.seconds), self._longest_at(at))
        times, wrong = rounds(step, body, at, self._lengths)
        if wrong is not None:
            self.diagnostics.append(wrong)
        return model.Repeat(times=times, body=body, line=line)

    def _exercise(self, step: said.ExerciseStatement, at: At, line: int) -> Step:
        return model.Exercise(
            title=step.title,
            aim=step.aim,
            watch=step.watch,
            easier=step.easier,
            harder=step.harder,
            planned_s=None if step.planned_s is None else _whole(step.planned_s),
            repeats=step.repeats,
            target=target_of(step.target),
            goals=tuple(goal_of(goal) for goal in step.goals),
            score=score_of(step.score),
            body=self._steps(step.body, at),
            line=line,
        )

    def _longest_at(self, at: At) -> Callable[[Sequence[Step]], int]:
        """How long steps take at most that stand there."""
        return lambda steps: self._lengths.longest_ms(steps, at)

    def _asking(self, step: said.UntilStatement | said.WhenStatement, at: At, line: int) -> Step:
        condition = self._condition(step.condition)
        body = self._steps(step.body, at)
        if isinstance(step, said.UntilStatement):
            return model.Until(condition=condition, at_most=step.most, body=body, line=line)
        otherwise = self._steps(step.otherwise, at)
        return model.When(condition=condition, then=body, otherwise=otherwise, line=line)

    def _move(self, step: said.MoveStatement, line: int) -> Step:
        progression = self._progression(step.progression)
        assert progression is not None
        return model.Move(
            progression=progression, up=step.up, player=self._number(step.player), line=line
        )

    def _number(self, name: str | None) -> int | None:
        """A player's number in the group."""
        names = [player.name for player in self.scene.group.players]
        return None if name is None else names.index(name)

    def _condition(self, wanted: said.RecordCondition) -> model.Condition:
        feeds = None if wanted.feed is None else self._family(wanted.feed)
        at_least, window = wanted.count, wanted.count if wanted.in_a_row else None
        if wanted.share is not None:
            # A hair is taken off, so that 70 % of 10 is 7 whatever 0.7 * 10 rounds to.
            at_least, window = max(1, math.ceil(wanted.share * wanted.count - 1e-9)), wanted.count
        results = results_of(wanted.outcome)
        return model.Condition(
            results=results,
            at_least=at_least,
            window=window,
            feeds=feeds,
            player=self._number(wanted.player),
        )

    def _family(self, name: str) -> tuple[int, ...]:
        """Every shot of a wish and of its mirror image; of a progression those of every rung."""
        found: set[int] = set()
        for wish in self.program.rungs_of(name):
            other = self.program.feeds[wish].mirrored
            mirrored = () if other is None else self.table.of_wish(other)
            found.update((*self.table.of_wish(wish), *mirrored))
        return tuple(sorted(found))

    def _rotate(self, step: said.RotateStatement, at: At, line: int) -> tuple[Step, ...]:
        if len(step.body) == 1 and isinstance(step.body[0], said.TogetherStatement):
            stations = step.body[0]
            if at.station is None:
                return self._together(stations, at, self._line(stations.span, stations.calls), step)
        return (self._turns(step, self._steps(step.body, at), at, line),)

    def _turns(
        self,
        step: said.RotateStatement,
        body: tuple[Step, ...],
        at: At,
        line: int,
        shared: int = 1,
    ) -> model.Turns:
        """A turn for each of the players there; ``shared``: of so many who share its time."""
        every_s = None
        if step.every_s is not None:
            turn_ms = milliseconds(step.every_s) // shared
            body = in_time(body, turn_ms, self._longest_at(at))
            every_s = turn_ms / 1000.0
        times, wrong = passes(step, body, at, self._lengths, shared)
        if wrong is not None:
            self.diagnostics.append(wrong)
        return model.Turns(
            slots=len(at.players),
            passes=times,
            every_s=every_s,
            body=body,
            players=at.players if at.fixed else None,
            line=line,
        )

    def _together(
        self, step: said.TogetherStatement, at: At, line: int, rotate: said.RotateStatement | None
    ) -> tuple[Step, ...]:
        """The stations once; or, when the group moves round them, once for each station, with a
        collect between where the program says so."""
        count = len(step.stations)
        named = self._named_at(step)
        groups = self._parts(step, at, count) if named is None else self._as_named(step, at, named)
        rounds = 1 if rotate is None else count
        fixed = named is not None or _some_alone(step)
        made: list[Step] = []
        for turn in range(rounds):
            parts = tuple(groups[(number - turn) % count] for number in range(count))
            if turn and rotate is not None and rotate.collects:
                made.append(model.Collect(line=self._line(rotate.span, rotate.calls)))
            made.append(self._round(step, line, rotate, parts, fixed))
        return tuple(made)

    def _parts(
        self, step: said.TogetherStatement, at: At, count: int
    ) -> tuple[tuple[int, ...], ...]:
        """The group in parts, one a station, with those who are kept so where they belong."""
        together, apart = kept(self.scene.group)
        self._kept |= bool(together or apart)
        found = parted(at.players, count, together, apart, one_at_a_time=not _some_alone(step))
        if found is None:
            self.diagnostics.append(no_room(len(at.players), count, step.span))
        return found or shares(at.players, count)

    def _named_at(self, step: said.TogetherStatement) -> list[tuple[int, ...]] | None:
        """Whom each station names, in the order of the group; None where no station names any."""
        found = []
        for station in step.stations:
            names = set(_named_in(station.body))
            players = self.scene.group.players
            found.append(tuple(i for i, player in enumerate(players) if player.name in names))
        return found if any(found) else None

    def _as_named(
        self, step: said.TogetherStatement, at: At, named: list[tuple[int, ...]]
    ) -> tuple[tuple[int, ...], ...]:
        """Those whom a station names are there; the others share the stations that name nobody."""
        for (one, its), (other, theirs) in combinations(zip(step.stations, named, strict=True), 2):
            for player in set(its) & set(theirs):
                name = self.scene.group.players[player].name
                self.diagnostics.append(two_places(name, one, other))
        free = [player for player in at.players if not any(player in its for its in named)]
        left = iter(shares(free, sum(not its for its in named) or 1))
        parts = tuple(its or next(left) for its in named)
        together, apart = kept(self.scene.group)
        self._kept |= bool(together or apart)
        alone = {number for number, one in enumerate(step.stations) if one.launcher is None}
        if not holds(parts, together, apart, alone):
            self.diagnostics.append(no_room(len(at.players), len(parts), step.span))
        return parts

    def _keep_in_step(
        self, step: said.TogetherStatement, stations: Sequence[model.Station]
    ) -> None:
        """Those who are kept together or apart need turns that change at the same moments."""
        if any(kept(self.scene.group)) and not in_step(stations, self._lengths.fixed_ms):
            self.diagnostics.append(out_of_step(step.span))

    def _by_the_clock(self, station: model.Station) -> model.Station:
        """Turns of players who are kept apart end when they would, also where one is left early."""
        body = tuple(
            msgspec.structs.replace(one, every_s=self._turn_s(one, station))
            if isinstance(one, model.Turns) and one.every_s is None
            else one
            for one in station.body
        )
        return msgspec.structs.replace(station, body=body)

    def _turn_s(self, step: model.Turns, station: model.Station) -> float | None:
        """How long one of these turns is, where that is the same in every run."""
        length_ms = self._lengths.fixed_ms(msgspec.structs.replace(step, slots=1), station)
        return None if length_ms is None else length_ms / 1000.0

    def _round(
        self,
        step: said.TogetherStatement,
        line: int,
        rotate: said.RotateStatement | None,
        groups: tuple[tuple[int, ...], ...],
        fixed: bool,
    ) -> Step:
        stations, longest = [], 0
        asking = [one for one in step.stations if any(map(_asks, one.body))]
        if len(asking) > 1:
            self.diagnostics.append(two_ask(asking[0], asking[1]))
        turns = max(len(players) for players in groups)
        for station, players in zip(step.stations, groups, strict=True):
            if not players:
                continue  # fewer players than stations: nobody is there to be fed
            if station.launcher is None:
                at = At(0, players, station, fixed)
                lowered, took = self._by_themselves(station, at, rotate)
            else:
                at = At(launcher_index(self.program, station.launcher), players, station, fixed)
                lowered, took = self._station(station, at, rotate, turns)
            stations.append(lowered)
            longest = max(longest, took)
        if rotate is not None and rotate.every_s is not None:
            longest = milliseconds(rotate.every_s)
        self._keep_in_step(step, stations)
        if self.scene.group.keep_apart:
            stations = [self._by_the_clock(one) for one in stations]
        return model.Together(stations=tuple(stations), for_s=longest / 1000.0, line=line)

    def _station(
        self,
        station: said.StationStatement,
        at: At,
        rotate: said.RotateStatement | None,
        turns: int,
    ) -> tuple[model.Station, int]:
        """One station lowered, and how long it takes at most in milliseconds."""
        line = self._line(station.span)
        body = self._steps(station.body, at)
        if untimed(body) and (rotate is None or rotate.every_s is None):
            self.diagnostics.append(no_time_of_its_own(station))
        if rotate is not None:
            body = (self._turns(rotate, body, at, line, turns),)
        took = self._lengths.longest_ms(body, at)
        lowered = model.Station(
            name=station.name, launcher=at.launcher, players=at.players, body=body, line=line
        )
        return lowered, took

    def _by_themselves(
        self, station: said.StationStatement, at: At, rotate: said.RotateStatement | None
    ) -> tuple[model.Station, int]:
        """A station without a launcher: its work as often as it fits, for all at once."""
        line = self._line(station.span)
        body = self._steps(station.body, at)
        took = self._lengths.longest_ms(body, at)
        if rotate is not None and took:
            times, wrong = passes(rotate, body, at, self._lengths, 1)
            if wrong is not None:
                self.diagnostics.append(wrong)
            body = (model.Repeat(times=times, body=body, line=line),) if times > 1 else body
        lowered = model.Station(
            name=station.name, launcher=None, players=at.players, body=body, line=line
        )
        return lowered, took

    def _work(self, step: said.WorkStatement, at: At, line: int) -> tuple[Step, ...]:
        """Words for those who are there, and the time that the work takes."""
        words = model.Say(text=step.text, players=at.players, line=line)
        if step.seconds is None:
            return (words,)
        return words, model.Rest(seconds=_whole(step.seconds), line=line)

    def _not_in_a_station(
        self, step: said.Statement, station: said.StationStatement
    ) -> tuple[Step, ...]:
        match step:
            case said.CollectStatement(break_s=None):
                what = "wait for coach" if step.words else "collect"
            case said.CollectStatement():
                what = "break"
            case said.ShowSpeedStatement():
                what = "show speed"
            case _:
                what = "together"
        self.diagnostics.append(
            STATION_STEP.report(
                f"`{what}` stands inside station {station.name!r}",
                help=_outside(what),
                span=step.span,
                related=(Related(station.span, "the station begins here"),),
            )
        )
        return ()


def _collect(step: said.CollectStatement, line: int) -> model.Collect:
    break_s = None if step.break_s is None else _whole(step.break_s)
    return model.Collect(words=step.words, break_s=break_s, line=line)


def _outside(what: str) -> str:
    """Where a step that is for everybody may stand, as seen from a station."""
    if what != "collect":
        return f"move `{what}` before or after the stations"
    between = "`rotate stations every 6 min, collect between { … }`"
    return f"move `collect` before or after the stations, or write {between}"


def _some_alone(step: said.TogetherStatement) -> bool:
    """Whether the players of some station work there by themselves, all at once."""
    return any(station.launcher is None for station in step.stations)


def _named_in(steps: Sequence[said.Statement]) -> Iterator[str]:
    """Whoever has a turn by name in these steps, however deep."""
    for step in steps:
        if isinstance(step, said.EachPlayerStatement) and step.named:
            yield from step.names or ()
        for body in bodies(step):
            yield from _named_in(body)


def _asks(step: said.Statement) -> bool:
    """Whether balls on request stand in it."""
    if isinstance(step, said.SendStatement):
        return step.at_most is not None
    return any(_asks(one) for body in bodies(step) for one in body)


def _whole(seconds: float) -> float:
    """Seconds as a whole number of milliseconds."""
    return milliseconds(seconds) / 1000.0
