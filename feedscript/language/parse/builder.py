"""From the parser's reductions to the syntax tree: one method a rule of the grammar."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token

_Children = list[Any]


def _start(part: Any) -> int:
    start: int = part.start_pos if type(part) is Token else part.start
    return start


def _end(part: Any) -> int:
    end: int = part.end_pos if type(part) is Token else part.end
    return end


def _ends(c: _Children) -> tuple[int, int]:
    return _start(c[0]), _end(c[-1])


def _nodes(c: _Children) -> tuple[Any, ...]:
    return tuple(part for part in c if type(part) is not Token)


def _of_kind(c: _Children, kind: type[Any]) -> tuple[Any, ...]:
    return tuple(part for part in c if type(part) is kind)


def _of(c: _Children, kind: str) -> Token | None:
    for part in c:
        if type(part) is Token and part.type == kind:
            return part
    return None


def _after(c: _Children, kind: str) -> Any:
    """What stands right after the token of this kind, or None without that token."""
    for index, part in enumerate(c):
        if type(part) is Token and part.type == kind:
            return c[index + 1]
    return None


def _with_times(steps: Iterable[Any]) -> list[Any]:
    """The steps, where `for 2 min` belongs to the work before it."""
    made: list[Any] = []
    for step in steps:
        before = made[-1] if made else None
        timed = isinstance(before, t.WorkSyntax) and isinstance(step, t.WorkTimeSyntax)
        if timed and made[-1].time is None:
            made[-1] = t.WorkSyntax(made[-1].start, step.end, made[-1].text, step.time)
        else:
            made.append(step)
    return made


class _Values:
    """Places, names and values."""

    def quantity(self, c: _Children) -> t.Quantity:
        return t.Quantity(*_ends(c), c[0], c[1] if len(c) > 1 else None)

    def number(self, c: _Children) -> t.Number:
        return t.Number(*_ends(c), str(c[0]), c[0].type == "NUMBER")

    tally = number

    def qname(self, c: _Children) -> t.Name:
        file = str(c[0]) if len(c) > 1 else None
        return t.Name(*_ends(c), str(c[-1]), file)

    def mirrored(self, c: _Children) -> t.Mirrored:
        return t.Mirrored(*_ends(c), c[1])

    def text(self, c: _Children) -> t.Text:
        return t.Text(*_ends(c), str(c[0]), c[0].type == "STRING")

    def signed(self, c: _Children) -> t.Signed:
        return t.Signed(*_ends(c), str(c[0]), c[1])

    def grouped(self, c: _Children) -> t.Grouped:
        return t.Grouped(*_ends(c), c[1])

    def value(self, c: _Children) -> t.Chain:
        return t.Chain(*_ends(c), tuple(c[::2]), tuple(c[1::2]))

    product = value

    def words(self, c: _Children) -> t.Words:
        return t.Words(*_ends(c), tuple(c))

    def place_part(self, c: _Children) -> t.PlacePart:
        return t.PlacePart(*_ends(c), c[0] if len(c) > 1 else None, c[-1])

    def place(self, c: _Children) -> t.Place:
        return t.Place(*_ends(c), _nodes(c))

    def place_at(self, c: _Children) -> t.PlaceAt:
        return t.PlaceAt(*_ends(c), c[1], c[3])


class _Top:
    """What stands at the top of a program."""

    def start(self, c: _Children) -> t.Tree:
        return t.Tree(*(_ends(c) if c else (0, 0)), tuple(c))

    def header(self, c: _Children) -> t.Header:
        return t.Header(*_ends(c), c[1])

    def title(self, c: _Children) -> t.Title:
        return t.Title(*_ends(c), c[1])

    def seed(self, c: _Children) -> t.Seed:
        return t.Seed(*_ends(c), c[1])

    def use(self, c: _Children) -> t.Use:
        return t.Use(*_ends(c), c[1], _of(c, "NAME"))

    def allow(self, c: _Children) -> t.Allow:
        return t.Allow(*_ends(c), c[1], c[3])

    def require(self, c: _Children) -> t.Require:
        return t.Require(*_ends(c), c[1], c[2])

    def let(self, c: _Children) -> t.Let:
        return t.Let(*_ends(c), c[1], c[3])

    def court(self, c: _Children) -> t.Declaration:
        properties = tuple(part for part in c if isinstance(part, t.Property))
        return t.Declaration(*_ends(c), c[0], _of(c, "NAME"), properties)

    balls = launcher = group = coach = suits = court

    def keep_out(self, c: _Children) -> t.Declaration:
        properties = tuple(part for part in c if type(part) is t.Property)
        return t.Declaration(*_ends(c), c[0], c[2], properties)

    def target(self, c: _Children) -> t.Declaration:
        properties = tuple(part for part in c if type(part) is t.Property)
        return t.Declaration(*_ends(c), c[0], c[1], properties)

    def court_property(self, c: _Children) -> t.Property:
        if type(c[0]) is not Token:  # `5 players` says its word last
            return t.Property(*_ends(c), c[-1], (c[0],))
        return t.Property(*_ends(c), c[0], tuple(p for p in c[1:] if p != ","))

    balls_property = launcher_property = group_property = court_property
    coach_property = keep_out_property = feed_property = player_property = court_property
    suits_property = court_property
    target_property = court_property

    def group_player(self, c: _Children) -> t.PlayerLine:
        properties = tuple(part for part in c if type(part) is t.Property)
        return t.PlayerLine(*_ends(c), c[0], (c[1],), properties)

    def wind(self, c: _Children) -> t.Labelled:
        return t.Labelled(*_ends(c), c[0], c[1])

    vary = wind

    def feed_fresh(self, c: _Children) -> t.Feed:
        return t.Feed(*_ends(c), c[1], None, _nodes(c))

    def feed_derived(self, c: _Children) -> t.Feed:
        properties = tuple(part for part in c if type(part) is t.Property)
        return t.Feed(*_ends(c), c[1], c[3], properties)

    def spin(self, c: _Children) -> t.Spin:
        value = None if type(c[-1]) is Token else c[-1]
        return t.Spin(*_ends(c), tuple(p for p in c if type(p) is Token), value)

    def progression(self, c: _Children) -> t.Progression:
        return t.Progression(*_ends(c), c[1], _nodes(c))

    def pattern(self, c: _Children) -> t.Pattern:
        params = tuple(part for part in c if type(part) is t.Param)
        return t.Pattern(*_ends(c), c[1], params, c[-1])

    def param(self, c: _Children) -> t.Param:
        return t.Param(*_ends(c), c[0], c[2], c[4] if len(c) > 4 else None)

    def lesson(self, c: _Children) -> t.Lesson:
        return t.Lesson(*_ends(c), _after(c, "OF"), c[-1])


class _Seasons:
    """Lessons over weeks."""

    def season(self, c: _Children) -> t.Season:
        return t.Season(*_ends(c), c[1], tuple(part for part in c[2:] if type(part) is not Token))

    def season_time(self, c: _Children) -> t.SeasonTime:
        days = tuple(part for part in c if type(part) is Token and part.type == "NAME")
        at = _after(c, "AT")
        return t.SeasonTime(*_ends(c), days, at, _after(c, "FOR"), _after(c, "IN"))

    def season_from(self, c: _Children) -> t.SeasonFrom:
        return t.SeasonFrom(*_ends(c), c[1])

    def no_lesson(self, c: _Children) -> t.NoLesson:
        return t.NoLesson(*_ends(c), _nodes(c))

    def days(self, c: _Children) -> t.Days:
        return t.Days(*_ends(c), c[0], c[2] if len(c) > 2 else None)

    def week(self, c: _Children) -> t.Week:
        numbers = [part for part in c if type(part) is t.Number]
        last = numbers[1] if len(numbers) > 1 else None
        theme = next(part for part in c if type(part) is t.Text)
        lines = tuple(part for part in c if type(part) is t.WeekLine)
        return t.Week(*_ends(c), numbers[0], last, theme, lines)

    def week_line(self, c: _Children) -> t.WeekLine:
        return t.WeekLine(*_ends(c), c[0], c[1])


class _Steps:
    """The steps of a lesson."""

    def block(self, c: _Children) -> t.Block:
        return t.Block(*_ends(c), tuple(_with_times(_nodes(c))))

    def send(self, c: _Children) -> t.SendSyntax:
        return t.SendSyntax(*_ends(c), c[1], (), _after(c, "AFTER"), _after(c, "VARY"))

    def send_by_level(self, c: _Children) -> t.SendSyntax:
        feeds = tuple(part for part in c if type(part) is t.LevelFeed)
        return t.SendSyntax(*_ends(c), None, feeds, _after(c, "AFTER"), _after(c, "VARY"))

    def send_on_request(self, c: _Children) -> t.SendSyntax:
        feeds = tuple(part for part in c if type(part) is t.LevelFeed)
        feed = None if _of(c, "BY_LEVEL") else c[1]
        return t.SendSyntax(*_ends(c), feed, feeds, None, None, c[-1])

    def request(self, c: _Children) -> t.Request:
        return t.Request(*_ends(c), _nodes(c))

    def request_most(self, c: _Children) -> t.RequestLimit:
        return t.RequestLimit(*_ends(c), False, _after(c, "MOST"))

    def request_gap(self, c: _Children) -> t.RequestLimit:
        return t.RequestLimit(*_ends(c), True, c[-1])

    def level_feed(self, c: _Children) -> t.LevelFeed:
        return t.LevelFeed(*_ends(c), c[0], c[2])

    def show(self, c: _Children) -> t.ShowSyntax:
        return t.ShowSyntax(*_ends(c), c[3])

    def rest(self, c: _Children) -> t.RestSyntax:
        return t.RestSyntax(*_ends(c), c[1])

    def say(self, c: _Children) -> t.SaySyntax:
        return t.SaySyntax(*_ends(c), c[1])

    def collect(self, c: _Children) -> t.CollectSyntax:
        return t.CollectSyntax(*_ends(c))

    def recess(self, c: _Children) -> t.BreakSyntax:
        return t.BreakSyntax(*_ends(c), c[1], c[2] if len(c) > 2 else None)

    def wait(self, c: _Children) -> t.WaitSyntax:
        return t.WaitSyntax(*_ends(c), c[3])

    def repeat(self, c: _Children) -> t.RepeatSyntax:
        return t.RepeatSyntax(*_ends(c), c[1], c[-1])

    def choose(self, c: _Children) -> t.ChooseSyntax:
        return t.ChooseSyntax(*_ends(c), _of(c, "NUMBER"), _nodes(c))

    def option(self, c: _Children) -> t.OptionSyntax:
        body = c[2]
        if type(body) is not t.Block:
            body = t.Block(body.start, body.end, (body,))
        return t.OptionSyntax(*_ends(c), c[0], body)

    def shuffle(self, c: _Children) -> t.ShuffleSyntax:
        return t.ShuffleSyntax(*_ends(c), _of(c, "NUMBER"), c[-1])

    def condition_count(self, c: _Children) -> t.ConditionSyntax:
        outcome = next(p for p in c if type(p) is Token and p.type != "IN_A_ROW")
        row = _of(c, "IN_A_ROW") is not None
        return t.ConditionSyntax(*_ends(c), c[0], False, outcome, row, None, _after(c, "OF"))

    def condition_share(self, c: _Children) -> t.ConditionSyntax:
        feed = c[-1] if len(c) > 6 else None
        return t.ConditionSyntax(*_ends(c), c[0], True, c[2], False, c[5], feed)

    def outcome(self, c: _Children) -> Token:
        return c[0]  # type: ignore[no-any-return]

    def whole(self, c: _Children) -> Any:
        return c[0]

    def until(self, c: _Children) -> t.UntilSyntax:
        return t.UntilSyntax(*_ends(c), c[1], _after(c, "MOST"), c[-1])

    def when(self, c: _Children) -> t.WhenSyntax:
        player, at = (c[1], 3) if isinstance(c[1], t.Text) else (None, 1)
        otherwise = c[at + 3] if len(c) > at + 3 else None
        return t.WhenSyntax(*_ends(c), player, c[at], c[at + 1], otherwise)

    def move(self, c: _Children) -> t.MoveSyntax:
        return t.MoveSyntax(*_ends(c), c[0], c[1], c[3] if len(c) > 3 else None)

    def rotate(self, c: _Children) -> t.RotateSyntax:
        balls, collect = _of(c, "BALLS") is not None, _of(c, "COLLECT_BETWEEN")
        return t.RotateSyntax(*_ends(c), c[3], balls, collect, c[-1])

    def rotate_stations(self, c: _Children) -> t.RotateStationsSyntax:
        stations = tuple(part for part in c if type(part) is t.StationSyntax)
        return t.RotateStationsSyntax(*_ends(c), c[3], _of(c, "COLLECT_BETWEEN"), stations)

    def each(self, c: _Children) -> t.EachSyntax:
        return t.EachSyntax(*_ends(c), False, _nodes(c[:-1]), c[-1])

    def for_named(self, c: _Children) -> t.EachSyntax:
        return t.EachSyntax(*_ends(c), True, _nodes(c[:-1]), c[-1])

    def for_time(self, c: _Children) -> t.ForTimeSyntax:
        return t.ForTimeSyntax(*_ends(c), c[1], c[2])

    def together(self, c: _Children) -> t.TogetherSyntax:
        return t.TogetherSyntax(*_ends(c), _nodes(c))

    def station(self, c: _Children) -> t.StationSyntax:
        return t.StationSyntax(*_ends(c), c[1], _of(c, "NAME"), None, c[-1])

    def station_at(self, c: _Children) -> t.StationSyntax:
        return t.StationSyntax(*_ends(c), c[1], None, c[2], c[-1])

    def work(self, c: _Children) -> t.WorkSyntax:
        return t.WorkSyntax(*_ends(c), c[1], None)

    def work_time(self, c: _Children) -> t.WorkTimeSyntax:
        return t.WorkTimeSyntax(*_ends(c), c[1])

    def exercise(self, c: _Children) -> t.ExerciseSyntax:
        block: t.Block = c[-1]
        notes = tuple(part for part in block.steps if isinstance(part, t.HEAD_LINES))
        steps = tuple(part for part in block.steps if not isinstance(part, t.HEAD_LINES))
        body = t.Block(block.start, block.end, steps)
        return t.ExerciseSyntax(*_ends(c), c[1], _after(c, "FOR"), _after(c, "MOST"), notes, body)

    def exercise_block(self, c: _Children) -> t.Block:
        return t.Block(*_ends(c), _nodes(c))

    def aim(self, c: _Children) -> t.NoteSyntax:
        return t.NoteSyntax(*_ends(c), c[0], c[1])

    watch = easier = harder = target_named = aim

    def goal(self, c: _Children) -> t.GoalSyntax:
        row = _of(c, "IN_A_ROW") is not None
        shots = [part for part in c if type(part) is t.Shot]
        return t.GoalSyntax(*_ends(c), c[1], False, row, None, shots[0] if shots else None)

    def goal_of(self, c: _Children) -> t.GoalSyntax:
        return t.GoalSyntax(*_ends(c), c[1], False, False, c[3], c[4])

    def goal_share(self, c: _Children) -> t.GoalSyntax:
        return t.GoalSyntax(*_ends(c), c[1], True, False, c[6], c[3])

    def shot(self, c: _Children) -> t.Shot:
        return t.Shot(*_ends(c), c[0], c[1] if len(c) > 1 else None)

    def score(self, c: _Children) -> t.ScoreSyntax:
        pairs = _of(c, "PAIRS") is not None
        return t.ScoreSyntax(*_ends(c), c[0], _after(c, "TO"), pairs, _of_kind(c, t.Points))

    def score_property(self, c: _Children) -> t.Points:
        return t.Points(*_ends(c), c[0], _of(c, "LAUNCHER") is not None, c[-1])

    def missed(self, c: _Children) -> Token:
        return c[0]  # type: ignore[no-any-return]

    def call(self, c: _Children) -> t.CallSyntax:
        mirror = type(c[0]) is Token
        slots = tuple(part for part in c if type(part) is t.Slot)
        return t.CallSyntax(*_ends(c), c[1] if mirror else c[0], slots, mirror)

    def argument_slot(self, c: _Children) -> t.Slot:
        return t.Slot(*_ends(c), c[0] if len(c) > 1 else None, c[-1])


class _Expectations:
    """What a tester trusts."""

    def expect(self, c: _Children) -> t.Expect:
        return t.Expect(*_ends(c), _nodes(c))

    def bound(self, c: _Children) -> t.BoundSyntax:
        return t.BoundSyntax(*_ends(c), c[0], c[1], c[2])

    def clears(self, c: _Children) -> t.Clears:
        return t.Clears(*_ends(c), c[0], c[4], len(c) > 5)

    def lands(self, c: _Children) -> t.Lands:
        return t.Lands(*_ends(c), c[0], c[2], c[-1])

    def arrives(self, c: _Children) -> t.Arrives:
        return t.Arrives(*_ends(c), c[0], c[3], c[5], len(c) > 6)

    def bounces(self, c: _Children) -> t.Bounces:
        return t.Bounces(*_ends(c), c[0], c[-1])

    def gets(self, c: _Children) -> t.Gets:
        values = _nodes(c)
        return t.Gets(*_ends(c), values[0] if len(values) > 1 else None, values[-1])

    def waits(self, c: _Children) -> t.Waits:
        return t.Waits(*_ends(c), c[-1])

    def running(self, c: _Children) -> t.RunningSyntax:
        return t.RunningSyntax(*_ends(c), c[3], c[5])

    def subject(self, c: _Children) -> t.Subject:
        return t.Subject(*_ends(c), None if type(c[0]) is Token else c[0])


class Builder(_Values, _Top, _Seasons, _Steps, _Expectations):
    """Builds the tree while the parser reduces: the method of a rule's name makes its node."""
