"""What films suggest of players' shots, beside the coach's taps. A tap is never changed by it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import msgspec

from feedscript.plan.model import Result
from feedscript.review.report.lesson import Ball


class Difference(msgspec.Struct, frozen=True):
    """A shot that was tapped as one thing, and that a film takes for another."""

    number: int
    player: str | None
    tapped: Result
    film: Result
    sure: float


class Suggestions(msgspec.Struct, frozen=True):
    """One player's shots in films. ``open`` were suggested and not tapped; ``close``: what was
    seen fits two results; ``unseen``: how many were not seen, by reason."""

    player: str | None
    looked_for: int
    same: int
    differ: int
    open: int
    close: int
    unseen: dict[str, int]


def suggested(ball: Ball) -> Result | None:
    """What a film takes the shot at this ball for, where it is sure enough."""
    return None if ball.shot is None else ball.shot.suggested


def suggestions_of(balls: Iterable[Ball]) -> tuple[Suggestions, ...]:
    """Player by player, in the order of their first balls; nothing where none was looked for."""
    players: dict[str | None, list[Ball]] = {}
    for ball in balls:
        if ball.shot is not None:
            players.setdefault(ball.player, []).append(ball)
    return tuple(_of_player(player, theirs) for player, theirs in players.items())


def _of_player(player: str | None, balls: list[Ball]) -> Suggestions:
    told = [(suggested(ball), ball.result) for ball in balls]
    both = [(film, tapped) for film, tapped in told if film is not None and tapped is not None]
    whys = [ball.shot.why for ball in balls if ball.shot is not None]
    unseen = Counter(why for why in whys if why)
    return Suggestions(
        player=player,
        looked_for=len(balls),
        same=sum(film is tapped for film, tapped in both),
        differ=sum(film is not tapped for film, tapped in both),
        open=sum(film is not None and tapped is None for film, tapped in told),
        close=sum(film is None for film, _tapped in told) - sum(unseen.values()),
        unseen=dict(unseen),
    )


def differences_of(balls: Iterable[Ball]) -> tuple[Difference, ...]:
    """In the order of the balls."""
    found = []
    for ball in balls:
        film, tapped = suggested(ball), ball.result
        if film is not None and tapped is not None and film is not tapped:
            sure = ball.shot.sure if ball.shot is not None else None
            found.append(Difference(ball.number, ball.player, tapped, film, sure or 0.0))
    return tuple(found)
