"""The engine's own fence: what it refuses, whatever the checker said before.

A plan whose certificate does not verify, a launcher with another profile, and any setting that is
not one of the certified feeds'. The same questions decide how far a person may go from the plan
while it runs: another pace, another group.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Protocol

import msgspec

from feedscript import club_library
from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher.guarantees import in_order
from feedscript.launcher.port import Description
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.plan.folds.across import across, down_s
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.model import Plan, Step
from feedscript.safety import certificate, changed_group
from feedscript.safety.certificate import OTHER_PROFILE
from feedscript.safety.certify import certify
from feedscript.safety.changed_group import Changed
from feedscript.safety.hazards.stations import side_by_side

NOT_CERTIFIED = Page(
    slug="not-certified",
    title="A feed that the certificate does not cover",
    why=(
        "The engine sends only settings that stand in the certified plan. One that does not is a "
        "fault of the program, never of the coach; the lesson ends before it is sent."
    ),
)
LAUNCHERS_DIFFER = Page(
    slug="launchers-differ",
    title="The plan's launchers and the ones given do not match",
    why="Each launcher that a plan names needs an address, in the plan's order.",
)


WITHDRAWN = Page(
    slug="club-withdrawn",
    title="A text that the club has withdrawn",
    why=(
        "A plan names by its hash every text of the club's library that it was made from, programs "
        "and launchers' profiles. When the "
        "club withdraws one for a fault, no court begins a lesson with it, or takes one up again: "
        "whoever found the fault knows more than the rules do. What the club says is what the "
        "court has fetched last."
    ),
)


def withdrawn(plan: Plan) -> tuple[Diagnostic, ...]:
    """The texts of the club's library that the plan was made from and that may not be used now."""
    try:
        found = club_library.withdrawn_among(club_library.club_folder(), plan.from_club)
    except club_library.LibraryError as why:
        return (
            WITHDRAWN.report(
                f"whether the club has withdrawn what this lesson uses is not known: {why}",
                help="fetch the club's library again: feedscript club fetch",
            ),
        )
    return tuple(
        WITHDRAWN.report(
            f"the club has withdrawn club/{one.name}, by {one.author}: {one.withdrawn}",
            help="check the program again: it then uses what the club has approved since, if "
            "anything; or take the `use`, or the launcher's profile, out",
        )
        for one in found
    )


class Fences(Protocol):
    """What safety says of a plan, as the engine needs it."""

    def refusals(self, plan: Plan, profiles: Sequence[Profile]) -> tuple[Diagnostic, ...]:
        """Why this plan may not run; empty when it may."""
        ...

    def covers(self, plan: Plan, launcher: int, setting: Setting) -> bool:
        """Whether the certificate covers this setting of this launcher."""
        ...

    def would_pass(self, plan: Plan, profiles: Sequence[Profile]) -> tuple[Diagnostic, ...]:
        """Why a changed plan would not be certified; empty when it would."""
        ...

    def group_refusals(
        self, plan: Plan, profiles: Sequence[Profile], changed: Changed
    ) -> tuple[Diagnostic, ...]:
        """Why the group may not change so while this plan runs; empty when it may."""
        ...


class CertifiedFences:
    """The rules, asked again; nothing is remembered from the check."""

    def refusals(self, plan: Plan, profiles: Sequence[Profile]) -> tuple[Diagnostic, ...]:
        return (*certificate.verify(plan, tuple(profiles)), *withdrawn(plan))

    def covers(self, plan: Plan, launcher: int, setting: Setting) -> bool:
        return certificate.covers(plan, launcher, setting)

    def would_pass(self, plan: Plan, profiles: Sequence[Profile]) -> tuple[Diagnostic, ...]:
        return tuple(one for one in certify(plan, tuple(profiles)).diagnostics if one.is_error)

    def group_refusals(
        self, plan: Plan, profiles: Sequence[Profile], changed: Changed
    ) -> tuple[Diagnostic, ...]:
        if plan.certificate is None:  # at another pace: held to what it would say there
            said = certify(plan, tuple(profiles)).certificate
            plan = msgspec.structs.replace(plan, certificate=said)
        return changed_group.refusals(plan, tuple(profiles), changed)


SLOW_WATCHDOG = Page(
    slug="slow-watchdog",
    title="A launcher that stops later than its profile says",
    why=(
        "When the host falls silent a launcher stops by itself within its watchdog time, and the "
        "profile states it. One that says of itself that it takes longer is not the launcher the "
        "lesson was checked for."
    ),
)


def slow_watchdogs(said: Sequence[Description], profiles: Sequence[Profile]) -> list[Diagnostic]:
    """Launchers whose own stated watchdog time is longer than their profile's.

    One that states none was accepted by its driver, with a reason on record, or not at all.
    """
    return [
        SLOW_WATCHDOG.report(
            f"the launcher stops {told.watchdog_s:g} s after the host falls silent, its profile "
            f"says {profile.guard.watchdog_s:g} s",
            device=f"{told.name} ({told.serial})",
            help="put the launcher's own figure into the profile and check the program again",
        )
        for told, profile in zip(said, profiles, strict=False)
        if told.watchdog_s is not None and told.watchdog_s > profile.guard.watchdog_s
    ]


