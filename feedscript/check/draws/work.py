"""One piece drawn, whoever draws it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Protocol

import numpy as np

from feedscript.check.draws.balls import drawn_balls
from feedscript.check.draws.case import Case
from feedscript.check.draws.pieces import (
    Answer,
    BallsPiece,
    LandingsAnswer,
    LandingsPiece,
    Piece,
    RunsPiece,
)
from feedscript.check.draws.runs import drawn_runs
from feedscript.check.expected import drawing_of
from feedscript.plan.expect.draws import Array, landings


class Workers(Protocol):
    """Those who draw."""

    def answers(self, asked: Iterable[tuple[Case, Piece]]) -> Iterator[Answer]:
        """What came of each piece, in the order in which they were asked for."""
        ...


class Alone:
    """This process draws, one piece after the other."""

    def answers(self, asked: Iterable[tuple[Case, Piece]]) -> Iterator[Answer]:
        for case, piece in asked:
            yield work(case, piece)


def work(case: Case, piece: Piece) -> Answer:
    """What comes of one piece: the same whoever works it out, and whenever."""
    match piece:
        case RunsPiece():
            return drawn_runs(case, piece)
        case BallsPiece():
            return drawn_balls(case, piece)
        case LandingsPiece():
            drawing = drawing_of(case.facts, piece.balls, piece.seed)
            x_m, y_m = landings(drawing, piece.feed, piece.start, piece.balls)
            return LandingsAnswer(_bytes(x_m), _bytes(y_m))


def _bytes(values: Array) -> bytes:
    return values.astype("<f8").tobytes()


def landed(answer: LandingsAnswer) -> tuple[Array, Array]:
    """The landings again, x and y in m."""
    return np.frombuffer(answer.x_m, "<f8"), np.frombuffer(answer.y_m, "<f8")
