"""What a group's ages say where its figures are by stage: as young as its youngest."""

from __future__ import annotations

from collections.abc import Mapping

from feedscript.plan.scene import Group

#: The stage whose figures suit an age, oldest of it first. Design value, after the ages that the
#: stages of the red, orange and green balls were made for (8, 9 and 10 and under; from memory).
_UP_TO = ((8, "red"), (9, "orange"), (10, "green"))


def stage_by_age(group: Group) -> str | None:
    """The stage that the youngest of the group is of age for; None for older ones."""
    if group.ages is None:
        return None
    youngest = group.ages[0]
    return next((stage for oldest, stage in _UP_TO if youngest <= oldest), None)


def by_stage(group: Group, figures: Mapping[str, float], others: float) -> float:
    """The lower of the figures for the stage that is said and for the one that the ages are of.

    Where neither speaks, or has no figure here, ``others``.
    """
    stages = (group.stage, stage_by_age(group))
    return min((figures[one] for one in stages if one and one in figures), default=others)
