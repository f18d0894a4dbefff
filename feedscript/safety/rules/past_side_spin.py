"""No feed has more side spin than its launcher can give."""

from feedscript.diagnostics import Page
from feedscript.safety.analysis.profile_range import ProfileRange
from feedscript.safety.examples import example, fed

ROLLING = 'profile "turning-head.toml"  stands 1 m behind centre mark'

PAGE = Page(
    slug="past-side-spin",
    title="Past the launcher's side spin",
    why=(
        "A launcher's profile states how much side spin it can give to each side. Asked for more "
        "it gives less, and the ball curves less than it was aimed to. The limits are the "
        "profile's own; never waived."
    ),
    wrong=example(fed(speed="90 km/h", spin="top 300 rpm, side ad 3200 rpm"), launcher=ROLLING),
    corrected=example(fed(speed="90 km/h", spin="top 300 rpm, side ad 900 rpm"), launcher=ROLLING),
)

RULE = ProfileRange(
    page=PAGE,
    value=lambda feed: feed.side_rpm,
    range=lambda limits: limits.side_rpm,
    verb="has a side spin of",
    unit="rpm",
    part="spin",
    fix="give the feed a side spin that the launcher has (towards the ad side positive)",
    digits=0,
).rule()
