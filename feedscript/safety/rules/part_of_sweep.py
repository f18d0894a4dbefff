"""A feed of a launcher that swings by itself is proven in every direction of its swing."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from feedscript.diagnostics import Page
from feedscript.launcher.kinematics import throw_of
from feedscript.launcher.sweep import APART_DEG
from feedscript.plan.model import AimedFeed
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule, nothing

PAGE = Page(
    slug="part-of-sweep",
    title="A sweep that is proven in part",
    why=(
        "A launcher that swings by itself may point anywhere in its band when a ball leaves. Each "
        "of its settings stands in the plan with directions over the whole band, from end to end, "
        "and at most 0.5 degrees apart; what lies between two of them is added to the scatter of "
        "both. Every other rule is held against each direction. Never waived."
    ),
)

#: What figures lose that are written in a plan.
_WRITTEN_DEG = 1e-3


def _find(facts: PlanFacts) -> Finding:
    swinging: dict[tuple[int, object], list[int]] = {}
    for index, feed in enumerate(facts.plan.feeds):
        if facts.profile(feed).sweep is not None:
            what = (feed.wish, feed.setting, feed.receiver_m)
            swinging.setdefault((feed.launcher, what), []).append(index)
    measurements = [_of_one(facts, together) for together in swinging.values()]
    if not measurements:
        return nothing("no launcher swings by itself")
    return finding(measurements, "the plan has no feeds")


def _of_one(facts: PlanFacts, together: Sequence[int]) -> Measurement:
    """The widest gap that the directions of one setting leave in the band."""
    feeds = [facts.plan.feeds[index] for index in together]
    gap_deg = _widest_gap(facts, feeds)
    words = f"the directions of {feeds[0].wish or feeds[0].name} are {gap_deg:.2f} degrees apart"
    return Measurement(
        value=gap_deg,
        limit=APART_DEG,
        margin=APART_DEG + _WRITTEN_DEG - gap_deg,
        unit="degrees",
        words=words,
        message=f"{words}, and the launcher swings through all of its band",
        help="make the plan again from its program",
        feed=together[0],
        part="sweep",
    )


def _widest_gap(facts: PlanFacts, feeds: Sequence[AimedFeed]) -> float:
    """Between two neighbours; twice what is missing at an end of the band."""
    profile = facts.profile(feeds[0])
    assert profile.sweep is not None
    band = profile.sweep.band_deg
    ahead = throw_of(
        profile, feeds[0].setting, facts.plan.launchers[feeds[0].launcher].heading_deg
    ).azimuth_deg
    turns = sorted(feed.azimuth_deg - ahead for feed in feeds)
    ends = 2 * max(turns[0] - band.least, band.most - turns[-1])
    return max([ends, *(after - before for before, after in pairwise(turns))])


RULE = Rule(
    page=PAGE,
    assumption="the launcher swings no further than its profile says",
    source="the launcher's profile; directions at most 0.5 degrees apart: design value",
    find=_find,
)
