"""What a report says of one player, in sentences; the page and the paper say the same.

Two readers: the coach, and whoever gets a player's own sheet (the player, a parent), who knows
no terms and is told nothing that cannot be known from so few balls.
"""

from __future__ import annotations

import math
from datetime import datetime

from feedscript.plan.model import Result
from feedscript.review.report.exercises import NOT_RECORDED, Exercise
from feedscript.review.report.figures import (
    BALLS_FOR_TREND,
    BALLS_TO_JUDGE,
    EASIER_BELOW,
    HARDER_FROM,
    SERIES_JUDGED,
    Direction,
    Figures,
    NextStep,
    PlayerFigures,
)
from feedscript.review.report.goals import Game
from feedscript.review.report.lesson import Lesson
from feedscript.review.report.rungs import Climb
from feedscript.review.report.waiting import SERIES_PAUSE_S, Waiting
from feedscript.session.state.events import HowEnded
from feedscript.tongues import terms
from feedscript.tongues.text import _, joined, n_, p_

ADVICE = {
    NextStep.HARDER: _(
        "It went well lately: perhaps a little faster, a smaller target, or a change of direction "
        "next time?"
    ),
    NextStep.SAME: _("Perhaps the same again next time: it is being learned."),
    NextStep.EASIER: _(
        "It was hard work lately: perhaps slower, higher over the net, or more time between balls "
        "next time?"
    ),
    NextStep.TOO_FEW: _("Too few balls were recorded to suggest a next step."),
}

#: What a coach may want to know about the figures.
NOTES = (
    _(
        "Suggestions follow one rule: of the balls recorded in the last {series} series (at "
        "least {balls} balls), {harder:.0f} % or more in court suggests harder, under "
        "{easier:.0f} % easier. It is a suggestion; the coach knows the player.",
        series=SERIES_JUDGED,
        balls=BALLS_TO_JUDGE,
        harder=HARDER_FROM * 100,
        easier=EASIER_BELOW * 100,
    ),
    _(
        "A series is one player's balls with no pause of more than {pause:.0f} seconds and "
        "with nobody else's in between.",
        pause=SERIES_PAUSE_S,
    ),
    _(
        "The range of a share is where the player's true share may lie; ranges made this way hold "
        "it in about 19 of 20 cases (score interval)."
    ),
    _(
        "An error is repeated when the next ball of the same series makes the same one; it is "
        "counted against the errors whose next ball was recorded."
    ),
    _(
        "A trend through the lesson is named from {balls} recorded balls on, and only where "
        "chance alone gives one as steep in fewer than 1 of 20 lessons (test for a trend in "
        "shares).",
        balls=BALLS_FOR_TREND,
    ),
    _(
        "Waited: the time without a turn and without work at a station, in each hour of the "
        "lesson, from its first turn to its last ball; a turn begins when the player is called. "
        "Without stations: the same had every turn been played after the one before; the walks "
        "between those turns are not counted, so it would be rather more."
    ),
    _(
        "A change since last time is called clear where it is more than chance easily gives "
        "(interval of the difference)."
    ),
)

#: The same for whoever is handed a player's own sheet.
SHEET_NOTES = (
    _(
        "In: the ball landed where it was asked to. Net: it did not pass the net. Long, left, "
        "right: it passed the target there, as the player sees the court."
    ),
    _("A few balls more or less are often luck. What counts is where it goes over many weeks."),
    _(
        "This sheet shows one player only. The records stay on the coach's computer; the coach "
        "can delete them at any time, so please ask."
    ),
)

MONTHS = (
    _("January"),
    _("February"),
    _("March"),
    _("April"),
    p_("month", "May"),
    _("June"),
    _("July"),
    _("August"),
    _("September"),
    _("October"),
    _("November"),
    _("December"),
)
SHORT_MONTHS = (
    p_("short", "Jan"),
    p_("short", "Feb"),
    p_("short", "Mar"),
    p_("short", "Apr"),
    p_("short", "May"),
    p_("short", "Jun"),
    p_("short", "Jul"),
    p_("short", "Aug"),
    p_("short", "Sep"),
    p_("short", "Oct"),
    p_("short", "Nov"),
    p_("short", "Dec"),
)


