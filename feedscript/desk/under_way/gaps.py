"""How soon a feed may come after the ball before, for each step that sends it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import msgspec

from feedscript.desk.open_text import OpenText, Words
from feedscript.editor.document import Document
from feedscript.editor.figures import sends_of
from feedscript.launcher.profile.model import Profile
from feedscript.memo import Memo
from feedscript.plan.bodies import within
from feedscript.plan.model import Plan, Send
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.tries import with_gap
from feedscript.safety.so_soon import SoSoon, so_soon

#: Ends of a slider, and its finest step. Design values.
GAPS_S = (0.5, 15.0)
STEP_S = 0.1
#: So often a look tells where to look next.
_GUESSED = 4
#: So many steps get a slider; each costs a look through the lesson.
MOST_STEPS = 6


class GapReach(msgspec.Struct, frozen=True, kw_only=True):
    """The slider of one step: ``least_s`` is the soonest that may be, ``why`` what stands against
    sooner."""

    part: int
    line: int
    value: float
    written: str
    least_s: float
    why: str
    words: Words
    ends: tuple[float, float] = GAPS_S
    step: float = STEP_S


def gaps_of(document: Document, text: OpenText, plan: Plan, name: str) -> Iterator[GapReach]:
    """Each step of this text that sends the feed and says when."""
    feeds = frozenset(index for index, feed in enumerate(plan.feeds) if feed.wish == name)
    profiles = document.verdict.profiles
    for part, sent in enumerate(sends_of(document, name)[:MOST_STEPS]):
        line = document.scope.span(sent.step).line
        value = _gap_s(plan, feeds, line)
        if sent.gap is None or value is None:
            continue  # its pattern is not called, or a time is not said
        least_s, why = soonest_s(plan, profiles, feeds, line, value, document.memo)
        yield GapReach(
            part=part,
            line=line,
            value=value,
            written=" ".join(document.text[sent.gap.start : sent.gap.end].split()),
            least_s=least_s,
            why=why,
            words=Words(text.units(sent.step.start), text.units(sent.step.end)),
        )


def _gap_s(plan: Plan, feeds: frozenset[int], line: int) -> float | None:
    """The time that a line gives these feeds; the least where calls of a pattern differ."""
    found = [
        sum(step.after_s) / 2
        for step in within(plan.steps)
        if isinstance(step, Send) and step.line == line and feeds.intersection(step.all_feeds())
    ]
    return round(min(found), 3) if found else None


def soonest_s(
    plan: Plan,
    profiles: Sequence[Profile],
    feeds: frozenset[int],
    line: int,
    now_s: float,
    memo: Memo | None = None,
) -> tuple[float, str]:
    """The least gap, to a tenth of a second, at which these feeds may come on this line, and what
    stands against less. ``now_s`` is looked at first; ``memo`` is of earlier checks.

    A gap that is looked at says how much of it may be spared, and that is looked at next; where
    other times count beside it, so that this leads nowhere, the rest is halved.
    """
    memo = Memo() if memo is None else memo

    def look(steps: int) -> SoSoon:
        changed = with_gap(plan, feeds, line, steps * STEP_S)
        return so_soon(PlanFacts(changed, tuple(profiles), memo), feeds, line)

    bad, good = round(GAPS_S[0] / STEP_S) - 1, round(GAPS_S[1] / STEP_S) + 1
    at, why, looks = round(now_s / STEP_S), "", 0
    while good - bad > 1:
        at = min(max(at, bad + 1), good - 1)
        seen, looks = look(at), looks + 1
        if seen.against:
            bad, why = at, seen.against
        else:
            good = at
        at = _spared(at, seen) if looks < _GUESSED else (bad + good) // 2
    return min(round(good * STEP_S, 1), GAPS_S[1]), why


def _spared(steps: int, seen: SoSoon) -> int:
    """The least steps that are left when all is spared that may be."""
    if not math.isfinite(seen.spare_s):
        return 0
    return math.ceil(steps - seen.spare_s / STEP_S - 1e-6)
