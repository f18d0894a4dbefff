"""The set-up list: what a person does and looks at before arming, for this plan and no other."""

from __future__ import annotations

from feedscript.launcher.profile.model import Profile
from feedscript.plan.certificate import SetUpItem
from feedscript.plan.model import Plan
from feedscript.safety.rules.hot_day import LIMIT as HOT_DAY
from feedscript.safety.rules.short_of_balls import needed


def set_up(plan: Plan, profiles: tuple[Profile, ...]) -> tuple[SetUpItem, ...]:
    """Every item that applies, in the order it is done."""
    items = [
        *_court(plan),
        *_launchers(plan, profiles),
        *_people(plan),
        SetUpItem(
            key="look-over",
            words="Power off: guards on, wheels free and whole, feet locked, cable out of the way.",
        ),
        SetUpItem(
            key="emergency-stop",
            words="Try the emergency stop once, then know where it is and who stands at it.",
        ),
        SetUpItem(
            key="nobody-in-front",
            words="Nobody in front of the launcher until the shown balls were seen from the side.",
        ),
    ]
    return tuple(items)


def _court(plan: Plan) -> list[SetUpItem]:
    court = plan.court
    items = [
        SetUpItem(
            key="net",
            words=f"The net stands at its height for the {court.kind} court; no balls lie about.",
        )
    ]
    if court.roof_m is not None:
        words = f"Nothing hangs lower than {court.roof_m:g} m over the court."
        items.append(SetUpItem(key="roof", words=words))
    if court.fence_height_m is not None:
        words = f"The fence behind the far baseline is whole and {court.fence_height_m:g} m high."
        items.append(SetUpItem(key="fence", words=words))
    if court.neighbours:
        sides = " and ".join(court.neighbours)
        words = f"The people on the next court ({sides} side) know that a launcher runs."
        items.append(SetUpItem(key="neighbours", words=words))
    if court.air_c >= HOT_DAY.default:
        words = f"{court.air_c:g} C: water and shade are at hand; heat was measured, not guessed."
        items.append(SetUpItem(key="heat", words=words))
    return items


def _launchers(plan: Plan, profiles: tuple[Profile, ...]) -> list[SetUpItem]:
    items = []
    for number, (launcher, profile) in enumerate(zip(plan.launchers, profiles, strict=True)):
        which = f"Launcher {launcher.name}" if launcher.name else "The launcher"
        x, y, z = launcher.mouth_m
        side = "on the middle line" if abs(x) < 0.005 else f"{abs(x):.2f} m to the {_side(x)}"
        turned = f", turned {launcher.heading_deg:g} degrees" if launcher.heading_deg else ""
        place = (
            f"{which} is the one of the profile {profile.name!r} and stands {-y:.2f} m from the "
            f"net, {side}{turned}, its mouth {z:.2f} m high: measured."
        )
        load, balls = balls_to_load(plan, number)
        least = f" (the plan needs up to {balls})" if load != balls else ""
        full = (
            f"{load} balls are in{least}: all {plan.balls.kind}, dry, none split, none of another "
            "kind."
        )
        items.append(SetUpItem(key=f"place-{number}", words=place))
        items.append(SetUpItem(key=f"balls-{number}", words=full))
    if len(profiles) > 1:
        words = "Every launcher has a person who can reach its stop."
        items.append(SetUpItem(key="stops", words=words))
    return items


def balls_to_load(plan: Plan, launcher: int) -> tuple[int, int]:
    """How many balls are put in, and how many the plan needs at most between two collects."""
    balls = needed(plan, launcher)
    load = plan.launchers[launcher].load
    return (balls if load is None else load), balls


def _side(x_m: float) -> str:
    """Seen as the launcher looks at the receiver."""
    return "right" if x_m > 0 else "left"


def _people(plan: Plan) -> list[SetUpItem]:
    items = [
        SetUpItem(key=f"keep-out-{number}", words=f"{area.name}: stays in its area, all lesson.")
        for number, area in enumerate(plan.keep_outs)
    ]
    if len(plan.group.players) > 1:
        words = (
            "Those who wait stand together, out of every ball's way, where the coach can see them."
        )
        items.append(SetUpItem(key="waiting", words=words))
    return items
