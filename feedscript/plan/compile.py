"""A program compiled: every feed aimed, every step lowered, every bound known.

What a launcher cannot do, what would come too soon or land outside is not judged here: a plan is
built all the same, so that the rules of ``feedscript.safety`` can name everything at once. Only
what leaves no plan to judge is reported: a place out of reach, a spin that its launcher cannot
give, a turn that cannot hold its body.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import msgspec

from feedscript.court.lines import COURTS
from feedscript.diagnostics import Diagnostic, Span
from feedscript.language.program import Program
from feedscript.launcher.profile.model import Profile
from feedscript.plan import scenery
from feedscript.plan.aiming.aimed import Aimed, aim_shots
from feedscript.plan.aiming.flying import (
    FLIGHT_MODEL,
    conditions_or_why,
    impossible_surface,
    pressure_apart,
    surface_for,
)
from feedscript.plan.aiming.shots import ShotTable, shot_table
from feedscript.plan.aiming.solving import Stand
from feedscript.plan.canonical import settled
from feedscript.plan.folds.bounds import bounds
from feedscript.plan.folds.size import too_big, too_many_feeds
from feedscript.plan.lowering import Lowering
from feedscript.plan.model import PLAN_VERSION, AimedFeed, Bounds, Plan
from feedscript.plan.places import Places, line_in
from feedscript.plan.scene import PlacedLauncher

_UNKNOWN = Bounds(balls=(0, 0), time_s=(0.0, 0.0), fastest_mps=0.0)


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
) -> Compiled:
    """Compile for these profiles, one for each of the program's launchers in order.

    ``seed`` stands in for the program's own. Never raises for what a program may say.
    """
    seed = program.seed if seed is None else seed
    group = scenery.group(program)
    table = shot_table(program, seed, any(player.left_handed for player in group.players))
    big = too_many_feeds(len(table.shots), program.span)
    if big is not None:
        return Compiled(None, (big,))
    placed = scenery.launchers(program, profiles, profile_names)
    stands = _stands(program, placed, profiles)
    if isinstance(stands, Diagnostic):
        return Compiled(None, (stands,))
    aimed = _aim(program, table, stands)
    diagnostics = _once(table, aimed)
    feeds = [each.feed for each in aimed if each.feed is not None]
    places = _places(program, table)
    if len(feeds) < len(aimed):
        return Compiled(None, diagnostics, places)
    scene = _scene(program, seed, placed, tuple(feeds))
    lowering = Lowering(program, scene, table, places)
    plan = _with_steps(scene, lowering)
    big = too_big(plan, _lesson_span(program))
    if big is not None:
        return Compiled(None, (*diagnostics, *lowering.diagnostics, big), places)
    unsound = frozenset(index for index, each in enumerate(aimed) if each.diagnostics)
    return Compiled(plan, (*diagnostics, *lowering.diagnostics), places, unsound)


def _lesson_span(program: Program) -> Span:
    """From the lesson's first step to its last."""
    spans = [step.span for step in program.lesson if step.span.source == program.source]
    return spans[0].to(spans[-1]) if spans else program.span


def _stands(
    program: Program, placed: Sequence[PlacedLauncher], profiles: Sequence[Profile]
) -> list[Stand] | Diagnostic:
    court, balls = scenery.court(program), scenery.balls(program)
    for wrong, part in ((pressure_apart(court), "pressure"), (impossible_surface(court), "rating")):
        if wrong is not None:
            spans = program.court.spans
            return replace(wrong, span=spans.get(part) or spans.get("restitution"))
    lines = COURTS[court.kind]
    stands = []
    for index, (launcher, profile) in enumerate(zip(placed, profiles, strict=True)):
        conditions = conditions_or_why(court, balls, profile)
        if isinstance(conditions, Diagnostic):
            return _placed_at(conditions, program)
        surface, receiver_m = surface_for(court), program.group.receiver_m
        stands.append(Stand(index, launcher, profile, conditions, lines, surface, receiver_m))
    return stands


def _placed_at(found: Diagnostic, program: Program) -> Diagnostic:
    """The diagnostic with the span of the declaration that it is about."""

    declared = program.balls if found.slug == "unknown-ball" else program.court
    part = "kind" if found.slug == "unknown-ball" else "altitude"
    return replace(found, span=declared.spans.get(part, declared.span or program.span))


def _aim(program: Program, table: ShotTable, stands: Sequence[Stand]) -> list[Aimed]:
    """Every shot aimed, in the table's order."""
    aimed: dict[int, Aimed] = {}
    for stand in stands:
        own = [index for index, shot in enumerate(table.shots) if shot.launcher == stand.launcher]
        shots = [table.shots[index] for index in own]
        lines = [line_in(program, shot.wish.span) for shot in shots]
        aimed.update(zip(own, aim_shots(shots, stand, lines), strict=True))
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
    return replace(found, message=f"{found.message}; the same words fail for {listed}")


def _places(program: Program, table: ShotTable) -> Places:
    return Places(
        wishes=tuple(shot.wish for shot in table.shots),
        launchers=tuple(launcher.span for launcher in program.launchers),
    )


def _scene(
    program: Program,
    seed: int,
    placed: tuple[PlacedLauncher, ...],
    feeds: tuple[AimedFeed, ...],
) -> Plan:
    """The plan without steps and bounds, settled: what is worked out from it is what is written."""
    scene = Plan(
        version=PLAN_VERSION,
        title=program.title,
        program_hash=scenery.program_hash(program),
        seed=seed,
        flight_model=FLIGHT_MODEL,
        court=scenery.court(program),
        balls=scenery.balls(program),
        group=scenery.group(program),
        launchers=placed,
        keep_outs=scenery.keep_outs(program),
        waivers=scenery.waivers(program),
        requirements=scenery.requirements(program),
        feeds=feeds,
        steps=(),
        bounds=_UNKNOWN,
    )
    return settled(scene)


def _with_steps(scene: Plan, lowering: Lowering) -> Plan:

    plan = msgspec.structs.replace(scene, steps=lowering.lesson())
    return msgspec.structs.replace(plan, bounds=bounds(plan))