LACKS_MORE = Page(
    slug="lacks-more",
    title="A launcher that promises less than its profile says",
    why=(
        "A launcher that is reached by the project's own wire keeps certain guarantees: a person "
        "arms it at itself, it stops by itself when this computer falls silent, it says when a "
        "ball left. A device that is described by a mapping lacks some of them. Its profile says "
        "which (`lacks = [...]` under `[guard]`), so that they stand in the certificate and among "
        "what a person confirms before each lesson. A device that lacks more than its profile says "
        "is refused: nobody was told."
    ),
)


def lacking_more(said: Sequence[Description], profiles: Sequence[Profile]) -> list[Diagnostic]:
    """Launchers that keep less than their profile, and so the certificate, says."""
    return [
        LACKS_MORE.report(
            f"the launcher does not promise {', '.join(more)}, and its profile does not say so",
            device=f"{told.name} ({told.serial})",
            help=f"write `lacks = {json.dumps(in_order(told.lacks))}` under `[guard]` in its "
            "profile and check the program again; `feedscript mapped check` says what each means",
        )
        for told, profile in zip(said, profiles, strict=False)
        if (more := in_order(told.lacks - set(profile.guard.lacks)))
    ]


def wrong_launchers(plan: Plan, said: Sequence[Description]) -> list[Diagnostic]:
    """What the connected launchers say of themselves, held against the plan."""
    if len(said) != len(plan.launchers):
        return [
            LAUNCHERS_DIFFER.report(
                f"the plan has {len(plan.launchers)} launcher(s) and {len(said)} are connected",
                help="give --on once for each launcher, in the order of the program",
            )
        ]
    return [
        OTHER_PROFILE.report(
            f"{placed.name}: the launcher has profile {told.profile_hash[:12]}…, "
            f"the plan was made for {placed.profile_hash[:12]}…",
            device=f"{told.name} ({told.serial})",
            help="check the program with this launcher's profile, or set the launcher up with the "
            "plan's profile",
        )
        for placed, told in zip(plan.launchers, said, strict=True)
        if placed.profile_hash != told.profile_hash
    ]


def crossed(plan: Plan, before: Sequence[str], said: Sequence[Description]) -> list[Diagnostic]:
    """Launchers that stood elsewhere when the lesson began. ``before``: their serial numbers then.

    Alike in their profiles, nothing else tells them apart; another one that has come into the
    place of one of them was set up for it.
    """
    return [
        LAUNCHERS_DIFFER.report(
            f"the address of {placed.name or 'the launcher'} leads to {told.serial}, which was at "
            "another place when this lesson began",
            device=f"{told.name} ({told.serial})",
            help="give the addresses in the order of the program, as when the lesson began",
        )
        for placed, was, told in zip(plan.launchers, before, said, strict=False)
        if told.serial != was and told.serial in before
    ]


def ceiling(plan: Plan, launcher: int, drives: int) -> tuple[float, ...]:
    """The largest magnitude of each drive that the plan uses on this launcher."""
    settings = [feed.setting for feed in plan.feeds if feed.launcher == launcher]
    return tuple(
        max((abs(setting.drives[i]) for setting in settings), default=0.0) for i in range(drives)
    )


def at_pace(plan: Plan, pace: float) -> Plan:
    """The plan as it would be if every second of it took ``pace`` seconds; not certified."""
    plain = _scaled(msgspec.to_builtins(plan.steps), pace)
    steps = msgspec.convert(plain, type=tuple[Step, ...])
    paced = msgspec.structs.replace(plan, steps=steps, certificate=None)
    return msgspec.structs.replace(paced, bounds=bounds(paced))


_TIMES = ("after_s", "seconds", "every_s", "for_s")


def _scaled(value: object, pace: float, *, is_time: bool = False) -> object:
    if isinstance(value, dict):
        return {key: _scaled(item, pace, is_time=key in _TIMES) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_scaled(item, pace, is_time=is_time) for item in value]
    if is_time and isinstance(value, int | float):
        return round(value * pace, 3)
    return value


class Apart(msgspec.Struct, frozen=True):
    """What was judged of a plan's balls of different launchers. ``down_s``: each feed's time until
    it is down; ``gaps_s``: the least gap that the plan has, by the feed before and after."""

    side_by_side: frozenset[tuple[int, int]]
    gaps_s: Mapping[tuple[int, int], float]
    down_s: tuple[float, ...]

    def needs_s(self, before: int, after: int, pace: float) -> float:
        """How long after the first feed's ball the second's may leave; 0 where both were judged
        whatever the moment. A gap that the plan has at this pace was judged too."""
        if (min(before, after), max(before, after)) in self.side_by_side:
            return 0.0
        planned_s = self.gaps_s.get((before, after))
        down = self.down_s[before]
        return down if planned_s is None else min(down, planned_s * pace)


def apart_in(plan: Plan) -> Apart:
    """Worked out once for a lesson."""
    return Apart(
        side_by_side(plan),
        {(one.before, one.after): one.least_gap_s for one in across(plan)},
        tuple(down_s(feed) for feed in plan.feeds),
    )
