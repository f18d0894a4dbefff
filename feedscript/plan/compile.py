"""A program compiled: every feed aimed, every step lowered, every bound known.

What a launcher cannot do, what would come too soon or land outside is not judged here: a plan is
built all the same, so that the rules of ``feedscript.safety`` can name everything at once. Only
what leaves no plan to judge is reported: a place out of reach, a spin that its launcher cannot
give, a turn that cannot hold its body.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from feedscript.court.lines import COURTS
from feedscript.diagnostics import Diagnostic, Span
from feedscript.language.program import Program
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.sweep import directions_deg
from feedscript.memo import Memo
from feedscript.plan import scenery
from feedscript.plan.aiming.aimed import Aimed, aim_shots
from feedscript.plan.aiming.flying import (
    conditions_or_why,
    impossible_surface,
    pressure_apart,
    surface_for,
)
from feedscript.plan.aiming.shots import ShotTable, shot_table
from feedscript.plan.aiming.solved import Stand
from feedscript.plan.canonical import settled
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.folds.size import too_big, too_many_feeds
from feedscript.plan.lowering import Lowering
from feedscript.plan.model import Plan
from feedscript.plan.places import Places


class Compiled(msgspec.Struct, frozen=True):
    """The plan, without a certificate; None where not even a draft can be made.

    ``unsound`` are the feeds that a diagnostic of this floor is about: they are aimed as near as
    can be, for pictures of what is wrong, and no rule need speak of them again.
    """

    plan: Plan | None
    diagnostics: tuple[Diagnostic, ...]
    places: Places = msgspec.field(default_factory=Places)
    unsound: frozenset[int] = frozenset()


def compile_program(
    program: Program,
    profiles: Sequence[Profile],
    profile_names: Sequence[str],
    *,
    seed: int | None = None,
    memo: Memo | None = None,
) -> Compiled:
    """Compile for these profiles, one for each of the program's launchers in order.

    ``seed`` stands in for the program's own; ``memo`` is of earlier checks. Never raises for what a
    program may say.
    """
    scene = scenery.scene(program, profiles, profile_names, program.seed if seed is None else seed)
    left_handers = any(one.left_handed for one in scene.group.players)
    swings = [directions_deg(profile) for profile in profiles]
    table = shot_table(program, scene.seed, left_handers, swings)
    big = too_many_feeds(len(table.shots), program.span)
    if big is not None:
        return Compiled(None, (big,))
    stands = _stands(program, scene, profiles)
    if isinstance(stands, Diagnostic):
        return Compiled(None, (stands,))
    memo = Memo() if memo is None else memo
    aimed = _aim(table, stands, memo)
    diagnostics = _once(table, aimed)
    feeds = tuple(each.feed for each in aimed if each.feed is not None)
    places = _places(program, table)
    if len(feeds) < len(aimed):
        return Compiled(None, diagnostics, places)
    # Settled, as the feeds are: what is worked out from the scene is what is written of it.
    scene = msgspec.structs.replace(settled(scene), feeds=feeds)
    lowering = Lowering(program, scene, table, places)
    plan = msgspec.structs.replace(scene, steps=lowering.lesson())
    plan = msgspec.structs.replace(plan, bounds=bounds(plan), planned_s=program.planned_s)
    big = too_big(plan, _lesson_span(program), memo)
    if big is not None:
        return Compiled(None, (*diagnostics, *lowering.diagnostics, big), places)
    unsound = frozenset(index for index, each in enumerate(aimed) if each.diagnostics)
    return Compiled(plan, (*diagnostics, *lowering.diagnostics), places, unsound)


def _lesson_span(program: Program) -> Span:
    """From the lesson's first step to its last."""
    spans = [step.span for step in program.lesson if step.span.source == program.source]
    return spans[0].to(spans[-1]) if spans else program.span


def _stands(program: Program, scene: Plan, profiles: Sequence[Profile]) -> list[Stand] | Diagnostic:
    court = scene.court
    for wrong, part in ((pressure_apart(court), "pressure"), (impossible_surface(court), "rating")):
        if wrong is not None:
            spans = program.court.spans
            return msgspec.structs.replace(wrong, span=spans.get(part) or spans.get("restitution"))
    lines, surface = COURTS[court.kind], surface_for(court)
    receiver_m = program.group.receiver_m
    stands = []
    for index, (launcher, profile) in enumerate(zip(scene.launchers, profiles, strict=True)):
        conditions = conditions_or_why(court, scene.balls, profile)
        if isinstance(conditions, Diagnostic):
            return _placed_at(conditions, program)
        stands.append(Stand(index, launcher, profile, conditions, lines, surface, receiver_m))
    return stands


def _placed_at(found: Diagnostic, program: Program) -> Diagnostic:
    """The diagnostic with the span of the declaration that it is about."""

    declared = program.balls if found.slug == "unknown-ball" else program.court
    part = "kind" if found.slug == "unknown-ball" else "altitude"
    return msgspec.structs.replace(
        found, span=declared.spans.get(part, declared.span or program.span)
    )


def _aim(table: ShotTable, stands: Sequence[Stand], memo: Memo) -> list[Aimed]:
    """Every shot aimed, in the table's order."""
    aimed: dict[int, Aimed] = {}
    for stand in stands:
        own = [index for index, shot in enumerate(table.shots) if shot.launcher == stand.launcher]
        shots = [table.shots[index] for index in own]
        aimed.update(zip(own, aim_shots(shots, stand, memo), strict=True))
    return [aimed[index] for index in range(len(table.shots))]


def _once(table: ShotTable, aimed: Sequence[Aimed]) -> tuple[Diagnostic, ...]:
    """One report for one mistake: feeds that share the words at fault share the diagnostic."""
    first: dict[tuple[str, object], Diagnostic] = {}
    names: dict[tuple[str, object], list[str]] = {}
    for shot, each in zip(table.shots, aimed, strict=True):
        for found in each.diagnostics:
            key = (found.slug, found.span)
            first.setdefault(key, found)
            named = names.setdefault(key, [])
            if shot.wish.name not in named:
                named.append(shot.wish.name)
    return tuple(_naming(found, names[key][1:]) for key, found in first.items())


def _naming(found: Diagnostic, others: Sequence[str]) -> Diagnostic:
    if not others:
        return found
    listed = ", ".join(f"`{name}`" for name in others)
    return msgspec.structs.replace(
        found, message=f"{found.message}; the same words fail for {listed}"
    )


def _places(program: Program, table: ShotTable) -> Places:
    return Places(
        wishes=tuple(shot.wish for shot in table.shots),
        launchers=tuple(launcher.span for launcher in program.launchers),
    )
