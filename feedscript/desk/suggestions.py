"""What the records of a lesson suggest for its program, as changes of words to be taken or left.

The report's own rule says for whom a feed might be harder or easier. Here that is worked out in the
words: a step of speed, a step of the time before a ball; each is checked with the whole program and
proposed only where it then passes. Nothing is changed by itself; the coach knows the players.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import msgspec

from feedscript.desk.offsets import BrowserOffsets
from feedscript.editor.document import Document
from feedscript.editor.figures import Figure, FigureWanted, figured, sends_of
from feedscript.editor.fixes import Change
from feedscript.editor.wanted import Moved
from feedscript.journal.store import read_journal
from feedscript.language.parse import tree as t
from feedscript.plan.model import AimedFeed
from feedscript.review.report.figures import NextStep, Share, next_step, share_of
from feedscript.review.report.lesson import Ball, Lesson, read_lesson
from feedscript.tongues import terms
from feedscript.tongues.text import _, listed
from feedscript.units import UNITS

#: A step up or down, in the unit that the speed is written in. Design values: about 7 % of a speed
#: at which a beginner is fed, and what a player notices of the time between two balls.
SPEED_STEPS = {"km/h": 5.0, "mph": 3.0, "m/s": 1.5}
GAP_STEP_S = 1.0
USUAL_UNIT = "km/h"
#: Whatever is proposed leaves at least so much of it. Design values.
LEAST_SPEED_MPS, LEAST_GAP_S = 5.0, 1.0


class Edit(msgspec.Struct, frozen=True):
    """Other words for a part of the text, as a browser counts."""

    start: int  # UTF-16 units from the text's beginning
    end: int  # just past the last of them
    words: str  # that come there instead


class Proposal(msgspec.Struct, frozen=True, kw_only=True):
    """One change of the program, with which it passes the check."""

    title: str  # what it changes
    edits: tuple[Edit, ...]  # all of them together


class Suggestion(msgspec.Struct, frozen=True, kw_only=True):
    """That a feed might be harder or easier: for whom, and how."""

    feed: str
    wish: str  # the feed as it is declared in the program; empty: it is not
    step: str  # harder or easier
    says: str  # the same in a sentence
    names: tuple[str, ...]  # of the players
    players: tuple[str, ...]  # with their records in words
    proposals: tuple[Proposal, ...] = ()  # changes, each of which passes the check
    why_not: str = ""  # where no change of this program is proposed


class Suggested(msgspec.Struct, frozen=True, kw_only=True):
    """What a lesson suggests for this version of the program."""

    version: str  # of the text
    suggestions: tuple[Suggestion, ...]


def suggestions(journal_path: Path, number: int, document: Document) -> tuple[Suggestion, ...]:
    """What the records of this lesson suggest for the program as it stands now, feed by feed.

    Raises FeedscriptError when the journal cannot be read or has no such lesson.
    """
    journal = read_journal(journal_path)
    try:
        lesson = read_lesson(journal, number)
    finally:
        journal.close()
    return suggested_by(lesson, document)


def suggested_by(lesson: Lesson, document: Document) -> tuple[Suggestion, ...]:
    """The same of a lesson that was read already."""
    return tuple(_suggested(document, *one) for one in _steps(lesson))


def _steps(lesson: Lesson) -> Iterator[tuple[str, NextStep, dict[str, str]]]:
    """Each feed that some might have harder, or easier, and who."""
    for feed in dict.fromkeys(ball.kind for ball in lesson.played):
        balls = [ball for ball in lesson.played if ball.kind == feed]
        told = [(player, _of(player, balls)) for player in dict.fromkeys(b.player for b in balls)]
        for wanted in (NextStep.HARDER, NextStep.EASIER):
            who = {
                player or "": _called(player, share_of(own))
                for player, own in told
                if next_step(own) is wanted
            }
            if who:
                yield feed, wanted, who


def _of(player: str | None, balls: Sequence[Ball]) -> list[Ball]:
    return [ball for ball in balls if ball.player == player]


def _called(player: str | None, share: Share) -> str:
    who = player or _("everybody")
    return _("{player} ({n} of {all} in)", player=who, n=share.made, all=share.recorded)


def _suggested(
    document: Document, feed: str, step: NextStep, players: dict[str, str]
) -> Suggestion:
    aimed = _aimed(document, feed)
    told = Suggestion(
        feed=terms.feed(feed),
        wish="" if aimed is None else terms.feed(aimed.wish),
        step=step.value,
        says=_says(step, feed, listed(players.values())),
        names=tuple(players),
        players=tuple(players.values()),
    )
    if not document.verdict.ok:
        return msgspec.structs.replace(told, why_not=_("mend what the check says first"))
    refused = ""
    proposals: list[Proposal] = []
    for title, moved in _ways(document, feed, step):
        refused = refused or moved.refused
        if moved.choices:
            proposals += _passing(document, title, moved.choices[0].changes)
    if proposals:
        return msgspec.structs.replace(told, proposals=tuple(proposals))
    why = refused or _("with a change of its speed or its time the program does not pass the check")
    return msgspec.structs.replace(told, why_not=why)


def _says(step: NextStep, feed: str, players: str) -> str:
    called = terms.feed(feed)
    if step is NextStep.HARDER:
        return _("{feed}: perhaps harder for {players}", feed=called, players=players)
    return _("{feed}: perhaps easier for {players}", feed=called, players=players)


def _ways(document: Document, feed: str, step: NextStep) -> Iterator[tuple[str, Moved]]:
    """Faster or slower; less or more time before it."""
    aimed = _aimed(document, feed)
    if aimed is None:
        yield "", Moved(refused=_("{feed} is not in this program any more", feed=terms.feed(feed)))
        return
    harder = step is NextStep.HARDER
    unit = _unit_of(document, feed)
    by = SPEED_STEPS[unit] if harder else -SPEED_STEPS[unit]
    speed = round(aimed.speed_mps / UNITS[unit].factor + by, 1)
    if speed * UNITS[unit].factor >= LEAST_SPEED_MPS:
        wanted = FigureWanted(figure=Figure.SPEED, name=feed, value=speed, unit=unit)
        to = f"{speed:g} {unit}"
        title = _("faster: {speed}", speed=to) if harder else _("slower: {speed}", speed=to)
        yield title, figured(document, wanted)
    gap_s = _gap_s(document, feed)
    if gap_s is None:
        return
    gap_s += -GAP_STEP_S if harder else GAP_STEP_S
    if gap_s >= LEAST_GAP_S:
        wanted = FigureWanted(figure=Figure.GAP, name=feed, value=gap_s, unit="s")
        title = (
            _("less time before it: {n:g} s", n=gap_s)
            if harder
            else _("more time before it: {n:g} s", n=gap_s)
        )
        yield title, figured(document, wanted)


def _aimed(document: Document, feed: str) -> AimedFeed | None:
    return next((one for one in document.aimed().values() if feed in (one.wish, one.name)), None)


def _unit_of(document: Document, feed: str) -> str:
    """The unit that its speed is written in, if it is; else the usual one."""
    written = document.scope.defined(t.Feed).get(feed)
    for line in reversed(() if written is None else written.properties):
        value = line.parts[0] if line.word == "speed" and line.parts else None
        if isinstance(value, t.Quantity) and str(value.unit) in SPEED_STEPS:
            return str(value.unit)
    return USUAL_UNIT


def _gap_s(document: Document, feed: str) -> float | None:
    """The time before it, where its one send says so in seconds by a number."""
    sends = sends_of(document, feed)
    gap = sends[0].gap if len(sends) == 1 else None
    if isinstance(gap, t.Quantity) and str(gap.unit) == "s" and gap.number.good:
        return float(gap.number.raw)
    return None


def _passing(document: Document, title: str, changes: Sequence[Change]) -> Iterator[Proposal]:
    """The proposal, if the whole program passes with it."""
    text = document.text
    for change in reversed(changes):
        text = change.made(text)
    if document.judged(text).ok:
        units = BrowserOffsets(document.text)
        edits = (Edit(units(one.start), units(one.end), one.words) for one in changes)
        yield Proposal(title=title, edits=tuple(edits))
