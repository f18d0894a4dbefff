"""No feed points higher or lower than its launcher can."""

from feedscript.diagnostics import Page
from feedscript.safety.examples import example, fed
from feedscript.safety.profile_range import ProfileRange

PAGE = Page(
    slug="past-elevation",
    title="Past the launcher's elevation",
    why=(
        "A launcher's profile states how far up and down it can point. Past its stop it points "
        "where the stop is, and the ball goes there. The limits are the profile's own; never "
        "waived."
    ),
    wrong=example(fed(speed="75 km/h", spin="flat", also="arc high")),
    mended=example(fed(speed="75 km/h", spin="flat", also="arc low")),
)

RULE = ProfileRange(
    page=PAGE,
    value=lambda feed: feed.elevation_deg,
    range=lambda limits: limits.elevation_deg,
    verb="is thrown at an elevation of",
    unit="degrees",
    part="speed",
    mend="choose a speed or an arc that needs an elevation in the launcher's range",
).rule()
