"""Two texts of the library beside each other: their words, what is proven of each, and pictures."""

from __future__ import annotations

import difflib
from collections.abc import Iterator

import msgspec

from feedscript.check.check_program import Verdict
from feedscript.club.library.shelf import judge
from feedscript.review.drawing.files import draw_plan
from feedscript.tongues.tongue import IN_ENGLISH, Tongue


class Line(msgspec.Struct, frozen=True):
    """A line of either text: ``-`` in the first alone, ``+`` in the second alone, else both."""

    mark: str
    text: str


class Bounds(msgspec.Struct, frozen=True, kw_only=True):
    """What is proven of every run of one text, and the least margin of each of its rules."""

    balls: tuple[int, int]
    time_s: tuple[float, float]
    fastest_mps: float
    margins: dict[str, float]


class Compared(msgspec.Struct, frozen=True, kw_only=True):
    """The differences; a text that passes the check no more has neither bounds nor picture."""

    words: tuple[Line, ...]
    bounds: tuple[Bounds | None, Bounds | None]
    pictures: tuple[str, str]  # SVG, or empty


def compare(
    name: str, one: bytes, other: bytes, width_px: int = 900, tongue: Tongue = IN_ENGLISH
) -> Compared:
    """Both judged anew by this version of the rules. Takes seconds: not for an event loop."""
    texts = (one.decode(), other.decode())
    judged = tuple(judge(name, text) for text in texts)
    return Compared(
        words=tuple(_lines(*texts)),
        bounds=(_bounds(judged[0]), _bounds(judged[1])),
        pictures=(_picture(judged[0], width_px, tongue), _picture(judged[1], width_px, tongue)),
    )


def _lines(one: str, other: str) -> Iterator[Line]:
    for line in difflib.ndiff(one.splitlines(), other.splitlines()):
        if line[0] != "?":  # only points at letters
            yield Line(line[0], line[2:])


def _bounds(verdict: Verdict) -> Bounds | None:
    if verdict.plan is None or verdict.certificate is None:
        return None
    found = verdict.plan.bounds
    return Bounds(
        balls=found.balls,
        time_s=found.time_s,
        fastest_mps=found.fastest_mps,
        margins={
            clause.rule: clause.margin
            for clause in verdict.certificate.clauses
            if clause.margin is not None
        },
    )


def _picture(verdict: Verdict, width_px: int, tongue: Tongue) -> str:
    if verdict.plan is None or verdict.facts is None:
        return ""
    drawn = draw_plan(verdict.facts, ".svg", width_px, tongue)
    return drawn.decode() if isinstance(drawn, bytes) else ""
