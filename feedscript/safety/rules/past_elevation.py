"""No feed points higher or lower than its launcher can."""

from feedscript.diagnostics import Page
from feedscript.safety.analysis.profile_range import ProfileRange

PAGE = Page(
    slug="past-elevation",
    title="Past the launcher's elevation",
    why=(
        "A launcher's profile states how far up and down it can point. Past its stop it points "
        "where the stop is, and the ball goes there. A program is aimed within them, "
        "so that only a plan from elsewhere, or for another profile, is past them. The limits are "
        "the profile's own; never waived."
    ),
)

RULE = ProfileRange(
    page=PAGE,
    value=lambda feed: feed.elevation_deg,
    range=lambda limits: limits.elevation_deg,
    verb="is thrown at an elevation of",
    unit="degrees",
    part="speed",
    fix="choose a speed or an arc that needs an elevation in the launcher's range",
).rule()
