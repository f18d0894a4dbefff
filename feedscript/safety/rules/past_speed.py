"""No feed is faster or slower than its launcher can send."""

from feedscript.diagnostics import Page
from feedscript.safety.analysis.profile_range import ProfileRange
from feedscript.safety.examples import example, fed

PAGE = Page(
    slug="past-speed",
    title="Past the launcher's speed",
    why=(
        "A launcher's profile states the slowest and the fastest ball it can send. A feed outside "
        "that range would leave at another speed than the one it was aimed with, and land "
        "elsewhere. The limits are the profile's own; never waived."
    ),
    wrong=example(
        fed(land="1 m inside baseline, on centre line", speed="122 km/h", spin="top 1800 rpm"),
        group="2 players  level county",
    ),
    corrected=example(
        fed(land="1 m inside baseline, on centre line", speed="116 km/h", spin="top 1800 rpm"),
        group="2 players  level county",
    ),
)

RULE = ProfileRange(
    page=PAGE,
    value=lambda feed: feed.speed_mps,
    range=lambda limits: limits.speed_mps,
    verb="leaves at",
    unit="m/s",
    part="speed",
    fix="give the feed a speed that the launcher has",
    written=("km/h", 3.6),
).rule()
