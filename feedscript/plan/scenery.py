"""From a program's declarations to the scene that its plan carries."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence

from feedscript.language.program import (
    GroupDecl,
    LauncherDecl,
    Program,
    Statement,
    StationStatement,
    TogetherStatement,
)
from feedscript.launcher.profile.model import Profile, profile_hash
from feedscript.plan.aiming.flying import FLIGHT_MODEL
from feedscript.plan.aiming.shots import bodies
from feedscript.plan.certificate import Requirement, Waiver
from feedscript.plan.kinds import kind_of
from feedscript.plan.model import PLAN_VERSION, Bounds, Plan, Progression
from feedscript.plan.places import line_in
from feedscript.plan.scene import PERSON_M, Area, Balls, Court, Group, PlacedLauncher, Player

_UNKNOWN = Bounds(balls=(0, 0), time_s=(0.0, 0.0), fastest_mps=0.0)


def scene(
    program: Program, profiles: Sequence[Profile], profile_names: Sequence[str], seed: int
) -> Plan:
    """The plan before anything is aimed: no feeds, no steps, bounds not known."""
    return Plan(
        version=PLAN_VERSION,
        title=program.title,
        program_hash=_program_hash(program),
        seed=seed,
        flight_model=FLIGHT_MODEL,
        court=_court(program),
        balls=Balls(kind=program.balls.kind, wear=program.balls.wear),
        group=_group(program),
        launchers=_launchers(program, profiles, profile_names),
        keep_outs=_keep_outs(program),
        waivers=_waivers(program),
        requirements=_requirements(program),
        feeds=(),
        steps=(),
        bounds=_UNKNOWN,
        progressions=_progressions(program),
        from_club=program.from_club,
    )


def _progressions(program: Program) -> tuple[Progression, ...]:
    """Each once, with the names of its own rungs where it is not only sent as its mirror image."""
    found: dict[str, Progression] = {}
    for called, its in program.progressions.items():
        if called == its.name or its.name not in found:
            found[its.name] = Progression(name=its.name, rungs=its.rungs)
    return tuple(found.values())


def _program_hash(program: Program) -> str:
    """SHA-256 over the texts that make up the program, its own first; not over file names."""
    own = program.sources.get(program.source, "")
    others = sorted(text for name, text in program.sources.items() if name != program.source)
    hashed = hashlib.sha256()
    for text in (own, *others):
        lines = text.replace("\r\n", "\n").encode()
        hashed.update(len(lines).to_bytes(8, "big") + lines)
    return hashed.hexdigest()


def _court(program: Program) -> Court:
    """The court and what stands around it, as declared."""
    said = program.court
    return Court(
        kind=said.lines,
        surface=said.surface,
        pace_rating=said.pace_rating,
        restitution=said.restitution,
        altitude_m=said.altitude_m,
        air_c=said.air_c,
        pressure_hpa=said.pressure_hpa,
        humidity=said.humidity,
        wind_mps=said.wind_mps,
        fence_height_m=said.fence_m,
        fence_behind_baseline_m=said.fence_gap_m,
        side_clearance_m=said.side_gap_m,
        roof_m=said.roof_m,
        neighbours=said.neighbours,
    )


def _group(program: Program) -> Group:
    """The group, with a name for everybody.

    Where the program counts its left-handers without naming them, they are the last players.
    """
    said = program.group
    names = said.names or tuple(f"player {number}" for number in range(1, said.players + 1))
    left = _left_handed(said, names)
    own = {one.name: one for one in said.own}
    players = tuple(
        Player(
            name=name,
            left_handed=name in left,
            stage=own[name].stage if name in own else None,
            level=own[name].level if name in own else None,
            receiver_m=own[name].receiver_m if name in own else None,
            kind=kind_of(said, name),
            language=own[name].language if name in own else None,
        )
        for name in names
    )
    return Group(
        players=players,
        stage=said.stage,
        level=said.level,
        ages=said.ages,
        keep_together=said.keep_together,
        keep_apart=said.keep_apart,
    )


def _left_handed(said: GroupDecl, names: tuple[str, ...]) -> frozenset[str]:
    if said.left_handed_names:
        return frozenset(said.left_handed_names)
    return frozenset(names[len(names) - said.left_handed :])


def _launchers(
    program: Program, profiles: Sequence[Profile], profile_names: Sequence[str]
) -> tuple[PlacedLauncher, ...]:
    """The launchers where they stand, in the program's order."""
    return tuple(
        _launcher(program, said, profile, name)
        for said, profile, name in zip(program.launchers, profiles, profile_names, strict=True)
    )


def _launcher(
    program: Program, said: LauncherDecl, profile: Profile, profile_name: str
) -> PlacedLauncher:
    x_m, y_m = said.stands_m
    height_m = profile.mouth_height_m if said.mouth_m is None else said.mouth_m
    return PlacedLauncher(
        name=said.name,
        profile_name=profile_name,
        profile_hash=profile_hash(profile),
        mouth_m=(x_m, y_m, height_m),
        heading_deg=said.facing_deg,
        load=program.balls.load if said.load is None else said.load,
        line=0 if said.span is None else said.span.line,
        sweep_deg=None
        if profile.sweep is None
        else (profile.sweep.band_deg.least, profile.sweep.band_deg.most),
    )


def _keep_outs(program: Program) -> tuple[Area, ...]:
    """The areas where no ball may pass low: those said, and where players work by themselves."""
    said = [
        Area(name=one.name, outline_m=one.outline_m, height_m=one.height_m, line=one.span.line)
        for one in program.keep_outs
    ]
    places = {
        (station.name, station.at_m): Area(
            name=f"station {station.name}",
            outline_m=station.at_m,
            height_m=PERSON_M,
            line=line_in(program, station.span),
        )
        for station in _stations(program.lesson)
        if station.at_m
    }
    return (*said, *places.values())


def _stations(steps: Sequence[Statement]) -> Iterator[StationStatement]:
    """Every station of these steps, however deep."""
    for step in steps:
        if isinstance(step, TogetherStatement):
            yield from step.stations
        for body in bodies(step):
            yield from _stations(body)


def _waivers(program: Program) -> tuple[Waiver, ...]:
    """Rules that the program sets aside, with its reasons."""
    return tuple(
        Waiver(rule=said.rule, because=said.because, line=said.span.line)
        for said in program.waivers
    )


def _requirements(program: Program) -> tuple[Requirement, ...]:
    """Limits that the program makes stricter."""
    return tuple(
        Requirement(rule=said.rule, value=said.value, line=said.span.line)
        for said in program.requirements
    )
