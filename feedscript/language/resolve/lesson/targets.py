"""Targets for the players' own shots: areas on the launcher's side of the net."""

from __future__ import annotations

from msgspec.structs import replace

from feedscript.court.landmarks import End, Region
from feedscript.court.lines import Court
from feedscript.diagnostics import Page, Related
from feedscript.language import program as p
from feedscript.language.examples import program
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve import places
from feedscript.language.resolve.idle_facts import IDLE_FACT
from feedscript.language.resolve.properties import gather, once, text_of
from feedscript.language.resolve.scope import Scope
from feedscript.language.resolve.values import Amount, Evaluator
from feedscript.nearest import nearest

_GOAL = (
    'show speed of deep   exercise "Depth" {{ goal 2 of 3 in {}\n'
    "  repeat 3 {{ send deep after 5 s }} }}"
)
_BACK = 'target "deep" { area backcourt }'

TARGET_PLACE = Page(
    slug="target-place",
    title="A target where no shot can be good",
    why="""A target is what players aim at with their own shots, so it lies on the launcher's side
of the net and in court; its sides are named as somebody standing there sees them, and crosscourt
is from ad to ad. Past the lines a shot in the target would be out.""",
    wrong=program(
        steps=_GOAL.format('"deep"'),
        more='target "deep" { between on service line, on centre line '
        "and 1 m behind baseline, on ad sideline }",
    ),
    corrected=program(
        steps=_GOAL.format('"deep"'),
        more='target "deep" { between on service line, on centre line '
        "and on baseline, on ad sideline }",
    ),
)

NO_TARGET = Page(
    slug="no-target",
    title="A target that is not there",
    why="""`in "NAME"` speaks of a target of the same file, and `in target` of the one of the
exercise it stands in. An exercise has one target, and every ball of it is judged by that one.""",
    wrong=program(steps=_GOAL.format("target")),
    corrected=program(steps=_GOAL.format('"deep"'), more=_BACK),
)

#: A target is at least so wide and so deep: a ball and its mark. Design value.
LEAST_M = 0.3
#: Places are worked out in floating point; a line is a target's edge all the same.
_HAIR_M = 1e-6


def mirrored(target: p.TargetDecl) -> p.TargetDecl:
    """The target on the other side of the court's long axis."""
    turned = tuple(
        tuple((-x_m if x_m else 0.0, y_m) for x_m, y_m in reversed(outline))
        for outline in target.outlines_m
    )
    return replace(target, outlines_m=turned)


