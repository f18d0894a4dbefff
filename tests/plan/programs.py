"""Small programs as the language hands them over, built by hand: the scenario is invented."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from feedscript.diagnostics import Span
from feedscript.language.program import (
    BallsDecl,
    CourtDecl,
    FeedWish,
    GroupDecl,
    LauncherDecl,
    Program,
    RestStatement,
    SendStatement,
    ShowSpeedStatement,
    Statement,
)
from feedscript.plan.compile import Compiled, compile_program
from tests.launcher.examples import garage

SOURCE = "lesson.feed"


def at(line: int, column: int = 1) -> Span:
    return Span(SOURCE, line, column, line, column + 5)


def wish(name: str = "deep", line: int = 1, **given) -> FeedWish:
    kind = {"speed_mps", "apex_m", "flight_s", "contact"} & given.keys()
    fields = {"land_m": (0.0, 9.9), **({} if kind else {"speed_mps": 25.0}), **given}
    return FeedWish(name=name, span=at(line), **fields)


def send(name: str = "deep", after_s: float = 4.0, line: int = 5, **given) -> SendStatement:
    return SendStatement(feed=name, after_s=after_s, span=at(line), **given)


def show(name: str = "deep", line: int = 4) -> ShowSpeedStatement:
    return ShowSpeedStatement(feed=name, span=at(line))


def rest(seconds: float, line: int = 6) -> RestStatement:
    return RestStatement(seconds=seconds, span=at(line))


def program(
    *steps: Statement,
    feeds: tuple[FeedWish, ...] = (),
    launchers: tuple[LauncherDecl, ...] = (),
    group: GroupDecl | None = None,
    **given,
) -> Program:
    wishes: Mapping[str, FeedWish] = {each.name: each for each in feeds or (wish(),)}
    fields = {
        "title": "invented",
        "source": SOURCE,
        "sources": MappingProxyType({SOURCE: "feedscript 1\n"}),
        "seed": 1,
        "court": CourtDecl(surface="hard"),
        "balls": BallsDecl(load=60),
        "keep_outs": (),
        "waivers": (),
        "requirements": (),
        "expectations": (),
        "span": at(1),
        **given,
    }
    return Program(
        launchers=launchers or (LauncherDecl(),),
        group=group or GroupDecl(),
        feeds=MappingProxyType(wishes),
        lesson=steps,
        **fields,
    )


def compiled(whole: Program, **given) -> Compiled:
    profiles = [given.pop("profile", None) or garage()] * len(whole.launchers)
    return compile_program(whole, profiles, ["garage.toml"] * len(profiles), **given)
