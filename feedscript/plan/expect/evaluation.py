"""Every expectation of a program held against its plan."""

from __future__ import annotations

from feedscript.diagnostics import Span
from feedscript.language.program import (
    ArrivesBetween,
    BouncesInside,
    Bound,
    ClearsNet,
    Expectation,
    LandsWithin,
    PlayerGets,
    PlayerWaits,
    Program,
    Running,
)
from feedscript.plan.expect.draws import Drawing
from feedscript.plan.expect.of_bounds import bound
from feedscript.plan.expect.of_feeds import (
    arrives_between,
    bounces_inside,
    clears_net,
    lands_within,
)
from feedscript.plan.expect.of_players import player_gets, player_waits, running
from feedscript.plan.expect.outcome import Outcome


def evaluate(expectation: Expectation, program: Program, drawing: Drawing) -> Outcome:
    """What becomes of one expectation."""
    match expectation:
        case Bound():
            return bound(expectation, drawing)
        case ClearsNet():
            return clears_net(expectation, drawing, program)
        case LandsWithin():
            return lands_within(expectation, drawing, program)
        case ArrivesBetween():
            return arrives_between(expectation, drawing, program)
        case BouncesInside():
            return bounces_inside(expectation, drawing, program)
        case PlayerGets():
            return player_gets(expectation, drawing)
        case PlayerWaits():
            return player_waits(expectation, drawing)
        case Running():
            return running(expectation, drawing, program)


def written(program: Program, span: Span) -> str:
    """The words of an expectation as the program writes them, on one line."""
    lines = program.sources.get(span.source, "").split("\n")[span.line - 1 : span.end_line]
    if not lines:
        return ""
    lines[-1] = lines[-1][: span.end_column - 1]
    lines[0] = lines[0][span.column - 1 :]
    return " ".join(" ".join(lines).split())
