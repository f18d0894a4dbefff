"""No setting asks more of a launcher's powered parts than they can do."""

from __future__ import annotations

from feedscript.diagnostics import Page
from feedscript.launcher.kinematics import drive_names, drive_range, drive_unit
from feedscript.launcher.profile.drives import Air, Arm, Drive, Range, Spring, Valve
from feedscript.launcher.steps import off_steps, steps_in_words
from feedscript.safety.analysis.measurement import Measurement, finding, within
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.safety.analysis.rule import Finding, Rule

PAGE = Page(
    slug="past-drive",
    title="Past what a wheel, arm or tank can do",
    why=(
        "Speed and spin together may ask more of one wheel than either asks alone. Every drive of "
        "every setting lies in the range that the profile states for it, and on one of its steps "
        "where it lists them. Never waived."
    ),
)


def allowed(drive: Drive) -> Range:
    """The range of each drive of this kind of launcher, in ``drive_unit``."""
    if isinstance(drive, Air):
        return drive.pressure_hpa
    if isinstance(drive, Arm):
        return drive.arm_rpm
    if isinstance(drive, Spring):
        return drive.draw_mm
    if isinstance(drive, Valve):
        return drive_range(drive)
    return drive.wheel_rpm


def _find(facts: PlanFacts) -> Finding:
    measurements = []
    for index, feed in enumerate(facts.plan.feeds):
        drive = facts.profile(feed).drive
        range_, unit = allowed(drive), drive_unit(drive)
        for name, value in zip(drive_names(drive), feed.setting.drives, strict=True):
            limit, margin = within(value, range_.least, range_.most)
            words = f"{feed.name} needs the {name} at {value:.0f} {unit}"
            span = f"{range_.least:g} to {range_.most:g} {unit}"
            if off_steps(drive, (value,)) is not None:
                limit = min(drive.steps, key=lambda step: abs(step - value))
                margin = min(margin, -abs(limit - value))
                span = f"{steps_in_words(drive.steps)} {unit} only"
            measurements.append(
                Measurement(
                    value=value,
                    limit=limit,
                    margin=margin,
                    unit=unit,
                    words=words,
                    message=f"{words}; it does {span}",
                    help="ask less spin, or a speed nearer the middle of the launcher's range",
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
