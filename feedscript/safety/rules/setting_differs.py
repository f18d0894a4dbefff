"""Every setting is the one that gives its feed."""

from __future__ import annotations

from functools import partial

from feedscript.diagnostics import Page
from feedscript.launcher.kinematics import throw_of
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.throw import Throw
from feedscript.plan.model import AimedFeed
from feedscript.safety.analysis.measurement import Measurement, finding
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule

PAGE = Page(
    slug="setting-differs",
    title="The setting does not give the feed",
    why=(
        "What is proven is proven of a feed; what is done is a setting. For every feed the profile "
        "turns the setting back into speed, spin and direction, and they agree with the feed's to "
        "within what the launcher's grid of whole revolutions and hundredths of a degree makes "
        "(0.05 m/s, 0.02 degrees, 25 rpm). Of a launcher that swings by itself the azimuth may be "
        "any in its band. A setting that was changed by hand is refused. Never waived."
    ),
)

SPEED_MPS = 0.05
ANGLE_DEG = 0.02
SPIN_RPM = 25.0


def _measurement(facts: PlanFacts, index: int) -> Measurement:
    feed = facts.plan.feeds[index]
    heading = facts.plan.launchers[feed.launcher].heading_deg
    throw = throw_of(facts.profile(feed), feed.setting, heading)
    differences = {
        "speed": (throw.speed_mps - feed.speed_mps) / SPEED_MPS,
        "elevation": (throw.elevation_deg - feed.elevation_deg) / ANGLE_DEG,
        "azimuth": _turned_deg(facts.profile(feed), throw, feed) / ANGLE_DEG,
        "top spin": (throw.top_rpm - feed.top_rpm) / SPIN_RPM,
        "side spin": (throw.side_rpm - feed.side_rpm) / SPIN_RPM,
    }
    what = max(differences, key=lambda name: abs(differences[name]))
    share = abs(differences[what])
    return Measurement(
        value=share,
        limit=1.0,
        margin=1.0 - share,
        unit="of the tolerance",
        words=f"the setting of {feed.name} is off most in {what}",
        message=f"the setting of {feed.name} gives another {what} than the feed has",
        help="make the plan again from its program",
        feed=index,
        part="",
    )


def _turned_deg(profile: Profile, throw: Throw, feed: AimedFeed) -> float:
    """How far the feed's azimuth is from the setting's; from the band of a launcher that swings."""
    turn_deg = feed.azimuth_deg - throw.azimuth_deg
    if profile.sweep is None:
        return turn_deg
    return turn_deg - profile.sweep.band_deg.nearest(turn_deg)


def _find(facts: PlanFacts) -> Finding:
    measurements = facts.of_feeds(PAGE.slug, partial(_measurement, facts))
    return finding(measurements, "the plan has no feeds")


RULE = Rule(
    page=PAGE,
    assumption="the profile's kinematics are true of the launcher on court",
    source="tolerances: the grid of the wire; design value",
    find=_find,
)
