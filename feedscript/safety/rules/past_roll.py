"""No setting rolls a head further than it can."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.launcher.profile.drives import Range, TwoWheels
from feedscript.safety.analysis.measurement import Measurement, finding, within
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule

PAGE = Page(
    slug="past-roll",
    title="Past the roll of the head",
    why=(
        "A head that rolls turns the axis of the spin. Past its stop the spin has another axis "
        "than the one it was aimed with. A head that does not roll has a range of zero. Never "
        "waived."
    ),
)


def _find(facts: PlanFacts) -> Finding:
    measurements = []
    for index, feed in enumerate(facts.plan.feeds):
        drive = facts.profile(feed).drive
        range_ = drive.roll_deg if isinstance(drive, TwoWheels) else Range(0.0, 0.0)
        roll = feed.setting.roll_deg
        limit, margin = within(roll, range_.least, range_.most)
        words = f"{feed.name} rolls the head to {roll:.1f} degrees"
        measurements.append(
            Measurement(
                value=roll,
                limit=limit,
                margin=margin,
                unit="degrees",
                words=words,
                message=f"{words}; it rolls {range_.least:g} to {range_.most:g} degrees",
                help="ask a spin whose axis the head can take",
                feed=index,
                part="spin",
            )
        )
    return finding(measurements, "the plan has no feeds")


RULE = Rule(
    page=PAGE,
    assumption="the profile's limits are true of the launcher on court",
    source="the launcher's profile",
    find=_find,
)
