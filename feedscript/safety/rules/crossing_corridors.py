"""Balls of different launchers that fly at the same time do not cross each other's way."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import msgspec
import numpy as np

from feedscript.diagnostics import Page
from feedscript.plan.folds.across import Across, down_s
from feedscript.safety.analysis.limit import Limit, Stricter
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule
from feedscript.safety.examples import fed, two_stations
from feedscript.safety.hazards.gaps import NEAR_M, apart_m, surely_apart_m
from feedscript.units import apart

PAGE = Page(
    slug="crossing-corridors",
    title="The corridors of two launchers' balls cross",
    why=(
        "Two balls that meet go where neither was aimed, and players who run for one ball run "
        "into the way of the other. Seen from above, the corridors of stations that run side by "
        "side, scatter included, stay 0.5 m apart (design value) up to their second bounce, "
        "whatever the moment and the height. The same holds of any two balls of different "
        "launchers that leave so soon after one another that the first may still fly: just before "
        "stations begin, and just after they have ended. Never waived."
    ),
    wrong=two_stations(
        fed("left", land="at -0.1 m, 9 m", speed="76 km/h", also="receiver at -2.5 m, 13 m"),
        fed("right", land="at 0.1 m, 9 m", speed="76 km/h", also="receiver at 2.5 m, 13 m"),
    ),
    corrected=two_stations(
        fed("left", land="at -2.5 m, 9 m", speed="76 km/h", also="receiver at -2.5 m, 13 m"),
        fed("right", land="at 2.5 m, 9 m", speed="76 km/h", also="receiver at 2.5 m, 13 m"),
    ),
)

LIMIT = Limit(default=0.5, unit="m", stricter=Stricter.HIGHER)


class Meeting(msgspec.Struct, frozen=True):
    """Two feeds whose balls fly at the same time; ``follows`` says how, unless side by side."""

    first: int
    second: int
    follows: Across | None

    @property
    def place(self) -> tuple[int, int | None]:
        """Where it is reported: with the second feed, at the step that sends it then."""
        return self.second, None if self.follows is None else self.follows.line


def meetings(facts: PlanFacts) -> list[Meeting]:
    """Every two feeds of different launchers that may fly at the same time."""
    return meetings_of(facts.at_once)


def meetings_of(at_once: Mapping[tuple[int, int], Across | None]) -> list[Meeting]:
    """Each of these pairs, and how one of the two follows the other."""
    return [
        Meeting(*pair, None) if follows is None else Meeting(follows.before, follows.after, follows)
        for pair, follows in sorted(at_once.items(), key=lambda item: item[0])
    ]


def nearest(
    facts: PlanFacts, limit: float, every: Sequence[Meeting]
) -> list[tuple[Meeting, float]]:
    """The nearest of these meetings at each place, with how far apart its corridors stay.

    Measured as closely as it matters: for the nearest of all, and where it is nearer than the
    limit.
    """
    pairs = [(facts.envelopes[one.first], facts.envelopes[one.second]) for one in every]
    surely = surely_apart_m(pairs)
    enough_m, found = NEAR_M, dict[tuple[int, int | None], tuple[Meeting, float]]()
    for number in np.argsort(surely, kind="stable").tolist():
        meeting, gap = every[number], float(surely[number])
        known = found.get(meeting.place, (meeting, math.inf))
        (one, other), enough_here_m = pairs[number], min(enough_m, known[1])
        if not gap > enough_here_m:
            gap = apart_m(one, other, enough_here_m, facts.memo)
        # Written so that what is not a number counts as nearest.
        if meeting.place not in found or not gap >= known[1]:
            found[meeting.place] = meeting, gap
        enough_m = min(enough_m, max(limit, gap))
    return sorted(found.values(), key=lambda each: (each[0].first, each[0].second))


def _measurement(facts: PlanFacts, limit: float, meeting: Meeting, gap: float) -> Measurement:
    feeds, follows = facts.plan.feeds, meeting.follows
    names = f"{feeds[meeting.first].name} and {feeds[meeting.second].name}"
    within, kept = apart(gap, limit, 2)
    how = f"cross by {-gap:.2f} m" if gap < 0 else f"come within {within} m of each other"
    when = ""
    help_text = "land each station's feeds on its own side, or let the stations take turns"
    if follows is not None:
        first = feeds[meeting.first]
        down = down_s(first)
        when = f", and the second leaves {follows.least_gap_s:.1f} s after the first"
        help_text = (
            f"put `rest {math.ceil(down - follows.least_gap_s)} s` between them, or land them "
            f"apart: {first.name} may fly and bounce for {down:.1f} s"
        )
    return Measurement(
        value=gap,
        limit=limit,
        margin=gap - limit,
        unit="m",
        words=f"{names} {how}",
        message=f"the corridors of {names} {how}{when}; {kept} m is kept",
        help=help_text,
        feed=meeting.second,
        after_feed=meeting.first,
        line=None if follows is None else follows.line,
        part="land" if follows is None else "step",
    )


def measured(facts: PlanFacts, every: Sequence[Meeting]) -> list[Measurement]:
    """The nearest of these meetings at each place."""
    limit = facts.limit(PAGE.slug, LIMIT)
    return [_measurement(facts, limit, *one) for one in nearest(facts, limit, every)]


def _find(facts: PlanFacts) -> Finding:
    found = measured(facts, meetings(facts))
    return finding(found, "no two launchers' balls fly at the same time")


RULE = Rule(
    page=PAGE,
    assumption=(
        "after its second bounce a ball rolls and is not followed; on its second flight it "
        "rises no higher than on its first"
    ),
    source="common practice, no source; margin 0.5 m: design value",
    find=_find,
    limit=LIMIT,
)
