"""Which feeds an expectation speaks of: those that the lesson can send."""

from __future__ import annotations

from collections.abc import Iterator

from feedscript.language.program import Program
from feedscript.plan.bodies import within
from feedscript.plan.expect.outcome import Outcome, untested
from feedscript.plan.model import Plan, Send, ShowSpeed


def sent_feeds(plan: Plan) -> frozenset[int]:
    """Every feed that some run of the plan sends or shows."""
    found: set[int] = set()
    for step in within(plan.steps):
        if isinstance(step, Send):
            found.update(step.all_feeds())
        elif isinstance(step, ShowSpeed):
            found.add(step.feed)
    return frozenset(found)


def family_of(plan: Plan, program: Program, name: str) -> frozenset[int]:
    """Every aimed feed of a wish, or of a progression's: its variants, at every launcher, and its
    mirror images."""
    wishes = [program.feeds[one] for one in program.rungs_of(name) if one in program.feeds]
    names = {name, *(one.name for one in wishes), *(one.mirrored for one in wishes)}
    return frozenset(index for index, feed in enumerate(plan.feeds) if feed.wish in names)


def spoken_of(plan: Plan, program: Program, name: str | None) -> tuple[int, ...]:
    """The sent feeds of a wish, left-handers' among them; of every wish without a name."""
    sent = sent_feeds(plan)
    family = sent if name is None else sent & family_of(plan, program, name)
    return tuple(sorted(family))


def left_handers(plan: Plan, program: Program) -> frozenset[int]:
    """The feeds that are another's mirror image, sent to left-handers."""
    twins = {wish.mirrored for wish in program.feeds.values() if wish.mirrored is not None}
    return frozenset(index for index, feed in enumerate(plan.feeds) if feed.wish in twins)


def wishes(program: Program) -> Iterator[str]:
    """The feeds that are not only another's mirror image."""
    mirrored = {wish.mirrored for wish in program.feeds.values()}
    return (name for name in program.feeds if name not in mirrored)


def never_sent(name: str | None) -> Outcome:
    """What becomes of an expectation about feeds that no run sends."""
    return untested("the lesson sends no feed" if name is None else f"{name} is never sent")
