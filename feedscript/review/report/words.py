"""What a report says of one player, in sentences; the page and the paper say the same.

Two readers: the coach, and whoever gets a player's own sheet (the player, a parent), who knows
no terms and is told nothing that cannot be known from so few balls.
"""

from __future__ import annotations

import math
from datetime import datetime

from feedscript.plan.model import Result
from feedscript.review.report.exercises import Exercise
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

ADVICE = {
    NextStep.HARDER: (
        "It went well lately: perhaps a little faster, a smaller target, or a change of direction "
        "next time?"
    ),
    NextStep.SAME: "Perhaps the same again next time: it is being learned.",
    NextStep.EASIER: (
        "It was hard work lately: perhaps slower, higher over the net, or more time between balls "
        "next time?"
    ),
    NextStep.TOO_FEW: "Too few balls were recorded to suggest a next step.",
}

#: What a coach may want to know about the figures.
NOTES = (
    f"Suggestions follow one rule: of the balls recorded in the last {SERIES_JUDGED} series (at "
    f"least {BALLS_TO_JUDGE} balls), {HARDER_FROM * 100:.0f} % or more in court suggests "
    f"harder, under {EASIER_BELOW * 100:.0f} % easier. It is a suggestion; the coach knows the "
    "player.",
    f"A series is one player's balls with no pause of more than {SERIES_PAUSE_S:.0f} seconds and "
    "with nobody else's in between.",
    "The range of a share is where the player's true share may lie; ranges made this way hold it "
    "in about 19 of 20 cases (score interval).",
    "An error is repeated when the next ball of the same series makes the same one; it is counted "
    "against the errors whose next ball was recorded.",
    f"A trend through the lesson is named from {BALLS_FOR_TREND} recorded balls on, and only where "
    "chance alone gives one as steep in fewer than 1 of 20 lessons (test for a trend in shares).",
    "Waited: the time without a turn, in each hour of the lesson, from its first turn to its last "
    "ball; a turn begins when the player is called. Without stations: the same had every turn been "
    "played after the one before; the walks between those turns are not counted, so it would be "
    "rather more.",
    "A change since last time is called clear where it is more than chance easily gives "
    "(interval of the difference).",
)