class Targets:
    """The targets of every file that was read; each file speaks of its own."""

    def __init__(self, scopes: list[Scope], court: Court, lets: dict[int, Amount]) -> None:
        self._court = court
        self._of: dict[int, dict[str, p.TargetDecl | None]] = {}
        self._named: set[tuple[int, str]] = set()
        for scope in scopes:
            self._of[id(scope)] = self._file(scope, Evaluator(scope, lets))

    def _file(self, scope: Scope, evaluator: Evaluator) -> dict[str, p.TargetDecl | None]:
        found: dict[str, p.TargetDecl | None] = {}
        first: dict[str, t.Text] = {}
        for block in scope.items(t.Declaration):
            if str(block.word).lower() != "target":
                continue
            name = text_of(block.name)
            if first.setdefault(name, block.name) is not block.name:
                what = f"the target {scope.written(block.name)}"
                once(scope, block.name, scope.span(first[name]), what)
                continue
            found[name] = self.read(evaluator, block)
        return found

    def look_up(self, scope: Scope, name: t.Text) -> p.TargetDecl | None:
        """The target of this name in a file; None where there is none (reported) or it is wrong."""
        known, wanted = self._of[id(scope)], text_of(name)
        self._named.add((id(scope), wanted))
        if wanted in known:
            return known[wanted]
        near = nearest(wanted, known)
        area = f'target "{wanted or "deep"}" {{ area backcourt }}'
        scope.report(
            NO_TARGET,
            name,
            f"no target is called {scope.written(name)}",
            f'did you mean "{near}"?' if near else f"define it outside the lesson: `{area}`",
        )
        return None

    def see_that_all_are_named(self, scope: Scope) -> None:
        """Report the targets of a file that no exercise speaks of."""
        for name, target in self._of[id(scope)].items():
            if target is not None and (id(scope), name) not in self._named:
                message = f'no exercise speaks of the target "{name}"'
                help_text = f'write `target "{name}"` at the head of one, or take the block out'
                scope.report(IDLE_FACT, target.span, message, help_text)

    def read(self, evaluator: Evaluator, block: t.Declaration) -> p.TargetDecl | None:
        """``target "…" { … }``; None where something of it is wrong (reported)."""
        scope, name = evaluator.scope, text_of(block.name)
        lines = gather(scope, block.properties, frozenset({"area", "between"}))
        marked = text_of(lines["marked"][0].parts[0]) if lines.get("marked") else ""
        said = [*lines.get("area", ()), *lines.get("between", ())]
        if not name.strip():
            scope.report(TARGET_PLACE, block.name, "a target has no name", 'write `"deep cross"`')
            return None
        if not said:
            if not scope.damaged(block):
                message = "this says nowhere where the target is"
                help_text = "write `area` and words about the court, or `between` two places"
                scope.report(IDLE_FACT, block.word, message, help_text)
            return None
        regions = [self._region(evaluator, line) for line in said]
        good = [region for region in regions if region is not None]
        if len(good) < len(regions):
            return None
        return p.TargetDecl(
            name=name,
            outlines_m=tuple(region.corners_m for region in good),
            marked=marked,
            relative=any(_is_relative(line) for line in said),
            span=scope.span(block),
        )

    def _region(self, evaluator: Evaluator, line: t.Property) -> Region | None:
        """The area of one line; None where it is none, or not in court (reported)."""
        ends = [part for part in line.parts if not isinstance(part, Token)]
        if len(ends) == 1:
            found = places.area(evaluator, self._court, End.LAUNCHER, ends[0])
            return found if found is None else self._in_court(evaluator.scope, line, found)
        corners = [places.point(evaluator, self._court, End.LAUNCHER, end) for end in ends]
        points = [corner.point_m for corner in corners if corner is not None]
        if len(points) < 2:
            return None
        (x1, y1), (x2, y2) = points
        box = Region(min(x1, x2), max(x1, x2), min(y1, y2), max(y1, y2))
        return self._in_court(evaluator.scope, line, box)

    def _in_court(self, scope: Scope, line: t.Property, box: Region) -> Region | None:
        """The area, where a shot into it is good and it has room; else None (reported)."""
        wide, deep = box.x_max_m - box.x_min_m, box.y_max_m - box.y_min_m
        if min(wide, deep) < LEAST_M:
            message = f"the target is {wide:.2f} m wide and {deep:.2f} m deep"
            help_text = f"`between` two opposite corners, at least {LEAST_M:g} m apart each way"
            scope.report(TARGET_PLACE, line, message, help_text)
            return None
        court = self._court
        past_m = {
            "behind the baseline": -box.y_min_m - court.half_length_m,
            "past the net": box.y_max_m,
            "outside the sideline": max(-box.x_min_m, box.x_max_m) - court.half_width_m,
        }
        out = [f"{by_m:.2f} m {where}" for where, by_m in past_m.items() if by_m > _HAIR_M]
        if not out:
            return box
        message = f"the target reaches {' and '.join(out)}"
        lines = f"{court.half_width_m:.2f} m from the middle and {court.half_length_m:.2f} m"
        help_text = f"end it at the lines, on this court {lines} from the net"
        scope.report(TARGET_PLACE, line, message, help_text)
        return None


def _is_relative(line: t.Property) -> bool:
    return any(
        places.is_relative(part) for part in line.parts if isinstance(part, t.Place | t.PlaceAt)
    )


def several(scope: Scope, again: t.SyntaxNode, first: t.SyntaxNode) -> None:
    """Report that an exercise speaks of two targets."""
    related = (Related(scope.span(first), "it speaks of this one first"),)
    message = "an exercise has one target, and this is another"
    help_text = "write two exercises, or one target of two areas: `between` or `area` twice in it"
    scope.report(NO_TARGET, again, message, help_text, related)
