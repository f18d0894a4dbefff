"""The set-up list: what a person does and looks at before arming, for this plan and no other."""

from __future__ import annotations

from collections.abc import Sequence

from feedscript.club_library import CLUB
from feedscript.launcher.guarantees import WITHOUT, in_order
from feedscript.launcher.profile.model import Profile
from feedscript.plan.certificate import SetUpItem
from feedscript.plan.model import Plan
from feedscript.plan.scene import PlacedLauncher
from feedscript.safety.rules.hot_day import LIMIT as HOT_DAY
from feedscript.safety.rules.short_of_balls import needed
from feedscript.tongues import terms
from feedscript.tongues.text import _, joined, listed, n_

#: The key of the step at which a launcher's place is looked at begins so; its number follows.
PLACE = "place-"


def set_up(
    plan: Plan, profiles: tuple[Profile, ...], needs: Sequence[int] | None = None
) -> tuple[SetUpItem, ...]:
    """Every item that applies, in the order it is done. ``needs``: the most balls that each
    launcher sends between two collects, where that is known already."""
    if needs is None:
        needs = [needed(plan, number) for number in range(len(plan.launchers))]
    items = [
        *_court(plan),
        *_launchers(plan, profiles, needs),
        *_people(plan),
        SetUpItem(
            key="look-over",
            words=_(
                "Power off: guards on, wheels free and whole, feet locked, cable out of the way."
            ),
        ),
        SetUpItem(
            key="emergency-stop",
            words=_("Try the emergency stop once, then know where it is and who stands at it."),
        ),
        SetUpItem(
            key="nobody-in-front",
            words=_(
                "Nobody in front of the launcher until the shown balls were seen from the side."
            ),
        ),
    ]
    return tuple(items)


def _court(plan: Plan) -> list[SetUpItem]:
    court = plan.court
    items = [
        SetUpItem(
            key="net",
            words=_(
                "The net stands at its height for the {kind} court; no balls lie about.",
                kind=terms.court(court.kind),
            ),
        )
    ]
    if court.roof_m is not None:
        words = _("Nothing hangs lower than {height:g} m over the court.", height=court.roof_m)
        items.append(SetUpItem(key="roof", words=words))
    if court.fence_height_m is not None:
        words = _(
            "The fence behind the far baseline is whole and {height:g} m high.",
            height=court.fence_height_m,
        )
        items.append(SetUpItem(key="fence", words=words))
    if court.neighbours:
        words = _(
            "The people on the next court ({sides} side) know that a launcher runs.",
            sides=listed(terms.side(side) for side in court.neighbours),
        )
        items.append(SetUpItem(key="neighbours", words=words))
    if court.air_c >= HOT_DAY.default:
        words = _(
            "{heat:g} C: water and shade are at hand; heat was measured, not guessed.",
            heat=court.air_c,
        )
        items.append(SetUpItem(key="heat", words=words))
    if any(court.wind_mps):
        items.append(SetUpItem(key="wind", words=_blowing(court.wind_mps)))
    return items


def _blowing(wind_mps: tuple[float, float]) -> str:
    """Every ball is aimed into this wind; in another it comes down elsewhere."""
    across_mps, along_mps = wind_mps
    to = []
    if along_mps:
        words = (
            _("{speed:g} m/s from the launcher to the receiver", speed=along_mps)
            if along_mps > 0
            else _("{speed:g} m/s from the receiver to the launcher", speed=-along_mps)
        )
        to.append(words)
    if across_mps:
        words = (
            _("{speed:g} m/s to the launcher's right", speed=across_mps)
            if across_mps > 0
            else _("{speed:g} m/s to the launcher's left", speed=-across_mps)
        )
        to.append(words)
    return _(
        "The wind was measured and blows as the program says, {ways}; hold when it drops or turns.",
        ways=listed(to),
    )


