"""Which feeds may come before their speed was shown, on any run of the plan.

A forward pass over the tree: for each launcher the fastest speed that has surely been shown so
far, over every path that leads to a place. Bodies that may be passed over promise nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec

from feedscript.plan.model import (
    AimedFeed,
    Choose,
    Exercise,
    OnRequest,
    Repeat,
    Send,
    ShowSpeed,
    Shuffle,
    Step,
    Together,
    Turns,
    Until,
    When,
)

#: Fastest speed surely shown, by launcher; 0 before the first.
Shown = tuple[float, ...]


class Sent(msgspec.Struct, frozen=True):
    """One feed of one send, with the speed that was surely shown before it (0: none)."""

    feed: int
    shown_mps: float
    line: int


def sends(steps: Sequence[Step], feeds: Sequence[AimedFeed], launchers: int) -> tuple[Sent, ...]:
    """Every feed of every send in the tree, each with the least that was shown before it."""
    found: dict[tuple[int, int], Sent] = {}

    def note(sent: Sent) -> None:
        key = (sent.feed, sent.line)
        if key not in found or sent.shown_mps < found[key].shown_mps:
            found[key] = sent

    _Pass(feeds, note).steps(steps, (0.0,) * launchers)
    return tuple(found.values())


def _least(options: Sequence[Shown], otherwise: Shown) -> Shown:
    return tuple(min(column) for column in zip(*options, strict=True)) if options else otherwise


def _most(options: Sequence[Shown], otherwise: Shown) -> Shown:
    return tuple(max(column) for column in zip(*options, strict=True)) if options else otherwise


class _Pass(msgspec.Struct, frozen=True):
    feeds: Sequence[AimedFeed]
    note: Callable[[Sent], None]

    def steps(self, steps: Sequence[Step], shown: Shown) -> Shown:
        for step in steps:
            shown = self._step(step, shown)
        return shown

    def _step(self, step: Step, shown: Shown) -> Shown:
        if isinstance(step, Send):
            for feed in step.all_feeds():
                self.note(Sent(feed, shown[self.feeds[feed].launcher], step.line))
            return shown
        if isinstance(step, OnRequest):
            return self.steps((step.send,), shown)
        if isinstance(step, ShowSpeed):
            return self._show(step, shown)
        # What has been shown only ever rises, so the first pass of a body is its worst.
        if isinstance(step, Exercise):
            return self.steps(step.body, shown)
        if isinstance(step, Repeat):
            return self.steps(step.body, shown) if step.times else shown
        if isinstance(step, Turns):
            return self.steps(step.body, shown) if step.slots and step.passes else shown
        if isinstance(step, Until):
            # The condition is looked at after each pass, so one pass is sure.
            return self.steps(step.body, shown) if step.at_most else shown
        return self._branches(step, shown)

    def _show(self, step: ShowSpeed, shown: Shown) -> Shown:
        feed = self.feeds[step.feed]
        faster = max(shown[feed.launcher], feed.speed_mps)
        return (*shown[: feed.launcher], faster, *shown[feed.launcher + 1 :])

    def _branches(self, step: Step, shown: Shown) -> Shown:
        if isinstance(step, Choose):
            return _least([self.steps(one.body, shown) for one in step.options], shown)
        if isinstance(step, When):
            return _least([self.steps(one, shown) for one in (step.then, step.otherwise)], shown)
        if isinstance(step, Shuffle):
            return _most([self.steps(one, shown) for one in step.items], shown)
        if isinstance(step, Together):
            return _most([self.steps(one.body, shown) for one in step.stations], shown)
        return shown
