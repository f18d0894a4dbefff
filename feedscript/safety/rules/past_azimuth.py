"""No feed points further to a side than its launcher can."""

from feedscript.diagnostics import Page
from feedscript.safety.analysis.profile_range import ProfileRange
from feedscript.safety.examples import example, fed

PAGE = Page(
    slug="past-azimuth",
    title="Past the launcher's azimuth",
    why=(
        "A launcher's profile states how far it can turn to each side from where it is placed. "
        "Past its stop it points where the stop is, and the ball goes there. The limits are the "
        "profile's own; never waived."
    ),
    wrong=example(
        fed(land="3 m inside baseline, 1 m inside ad sideline"),
        launcher='profile "garage.toml"  stands 1 m behind centre mark  turned deuce 20 degrees',
    ),
    corrected=example(
        fed(land="3 m inside baseline, 1 m inside ad sideline"),
        launcher='profile "garage.toml"  stands 1 m behind centre mark  turned deuce 5 degrees',
    ),
)

RULE = ProfileRange(
    page=PAGE,
    value=lambda feed: feed.setting.pan_deg,
    range=lambda limits: limits.azimuth_deg,
    verb="turns the launcher by",
    unit="degrees",
    part="land",
    fix="land the feed nearer the middle, or place or turn the launcher towards it, within",
).rule()