def _launchers(plan: Plan, profiles: tuple[Profile, ...], needs: Sequence[int]) -> list[SetUpItem]:
    items = []
    for number, (launcher, profile) in enumerate(zip(plan.launchers, profiles, strict=True)):
        place = _(
            "{launcher} is the one of the profile {profile!r} and stands {away:.2f} m from the "
            "net, {where}, its mouth {high:.2f} m high: measured.",
            launcher=_("Launcher {name}", name=launcher.name)
            if launcher.name
            else _("The launcher"),
            profile=profile.name,
            away=-launcher.mouth_m[1],
            where=_where(launcher),
            high=launcher.mouth_m[2],
        )
        full = joined(" ", [_loaded(launcher.load, needs[number]), _which_balls(plan.balls.kind)])
        items.append(SetUpItem(key=f"{PLACE}{number}", words=place))
        items.append(SetUpItem(key=f"balls-{number}", words=full))
        if launcher.sweep_deg is not None:
            items.append(SetUpItem(key=f"sweep-{number}", words=_swinging(launcher)))
        items += _of_the_club(plan, number)
        if profile.guard.lacks:
            items.append(SetUpItem(key=f"lacks-{number}", words=_lacking(launcher, profile)))
    if len(profiles) > 1:
        words = _("Every launcher has a person who can reach its stop.")
        items.append(SetUpItem(key="stops", words=words))
    return items


def _swinging(launcher: PlacedLauncher) -> str:
    """A ball may come anywhere in the band, and people are told so."""
    assert launcher.sweep_deg is not None
    least_deg, most_deg = launcher.sweep_deg
    return _(
        "{launcher} swings by itself, from {least:g} to {most:g} degrees of where it faces: any "
        "ball may come anywhere in between. Nobody is there but those who play, and they know it.",
        launcher=_("Launcher {name}", name=launcher.name) if launcher.name else _("The launcher"),
        least=least_deg,
        most=most_deg,
    )


def _of_the_club(plan: Plan, number: int) -> list[SetUpItem]:
    """Which of the club's texts the launcher's profile is."""
    name = plan.launchers[number].profile_name
    versions = [pin.sha256[:8] for pin in plan.from_club if CLUB + pin.name == name]
    return [
        SetUpItem(
            key=f"profile-{number}",
            words=_(
                "The profile is {name}, version {version}, approved by the club: the right one "
                "for this launcher.",
                name=name,
                version=version,
            ),
        )
        for version in versions
    ]


def _lacking(launcher: PlacedLauncher, profile: Profile) -> str:
    """What the launcher does not promise, and what people do in its place."""
    head = _(
        "{launcher} promises less than others:",
        launcher=_("Launcher {name}", name=launcher.name) if launcher.name else _("The launcher"),
    )
    return joined(" ", [head, *(WITHOUT[name] for name in in_order(profile.guard.lacks))])


def _where(launcher: PlacedLauncher) -> str:
    """To which side it stands, and how it is turned."""
    x_m = launcher.mouth_m[0]
    if abs(x_m) < 0.005:
        side = _("on the middle line")
    elif x_m > 0:
        side = _("{away:.2f} m to the right", away=x_m)
    else:
        side = _("{away:.2f} m to the left", away=-x_m)
    if not launcher.heading_deg:
        return side
    return _("{side}, turned {angle:g} degrees", side=side, angle=launcher.heading_deg)


def _loaded(load: int | None, balls: int) -> str:
    if load is None or load == balls:
        return n_("{n} ball is in:", "{n} balls are in:", balls)
    return n_(
        "{n} ball is in (the plan needs up to {balls}):",
        "{n} balls are in (the plan needs up to {balls}):",
        load,
        balls=balls,
    )


def _which_balls(kind: str) -> str:
    return _("all {kind}, dry, none split, none of another kind.", kind=terms.balls(kind))


def balls_to_load(plan: Plan, launcher: int) -> tuple[int, int]:
    """How many balls are put in, and how many the plan needs at most between two collects."""
    balls = needed(plan, launcher)
    load = plan.launchers[launcher].load
    return (balls if load is None else load), balls


def _people(plan: Plan) -> list[SetUpItem]:
    items = [
        SetUpItem(
            key=f"keep-out-{number}",
            words=_("{who}: stays in its area, all lesson.", who=area.name),
        )
        for number, area in enumerate(plan.keep_outs)
    ]
    if len(plan.group.players) > 1:
        words = _(
            "Those who wait stand together, out of every ball's way, where the coach can see them."
        )
        items.append(SetUpItem(key="waiting", words=words))
    return items
