"""An invented calendar: four lessons of five invented players, written as the engine writes it.

Each player has a level that grows by the week and an error of their own. The second week one is
absent; now and then nobody taps; some landings are marked.
"""

from __future__ import annotations

import random
from itertools import count

from feedscript.journal.store import BallIntent, BallOutcome, Journal, SessionStart
from feedscript.launcher.port import Outcome

PLAYERS = ("Ash", "Birch", "Cedar", "Elm", "Fern")
#: Each player's share in at first, what a week adds, and the error most often made.
LEVELS = {
    "Ash": (0.55, 0.08, "long"),
    "Birch": (0.30, 0.15, "net"),
    "Cedar": (0.45, 0.02, "left"),
    "Elm": (0.20, 0.03, "net"),
    "Fern": (0.70, 0.05, "right"),
}
ABSENT = {1: "Fern"}
FEEDS = ("deep_backhand", "wide_forehand")
TITLE = "Thursday group (invented)"
WEEK_S = 7 * 24 * 3600.0
FIRST_UTC_S = 1_799_859_600.0  # a Wednesday in January, 17:00 UTC
GAP_S = 4.0
TURN_PAUSE_S = 30.0
BALLS_A_TURN = 8
TURNS_EACH = 3
BALLS_EACH = BALLS_A_TURN * TURNS_EACH
SHOWN_AFTER_S = 60.0
#: Of a lesson with everyone there, the shown one among them.
BALLS = BALLS_EACH * len(PLAYERS) + 1


def group(week: int) -> tuple[str, ...]:
    """Who is there."""
    return tuple(player for player in PLAYERS if player != ABSENT.get(week))


def write_lesson(
    journal: Journal,
    week: int,
    *,
    sync_tone_utc_s: float | None = None,
    turns: int = TURNS_EACH,
) -> int:
    """One lesson: a shown ball, then each player has three turns of eight balls."""
    chance = random.Random(week)
    begun = FIRST_UTC_S + week * WEEK_S
    names = ", ".join(f'{{"name":"{player}"}}' for player in group(week))
    number = journal.begin_session(
        SessionStart(
            token=week + 1,
            begun_utc_s=begun,
            title=TITLE,
            source="thursday.feed",
            rehearsal=False,
            plan=f'{{"seed":7,"court":{{"kind":"singles"}},"group":{{"players":[{names}]}}}}'.encode(),
            group_json=f'{{"players":[{names}]}}',
        )
    )
    if sync_tone_utc_s is not None:
        journal.note(number, sync_tone_utc_s, "sync-tone", {"by": "page 1"})
    ids = count(1)
    now = begun + SHOWN_AFTER_S
    write_ball(journal, number, next(ids), now, None, FEEDS[0], None, shown=True)
    for _ in range(turns):
        for player in group(week):
            now += TURN_PAUSE_S
            journal.note(number, now, "call", {"text": f"{player} is on"})
            for ball in range(BALLS_A_TURN):
                now += GAP_S
                made = _made(chance, player, week)
                mark = _landing(chance, made)
                if made == "in" and mark is not None and mark[1] < DEEP_M:
                    made = "target"
                write_ball(
                    journal, number, next(ids), now, player, FEEDS[ball % 2], made, landing_m=mark
                )
    journal.end_session(number, "finished", now + 10.0)
    return number


#: Shots that were marked as deep as this came down in the exercise's target.
DEEP_M = -10.0


def _made(chance: random.Random, player: str, week: int) -> str | None:
    """What became of one ball; None where nobody tapped."""
    first, growth, favourite = LEVELS[player]
    if chance.random() < 0.05:
        return None
    if chance.random() < first + growth * week:
        return "in"
    return favourite if chance.random() < 0.6 else chance.choice(["net", "long", "left", "right"])


def _landing(chance: random.Random, made: str | None) -> tuple[float, float] | None:
    """Where about half of the shots came down; the player's left lies at +x."""
    if made is None or chance.random() < 0.5:
        return None
    x_m, y_m = chance.gauss(0.0, 1.6), chance.gauss(-9.0, 1.0)
    match made:
        case "net":
            return x_m, chance.uniform(0.2, 1.0)
        case "long":
            return x_m, chance.uniform(-14.0, -12.1)
        case "left":
            return chance.uniform(4.3, 6.0), y_m
        case "right":
            return chance.uniform(-6.0, -4.3), y_m
    return max(-4.0, min(4.0, x_m)), max(-11.8, y_m)


def write_ball(
    journal: Journal,
    number: int,
    feed_id: int,
    left_utc_s: float,
    player: str | None,
    feed: str,
    result: str | None,
    outcome: Outcome = Outcome.LEFT,
    *,
    shown: bool = False,
    landing_m: tuple[float, float] | None = None,
    station: str = "",
    launcher: int = 0,
) -> None:
    """One ball, from its intent to what the player made of it."""
    journal.intend(
        number,
        BallIntent(
            feed_id=feed_id,
            ball_no=feed_id % 7 + 1,  # the plan's own count, which nobody is shown
            launcher=launcher,
            feed=feed,
            player=player,
            leave_at_device_s=left_utc_s - FIRST_UTC_S,
            intent_utc_s=left_utc_s - 2.0,
            station=station,
            shown=shown,
        ),
    )
    left = outcome is Outcome.LEFT
    journal.settle(
        number,
        BallOutcome(
            feed_id=feed_id,
            outcome=outcome,
            outcome_utc_s=left_utc_s + 0.1,
            left_device_s=left_utc_s - FIRST_UTC_S if left else None,
            left_utc_s=left_utc_s if left else None,
        ),
    )
    if result is not None:
        journal.record(number, feed_id, result, left_utc_s + 2.0, landing_m)
