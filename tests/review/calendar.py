"""An invented calendar: four lessons of five invented players, written as the engine writes it."""

from __future__ import annotations

import random
from itertools import count

from feedscript.launcher.port import Outcome
from feedscript.session.journal import BallIntent, BallOutcome, Journal, SessionStart

PLAYERS = ("Ash", "Birch", "Cedar", "Elm", "Fern")
FEEDS = ("deep_backhand", "wide_forehand")
TITLE = "Thursday group (invented)"
WEEK_S = 7 * 24 * 3600.0
FIRST_UTC_S = 1_800_000_000.0
GAP_S = 4.0
TURN_PAUSE_S = 30.0
BALLS_A_TURN = 8
TURNS_EACH = 3


def write_lesson(journal: Journal, week: int, *, sync_tone_utc_s: float | None = None) -> int:
    """One lesson: each player has three turns of eight balls; the share in grows by the week."""
    chance = random.Random(week)
    begun = FIRST_UTC_S + week * WEEK_S
    number = journal.begin_session(
        SessionStart(
            token=week + 1,
            begun_utc_s=begun,
            title=TITLE,
            source="thursday.feed",
            rehearsal=False,
            plan=b'{"seed": 7, "group": ["Ash", "Birch", "Cedar", "Elm", "Fern"]}',
            group_json='["Ash", "Birch", "Cedar", "Elm", "Fern"]',
        )
    )
    if sync_tone_utc_s is not None:
        journal.note(number, sync_tone_utc_s, "sync-tone", {})
    ids = count(1)
    now = begun + 60.0
    for _ in range(TURNS_EACH):
        for player in PLAYERS:
            now += TURN_PAUSE_S
            for ball in range(BALLS_A_TURN):
                now += GAP_S
                made = chance.random() < 0.35 + 0.1 * week
                result = "in" if made else chance.choice(["net", "net", "long", "left", "right"])
                write_ball(journal, number, next(ids), now, player, FEEDS[ball % 2], result)
    journal.end_session(number, "finished", now + 10.0)
    return number


def write_ball(
    journal: Journal,
    number: int,
    feed_id: int,
    left_utc_s: float,
    player: str | None,
    feed: str,
    result: str | None,
    outcome: Outcome = Outcome.LEFT,
) -> None:
    """One ball, from its intent to what the player made of it."""
    journal.intend(
        number,
        BallIntent(
            feed_id=feed_id,
            ball_no=feed_id,
            launcher=0,
            feed=feed,
            player=player,
            leave_at_device_s=left_utc_s - FIRST_UTC_S,
            intent_utc_s=left_utc_s - 2.0,
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
        journal.record(number, feed_id, result, left_utc_s + 2.0)