#: The same for whoever is handed a player's own sheet.
SHEET_NOTES = (
    "In: the ball landed where it was asked to. Net: it did not pass the net. Long, left, right: "
    "it passed the target there, as the player sees the court.",
    "A few balls more or less are often luck. What counts is where it goes over many weeks.",
    "This sheet shows one player only. The records stay on the coach's computer; the coach can "
    "delete them at any time, so please ask.",
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
    return f"{low} to {high} %"


def day(utc_s: float) -> str:
    """The day and time of a lesson by this machine's own clock."""
    when = datetime.fromtimestamp(utc_s).astimezone()
    return f"{when.day} {when:%B %Y, %H:%M}"


def iso(utc_s: float) -> str:
    """A moment by ISO 8601: this machine's own clock, with its difference to UTC."""
    return datetime.fromtimestamp(utc_s).astimezone().isoformat(timespec="milliseconds")


def short_day(utc_s: float) -> str:
    """The day alone, short."""
    when = datetime.fromtimestamp(utc_s).astimezone()
    return f"{when.day} {when:%b}"


def name_of(player: str | None) -> str:
    """A player's name as a heading."""
    return player or "Nobody in particular"


def feed_name(feed: str) -> str:
    """A feed's name as words."""
    return feed.replace("_", " ")


def climb(one: Climb) -> str:
    """Where a player's way in a progression led."""
    number = one.rungs.index(one.last) + 1 if one.last in one.rungs else 0
    place = f" ({number} of {len(one.rungs)})" if number else ""
    since = "" if one.first == one.last else f"from {feed_name(one.first)} to "
    return f"{feed_name(one.progression)}: {since}{feed_name(one.last)}{place}"


def balls(count: int) -> str:
    """So many balls."""
    return "1 ball" if count == 1 else f"{count} balls"


def facts(lesson: Lesson, *, sheet: bool) -> str:
    """The line under the title."""
    kind = "Rehearsal: no ball flew. " if lesson.rehearsal else ""
    if sheet:
        return f"{kind}{day(lesson.begun_utc_s)}"
    odd = []
    shown = len(lesson.balls) - len(lesson.played)
    if shown:
        odd.append(f"{shown} only to show the speed")
    if lesson.not_sent:
        odd.append(f"{lesson.not_sent} more called off before leaving")
    if lesson.unknown:
        odd.append(f"of {lesson.unknown} more it is not known whether they left")
    tail = f" ({'; '.join(odd)})" if odd else ""
    seed = "" if lesson.seed is None else f" Seed of the plan's chance: {lesson.seed}."
    left = balls(len(lesson.balls))
    return f"{kind}Lesson {lesson.number}, {day(lesson.begun_utc_s)}. {left} left{tail}.{seed}"


def told(one: PlayerFigures, *, sheet: bool) -> list[str]:
    """The player's lesson in a few sentences, in the order of what matters."""
    whole = one.whole
    if whole.share.value is None:
        return [f"{balls(whole.balls)}, none recorded."]
    said = [_share(whole, sheet=sheet), _best(one) if sheet else "", _misses(whole)]
    said += [_repeated(whole, sheet=sheet), _trend(whole, sheet=sheet), _since(one, sheet=sheet)]
    return [words for words in said if words]


def told_of_feed(numbers: Figures) -> list[str]:
    """A feed over everyone, in a few sentences for the coach."""
    if numbers.share.value is None:
        return [f"{balls(numbers.balls)}, none recorded."]
    said = [_share(numbers, sheet=False), _misses(numbers), _repeated(numbers, sheet=False)]
    return [words for words in [*said, _trend(numbers, sheet=False)] if words]


def _share(whole: Figures, *, sheet: bool) -> str:
    share = whole.share
    some = "" if share.recorded == whole.balls else f" (of {balls(whole.balls)} fed)"
    if sheet:
        counted = f"{share.made} of the {balls(share.recorded)} that were counted"
        return f"{counted} landed in court: {percent(share.value)}."
    what = f"{share.made} of {share.recorded} recorded balls in court{some}"
    return f"{what}: {percent(share.value)}, range {span(share.interval)}."


#: A feed with fewer recorded balls is not called the best (design value).
_BALLS_FOR_BEST = 5


def _best(one: PlayerFigures) -> str:
    """What went best, where one feed did."""
    shares = [
        (numbers.share.value or 0.0, feed, numbers.share)
        for feed, numbers in one.by_feed.items()
        if numbers.share.recorded >= _BALLS_FOR_BEST
    ]
    values = sorted({value for value, _, _ in shares})
    if len(values) < 2:
        return ""
    _, feed, share = max(shares, key=lambda each: each[0])
    return f"Went best: {feed_name(feed)}, {share.made} of {share.recorded}."


def _misses(whole: Figures) -> str:
    """Where most misses went, where one direction stands out."""
    if whole.missed < 4:
        return ""
    most, count = max(whole.errors.items(), key=lambda item: item[1])
    if 2 * count <= whole.missed:
        return ""
    where = "into the net" if most is Result.NET else most.value
    return f"Of the {whole.missed} misses, {count} went {where}."


def _repeated(whole: Figures, *, sheet: bool) -> str:
    if not whole.repeat_chances:
        return ""
    times = f"of {whole.repeat_chances} times"
    if sheet:
        other = whole.repeat_chances - whole.repeats
        return f"After a miss, the next ball was different {other} {times}."
    return f"After an error, the next ball made the same one {whole.repeats} {times}."


def _trend(whole: Figures, *, sheet: bool) -> str:
    trend = whole.trend
    if trend.direction is Direction.TOO_FEW:
        return "" if sheet else "Through the lesson: too few recorded to name a trend."
    if trend.direction is Direction.NONE or trend.line is None:
        return "" if sheet else "Through the lesson: no clear trend."
    ends = f"from about {percent(trend.line.first)} to {percent(trend.line.last)}"
    if trend.direction is Direction.RISING:
        return f"Through the lesson the share rose, {ends}."
    asks = "" if sheet else " Tired, or did the feeds grow harder?"
    return f"Towards the end it became harder, {ends}.{asks}"


def _since(one: PlayerFigures, *, sheet: bool) -> str:
    change, before = one.change, one.last_time
    if change is None or before is None:
        return ""
    points = _points(one.whole.share.value, before.share.value)
    then = f"Last time ({short_day(before.begun_utc_s)}) it was {percent(before.share.value)}"
    if change.clear:
        more = "more this time" if points > 0 else "fewer this time; a harder lesson does that too"
        return f"{then}: {more}." if sheet else f"{then}: {_signed(points)} points, clear."
    if sheet:
        return f"{then}; with so few balls the difference may be luck."
    return f"{then}: {_signed(points)} points, within what chance gives."


def change_cell(one: PlayerFigures) -> str:
    """The change since last time, for a table."""
    if one.change is None or one.last_time is None:
        return "–"
    points = _points(one.whole.share.value, one.last_time.share.value)
    return f"{_signed(points)} points{', clear' if one.change.clear else ''}"


def waiting_cell(waiting: Waiting | None) -> str:
    """Waiting in each hour, as it was and, where that differs, without stations, for a table."""
    if waiting is None:
        return "–"
    as_it_was = minutes(waiting.minutes_an_hour)
    without = minutes(waiting.minutes_an_hour_without_stations)
    return as_it_was if without == as_it_was else f"{as_it_was} ({without} without stations)"


#: How an exercise ended; None where the host died in it.
HOW_ENDED: dict[HowEnded | None, str] = {
    HowEnded.PLAYED: "played",
    HowEnded.SKIPPED: "skipped",
    HowEnded.AGAIN: "begun again",
    HowEnded.EARLY: "ended early",
    None: "broken off",
}


def go_at(exercise: str, play: int) -> str:
    """An exercise by its title, and which time it was, where it was done again."""
    return exercise if play < 2 else f"{exercise}, time {play}"


def how_a_game_ended(game: Game) -> str:
    """Who has it; nothing where it has no end."""
    if game.to is None:
        return ""
    if game.won:
        return f"won, with ball {game.over_by}"
    return f"lost, with ball {game.over_by}" if game.lost else f"not over (to {game.to})"


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
    return f"{numbers.repeats} of {numbers.repeat_chances}" if numbers.repeat_chances else "–"


def step_cell(numbers: Figures) -> str:
    """The next step, for a table."""
    return "too few" if numbers.next_step is NextStep.TOO_FEW else numbers.next_step.value
