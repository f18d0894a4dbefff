"""One piece of work done, whoever does it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Protocol

import numpy as np

from feedscript.check.expected import drawing_of
from feedscript.check.in_pieces.balls import drawn_balls
from feedscript.check.in_pieces.case import Case
from feedscript.check.in_pieces.cases import AnyCase
from feedscript.check.in_pieces.pieces import (
    Answer,
    BallsPiece,
    LandingsAnswer,
    LandingsPiece,
    LauncherPiece,
    Piece,
    RefitsPiece,
    RunsPiece,
)
from feedscript.check.in_pieces.refits import Measured, refitted
from feedscript.check.in_pieces.runs import drawn_runs
from feedscript.check.in_pieces.texts import Texts, judged
from feedscript.plan.expect.draws import Array, landings


class Workers(Protocol):
    """Those who do it."""

    def answers(self, asked: Iterable[tuple[AnyCase, Piece]]) -> Iterator[Answer]:
        """What came of each piece, in the order in which they were asked for."""
        ...


class Alone:
    """This process, one piece after the other."""

    def answers(self, asked: Iterable[tuple[AnyCase, Piece]]) -> Iterator[Answer]:
        for case, piece in asked:
            yield work(case, piece)


def work(case: AnyCase, piece: Piece) -> Answer:
    """What comes of one piece: the same whoever works it out, and whenever.

    TypeError for a piece of another kind of case.
    """
    match case, piece:
        case Case(), RunsPiece():
            return drawn_runs(case, piece)
        case Case(), BallsPiece():
            return drawn_balls(case, piece)
        case Case(), LandingsPiece():
            return _landings(case, piece)
        case Measured(), RefitsPiece():
            return refitted(case, piece)
        case Texts(), LauncherPiece():
            return judged(case, piece)
    raise TypeError(f"a {type(case).__name__} has no {type(piece).__name__}")


def _landings(case: Case, piece: LandingsPiece) -> LandingsAnswer:
    drawing = drawing_of(case.facts, piece.balls, piece.seed)
    x_m, y_m = landings(drawing, piece.feed, piece.start, piece.balls)
    return LandingsAnswer(_bytes(x_m), _bytes(y_m))


def _bytes(values: Array) -> bytes:
    return values.astype("<f8").tobytes()


def landed(answer: LandingsAnswer) -> tuple[Array, Array]:
    """The landings again, x and y in m."""
    return np.frombuffer(answer.x_m, "<f8"), np.frombuffer(answer.y_m, "<f8")
