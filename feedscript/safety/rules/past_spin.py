"""No feed has more spin than its launcher can give."""

from feedscript.diagnostics import Page
from feedscript.launcher.throw import signed_spin_rpm
from feedscript.plan.model import AimedFeed
from feedscript.safety.analysis.profile_range import ProfileRange
from feedscript.safety.examples import example, fed

PAGE = Page(
    slug="past-spin",
    title="Past the launcher's spin",
    why=(
        "A launcher's profile states how much topspin and backspin it can give. Asked for more it "
        "gives less, and the ball flies further or shorter than it was aimed. The limits are the "
        "profile's own; never waived."
    ),
    wrong=example(fed(speed="100 km/h", spin="top 3300 rpm")),
    corrected=example(fed(speed="100 km/h", spin="top 2900 rpm")),
)


def signed_total_rpm(feed: AimedFeed) -> float:
    """The magnitude of the spin, negative where backspin prevails, as the profile counts it."""
    return signed_spin_rpm(feed.top_rpm, feed.side_rpm)


RULE = ProfileRange(
    page=PAGE,
    value=signed_total_rpm,
    range=lambda limits: limits.spin_rpm,
    verb="spins at",
    unit="rpm",
    part="spin",
    fix="give the feed a spin that the launcher has (topspin positive, backspin negative)",
    digits=0,
).rule()
