"""Facts that are stated where nothing can use them: each is an error, never dropped in silence."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from feedscript.diagnostics import Page, Related
from feedscript.language import program as p
from feedscript.language.examples import program
from feedscript.language.parse import tree as t
from feedscript.language.resolve.scope import Scope

IDLE_FACT = Page(
    slug="idle-fact",
    title="A fact that nothing uses",
    why="""What a program states must count for something: a fact that is dropped in silence would
be trusted all the same. So a line that changes nothing where it stands is an error: `arc` beside an
`apex`, the variation of a speed that the feed does not state, a load that every launcher states for
itself, a keep-out without an area.""",
    wrong=program(
        feed="feed deep { land 2 m inside baseline, on centre line  apex 3 m  arc high }"
    ),
    corrected=program(feed="feed deep { land 2 m inside baseline, on centre line  apex 3 m }"),
)

_Lines = Mapping[str, Sequence[t.Property]]


def turned_twice(scope: Scope, lines: _Lines) -> None:
    """A launcher that faces a place and is also turned by an angle."""
    if not (lines.get("faces") and lines.get("turned")):
        return
    faces, turned = lines["faces"][0], lines["turned"][0]
    scope.report(
        IDLE_FACT,
        turned.word,
        "`turned` says which way the launcher points, and so does `faces`",
        "keep one of the two",
        (Related(scope.span(faces.word), "it faces a place here"),),
    )


def without_area(scope: Scope, block: t.Declaration, lines: _Lines) -> None:
    """A coach or a keep-out that says nowhere where."""
    where = ("walks", "stands", "area", "between")
    if scope.damaged(block) or any(lines.get(key) for key in where):
        return
    coach = str(block.word).lower() == "coach"
    help_text = (
        "write `walks deuce alley`, or `stands` and a place"
        if coach
        else ("write `area` and words about the court, or `between` two places")
    )
    what = "where the coach is" if coach else "which area is kept out"
    scope.report(IDLE_FACT, block.word, f"this says nowhere {what}", help_text)


def load_of_none(scope: Scope, balls: p.BallsDecl, launchers: Sequence[p.LauncherDecl]) -> None:
    """A load of the balls' block that no launcher takes: every one states its own."""
    if balls.load is None or any(launcher.load is None for launcher in launchers):
        return
    related = tuple(
        Related(launcher.spans["load"], "this launcher states its own load")
        for launcher in launchers
        if "load" in launcher.spans
    )
    span = balls.spans.get("load", balls.span)
    assert span is not None
    scope.report(
        IDLE_FACT,
        span,
        f"no launcher takes this load of {balls.load} balls: each states its own",
        "take it out here, or at the launchers that are loaded alike",
        related,
    )


def subgroups_of_none(scope: Scope, group: p.GroupDecl, named: Collection[str]) -> None:
    """A subgroup that no step names."""
    for name in group.subgroups:
        if name not in named:
            message = f'no step of the lesson speaks of the subgroup "{name}"'
            help_text = f'write `for "{name}" {{ … }}`, or take the line out'
            scope.report(IDLE_FACT, group.spans[f"subgroup {name}"], message, help_text)


def of_feed(scope: Scope, feed: t.Feed, lines: _Lines, fields: Mapping[str, Any]) -> bool:
    """Whether every line of a feed counts, with what it takes over; reports those that do not."""
    found = [*_arc(lines, fields), *_variation(lines, fields), *_swept(fields)]
    for key, message, help_text in found:
        place = lines[key][0] if lines.get(key) else feed.name
        scope.report(IDLE_FACT, place, message, help_text)
    return not found


_Idle = tuple[str, str, str]  # the line's word, what is wrong, the fix


def _arc(lines: _Lines, fields: Mapping[str, Any]) -> list[_Idle]:
    settler = next((key for key in ("apex", "flight") if fields[f"{key}_{_UNIT[key]}"]), None)
    if settler is None or not lines.get("arc"):
        return []
    message = f"`arc` chooses between two ways, and the `{settler}` of this feed leaves only one"
    return [("arc", message, "take the line out, or give the feed a `speed`")]


def _swept(fields: Mapping[str, Any]) -> list[_Idle]:
    """What says something of one place, of a feed that goes over a whole sweep."""
    if not fields.get("swept"):
        return []
    found = []
    if fields.get("within_m") is not None:
        message = "`within` is the size of one target, and this feed goes over a whole sweep"
        found.append(("within", message, "take the line out"))
    if fields.get("vary") is not None:
        message = "`vary` moves a place, and this feed goes over a whole sweep anyway"
        found.append(("vary", message, "take the line out"))
    return found


_UNIT = {"apex": "m", "flight": "s"}


def _variation(lines: _Lines, fields: Mapping[str, Any]) -> list[_Idle]:
    vary = fields.get("vary")
    if vary is None:
        return []
    found = []
    if vary.speed_mps and fields["speed_mps"] is None:
        message = "`vary speed` moves the speed that a feed states, and this one states none"
        found.append(("vary", message, "vary the place, or give the feed a `speed`"))
    if vary.spin_rpm and not (fields["top_rpm"] or fields["side_rpm"]):
        message = "`vary spin` moves the spin that a feed states, and this one states none"
        found.append(("vary", message, "vary the place or the speed, or give the feed a `spin`"))
    if lines.get("vary") and not (vary.place_m or vary.speed_mps or vary.spin_rpm):
        message = "this variation moves nothing"
        found.append(("vary", message, "say by how much: `vary place 0.5 m`"))
    return found[:1]