def percent(share: float | None) -> str:
    """A share as a person reads it."""
    return "–" if share is None else f"{_hundredths(share)} %"


def _hundredths(share: float) -> int:
    """Rounded as people round: a half goes away from nothing, whatever a float makes of it."""
    return int(math.copysign(math.floor(round(abs(100 * share), 9) + 0.5), share))


def _points(now: float | None, before: float | None) -> int:
    """The difference as the two rounded shares show it."""
    return _hundredths(now or 0.0) - _hundredths(before or 0.0)


def _signed(points: int) -> str:
    return f"{points:+d}".replace("-", "−")


def span(interval: tuple[float, float] | None) -> str:
    """An interval of a share."""
    if interval is None:
        return "–"
    low, high = (_hundredths(end) for end in interval)
    return _("{low} to {high} %", low=low, high=high)


def day(utc_s: float) -> str:
    """The day and time of a lesson by this machine's own clock."""
    when = datetime.fromtimestamp(utc_s).astimezone()
    month = MONTHS[when.month - 1]
    time = f"{when:%H:%M}"
    return _("{day} {month} {year}, {time}", day=when.day, month=month, year=when.year, time=time)


def iso(utc_s: float) -> str:
    """A moment by ISO 8601: this machine's own clock, with its difference to UTC."""
    return datetime.fromtimestamp(utc_s).astimezone().isoformat(timespec="milliseconds")


def short_day(utc_s: float) -> str:
    """The day alone, short."""
    when = datetime.fromtimestamp(utc_s).astimezone()
    return _("{day} {month}", day=when.day, month=SHORT_MONTHS[when.month - 1])


def long_day(utc_s: float) -> str:
    """The day alone, in full."""
    when = datetime.fromtimestamp(utc_s).astimezone()
    month = MONTHS[when.month - 1]
    return _("{day} {month} {year}", day=when.day, month=month, year=when.year)


def name_of(player: str | None) -> str:
    """A player's name as a heading."""
    return player or _("Nobody in particular")


def feed_name(feed: str) -> str:
    """A feed's name as words."""
    return terms.feed_in_words(feed)


def climb(one: Climb) -> str:
    """Where a player's way in a progression led."""
    number = one.rungs.index(one.last) + 1 if one.last in one.rungs else 0
    parts = {"progression": feed_name(one.progression), "last": feed_name(one.last)}
    said = (
        _("{progression}: {last}", **parts)
        if one.first == one.last
        else _("{progression}: from {first} to {last}", first=feed_name(one.first), **parts)
    )
    if not number:
        return said
    return _("{said} ({n} of {all})", said=said, n=number, all=len(one.rungs))


def balls(count: int) -> str:
    """So many balls."""
    return n_("{n} ball", "{n} balls", count)


def facts(lesson: Lesson, *, sheet: bool) -> str:
    """The line under the title."""
    kind = _("Rehearsal: no ball flew.") if lesson.rehearsal else ""
    when = day(lesson.begun_utc_s)
    if sheet:
        return joined(" ", [kind, when])
    left = balls(len(lesson.balls))
    odd = joined("; ", _odd(lesson))
    parts = {"n": lesson.number, "day": when, "balls": left, "odd": odd}
    said = (
        _("Lesson {n}, {day}. {balls} left ({odd}).", **parts)
        if odd
        else _("Lesson {n}, {day}. {balls} left.", **parts)
    )
    seed = "" if lesson.seed is None else _("Seed of the plan's chance: {n}.", n=lesson.seed)
    goes_on = lesson.ended_utc_s is None
    open_end = _("Its end is not recorded: it may still be going on.") if goes_on else ""
    return joined(" ", [kind, said, open_end, seed])


def _odd(lesson: Lesson) -> list[str]:
    """What became of balls that were not simply played."""
    shown = len(lesson.balls) - len(lesson.played)
    odd: list[str] = []
    if shown:
        odd.append(n_("{n} only to show the speed", "{n} only to show the speed", shown))
    if lesson.not_sent:
        count = lesson.not_sent
        odd.append(
            n_("{n} more called off before leaving", "{n} more called off before leaving", count)
        )
    if lesson.unknown:
        odd.append(
            n_(
                "of {n} more it is not known whether they left",
                "of {n} more it is not known whether they left",
                lesson.unknown,
            )
        )
    unplaced = sum(ball.exercise == NOT_RECORDED for ball in lesson.balls)
    if unplaced:
        odd.append(
            n_(
                "{n} in an exercise that was not recorded",
                "{n} in an exercise that was not recorded",
                unplaced,
            )
        )
    return odd


def told(one: PlayerFigures, *, sheet: bool) -> list[str]:
    """The player's lesson in a few sentences, in the order of what matters."""
    whole = one.whole
    if whole.share.value is None:
        return [_("{balls}, none recorded.", balls=balls(whole.balls))]
    said = [_share(whole, sheet=sheet), _best(one) if sheet else "", _misses(whole)]
    said += [_repeated(whole, sheet=sheet), _trend(whole, sheet=sheet), _since(one, sheet=sheet)]
    return [words for words in said if words]


def told_of_feed(numbers: Figures) -> list[str]:
    """A feed over everyone, in a few sentences for the coach."""
    if numbers.share.value is None:
        return [_("{balls}, none recorded.", balls=balls(numbers.balls))]
    said = [_share(numbers, sheet=False), _misses(numbers), _repeated(numbers, sheet=False)]
    return [words for words in [*said, _trend(numbers, sheet=False)] if words]


def _share(whole: Figures, *, sheet: bool) -> str:
    share = whole.share
    parts = {"made": share.made, "share": percent(share.value)}
    if sheet:
        return n_(
            "{made} of the {n} ball that were counted landed in court: {share}.",
            "{made} of the {n} balls that were counted landed in court: {share}.",
            share.recorded,
            **parts,
        )
    parts |= {"recorded": share.recorded, "range": span(share.interval)}
    if share.recorded == whole.balls:
        return _("{made} of {recorded} recorded balls in court: {share}, range {range}.", **parts)
    return _(
        "{made} of {recorded} recorded balls in court (of {balls} fed): {share}, range {range}.",
        balls=balls(whole.balls),
        **parts,
    )


#: A feed with fewer recorded balls is not called the best (design value).
_BALLS_FOR_BEST = 5


def _best(one: PlayerFigures) -> str:
    """What went best, where one feed did."""
    shares = [
        (numbers.share.value or 0.0, feed, numbers.share)
        for feed, numbers in one.by_feed.items()
        if numbers.share.recorded >= _BALLS_FOR_BEST
    ]
    values = sorted({value for value, *_which in shares})
    if len(values) < 2:
        return ""
    feed, share = max(shares, key=lambda each: each[0])[1:]
    parts = {"feed": feed_name(feed), "made": share.made, "recorded": share.recorded}
    return _("Went best: {feed}, {made} of {recorded}.", **parts)


def _misses(whole: Figures) -> str:
    """Where most misses went, where one direction stands out."""
    if whole.missed < 4:
        return ""
    most, count = max(whole.errors.items(), key=lambda item: item[1])
    if 2 * count <= whole.missed:
        return ""
    parts = {"missed": whole.missed, "n": count}
    match most:
        case Result.NET:
            return _("Of the {missed} misses, {n} went into the net.", **parts)
        case Result.LONG:
            return _("Of the {missed} misses, {n} went long.", **parts)
        case Result.LEFT:
            return _("Of the {missed} misses, {n} went left.", **parts)
        case _:
            return _("Of the {missed} misses, {n} went right.", **parts)


def _repeated(whole: Figures, *, sheet: bool) -> str:
    if not whole.repeat_chances:
        return ""
    times = whole.repeat_chances
    if sheet:
        other = times - whole.repeats
        return _(
            "After a miss, the next ball was different {n} of {times} times.", n=other, times=times
        )
    return _(
        "After an error, the next ball made the same one {n} of {times} times.",
        n=whole.repeats,
        times=times,
    )


def _trend(whole: Figures, *, sheet: bool) -> str:
    trend = whole.trend
    if trend.direction is Direction.TOO_FEW:
        return "" if sheet else _("Through the lesson: too few recorded to name a trend.")
    if trend.direction is Direction.NONE or trend.line is None:
        return "" if sheet else _("Through the lesson: no clear trend.")
    ends = {"first": percent(trend.line.first), "last": percent(trend.line.last)}
    if trend.direction is Direction.RISING:
        return _("Through the lesson the share rose, from about {first} to {last}.", **ends)
    harder = _("Towards the end it became harder, from about {first} to {last}.", **ends)
    return harder if sheet else joined(" ", [harder, _("Tired, or did the feeds grow harder?")])


def _since(one: PlayerFigures, *, sheet: bool) -> str:
    change, before = one.change, one.last_time
    if change is None or before is None:
        return ""
    points = _points(one.whole.share.value, before.share.value)
    then = _(
        "Last time ({day}) it was {share}",
        day=short_day(before.begun_utc_s),
        share=percent(before.share.value),
    )
    if sheet and not change.clear:
        return _("{then}; with so few balls the difference may be luck.", then=then)
    return _(
        "{then}: {difference}.",
        then=then,
        difference=_told_change(points, change.clear, sheet=sheet),
    )


def _told_change(points: int, clear: bool, *, sheet: bool) -> str:
    if not sheet:
        signed = _signed(points)
        if clear:
            return _("{points} points, clear", points=signed)
        return _("{points} points, within what chance gives", points=signed)
    if points > 0:
        return _("more this time")
    return _("fewer this time; a harder lesson does that too")


def change_cell(one: PlayerFigures) -> str:
    """The change since last time, for a table."""
    if one.change is None or one.last_time is None:
        return "–"
    points = _points(one.whole.share.value, one.last_time.share.value)
    signed = _signed(points)
    if one.change.clear:
        return _("{points} points, clear", points=signed)
    return _("{points} points", points=signed)


def waiting_cell(waiting: Waiting | None) -> str:
    """Waiting in each hour, as it was and, where that differs, without stations, for a table."""
    if waiting is None:
        return "–"
    as_it_was = minutes(waiting.minutes_an_hour)
    without = minutes(waiting.minutes_an_hour_without_stations)
    if without == as_it_was:
        return as_it_was
    return _("{time} ({without} without stations)", time=as_it_was, without=without)


#: How an exercise ended; None where it is still on or the host died in it: which, nobody wrote.
HOW_ENDED: dict[HowEnded | None, str] = {
    HowEnded.PLAYED: p_("exercise", "played"),
    HowEnded.SKIPPED: p_("exercise", "skipped"),
    HowEnded.AGAIN: p_("exercise", "begun again"),
    HowEnded.EARLY: p_("exercise", "ended early"),
    None: p_("exercise", "its end is not recorded"),
}


def go_at(exercise: str, play: int) -> str:
    """An exercise by its title, and which time it was, where it was done again."""
    if play < 2:
        return exercise
    return _("{exercise}, time {n}", exercise=exercise, n=play)


def how_a_game_ended(game: Game) -> str:
    """Who has it; nothing where it has no end."""
    if game.to is None:
        return ""
    if game.won:
        return _("won, with ball {n}", n=game.over_by)
    if game.lost:
        return _("lost, with ball {n}", n=game.over_by)
    return _("not over (to {n})", n=game.to)


def duration_cell(one: Exercise) -> str:
    """How long an exercise was on, for a table."""
    if one.ended_utc_s is None:
        return "–"
    seconds = round(one.ended_utc_s - one.begun_utc_s)
    return f"{seconds // 60}:{seconds % 60:02}"


def waited(waiting: Waiting | None) -> str:
    """The same in a line of words; nothing where it is not known."""
    if waiting is None or waiting.minutes_an_hour is None:
        return ""
    return f"waited an hour: {waiting_cell(waiting)}; "


def minutes(of_an_hour: float | None) -> str:
    """Minutes of an hour as a person reads them."""
    return "–" if of_an_hour is None else f"{of_an_hour:.0f} min"


def repeated_cell(numbers: Figures) -> str:
    """Errors repeated, for a table."""
    if not numbers.repeat_chances:
        return "–"
    return _("{n} of {all}", n=numbers.repeats, all=numbers.repeat_chances)


_STEPS = {
    NextStep.HARDER: _("harder"),
    NextStep.SAME: _("the same again"),
    NextStep.EASIER: _("easier"),
    NextStep.TOO_FEW: _("too few"),
}


def step_cell(numbers: Figures) -> str:
    """The next step, for a table."""
    return _STEPS[numbers.next_step]
