"""The declarations: court, balls, launchers, group, coach, keep-outs."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, TypeVar

from feedscript.court.landmarks import End, Region
from feedscript.court.lines import COURTS
from feedscript.court.ranges import (
    AIR_C,
    ALTITUDE_M,
    HUMIDITY,
    PRESSURE_HPA,
    RESTITUTION,
    WEAR,
    WIND_MPS,
)
from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve import idle_facts, places, properties
from feedscript.language.resolve.properties import choice, gather, spans_of, text_of
from feedscript.language.resolve.scope import Scope
from feedscript.language.resolve.value_pages import WRONG_DIMENSION
from feedscript.language.resolve.values import Evaluator
from feedscript.units import Dimension

T = TypeVar("T")
Lines = dict[str, list[t.Property]]

SURFACES = ("hard", "clay", "grass", "carpet")
STAGES = ("red", "orange", "green", "yellow")
BALL_STAGES = (*STAGES, "foam")
LEVELS = ("beginner", "improver", "club", "county", "touring")
#: How near a coach who stands still may be passed: a body and a racket's reach to each side.
COACH_REACH_M = 1.0


class Declarations:
    """Reads the declarations of one file, each into its value in the internal units."""

    def __init__(self, scope: Scope, evaluator: Evaluator) -> None:
        self.scope = scope
        self.evaluator = evaluator
        self.lines = COURTS["singles"]  # the court that places are read on

    # --- one line of a block

    def value(
        self, lines: Lines, key: str, dimension: Dimension, low: float, high: float, what: str
    ) -> float | None:
        """The value of a line, or None where it is missing or wrong (then reported)."""
        if not lines.get(key):
            return None
        value = self.evaluator.within(lines[key][0].parts[-1], dimension, low, high, what)
        return None if math.isnan(value) else value

    def word(self, lines: Lines, key: str, choices: tuple[str, ...], what: str) -> str | None:
        found = lines.get(key)
        if not found:
            return None
        word = found[0].parts[0]
        if not isinstance(word, Token):
            word = Token("NAME", self.scope.written(word), start_pos=word.start, end_pos=word.end)
        return choice(self.scope, word, choices, what)

    def whole(self, lines: Lines, key: str, low: int, high: int, what: str) -> int | None:
        found = lines.get(key)
        if not found:
            return None
        node = found[0].parts[0]
        if isinstance(node, t.Number):
            return self.evaluator.whole_of(node, self.evaluator.number(node), low, high, what)
        return self.evaluator.whole(node, low, high, what)

    # --- the blocks

    def court(self, block: t.Declaration) -> p.CourtDecl:
        """``court { … }``; from here on places are read on its lines."""
        lines = gather(self.scope, block.properties)
        named = self.word(lines, "lines", tuple(COURTS), "kind of court")
        self.lines = COURTS[named or "singles"]
        fence_m, gap_m = self._fence(lines)
        value = self.value
        d = Dimension
        return p.CourtDecl(
            lines=named or "singles",
            surface=self.word(lines, "surface", SURFACES, "surface"),
            pace_rating=value(lines, "rating", d.COUNT, 1, 100, "a court pace rating"),
            restitution=value(lines, "restitution", d.COUNT, *RESTITUTION, "a restitution"),
            altitude_m=self._altitude_m(lines),
            air_c=_or(value(lines, "air", d.TEMPERATURE, *AIR_C, "the air"), 20.0),
            pressure_hpa=value(lines, "pressure", d.PRESSURE, *PRESSURE_HPA, "the air's pressure"),
            humidity=value(lines, "humidity", d.RATIO, *HUMIDITY, "the humidity"),
            wind_mps=self._wind(lines),
            roof_m=value(lines, "roof", d.LENGTH, 2, 60, "the height of a roof"),
            fence_m=fence_m,
            fence_gap_m=gap_m,
            side_gap_m=value(lines, "side", d.LENGTH, 0, 50, "the room beside the court"),
            neighbours=self._neighbours(lines),
            span=self.scope.span(block),
            spans=spans_of(self.scope, lines),
        )

    def _altitude_m(self, lines: Lines) -> float:
        node = lines["altitude"][0].parts[-1] if lines.get("altitude") else None
        if isinstance(node, t.Quantity) and node.unit and self.evaluator.in_two_ways(node):
            return 0.0
        low, high = ALTITUDE_M
        found = self.value(lines, "altitude", Dimension.LENGTH, low, high, "an altitude")
        return found or 0.0

    def _fence(self, lines: Lines) -> tuple[float | None, float | None]:
        if not lines.get("fence"):
            return None, None
        parts = [x for x in lines["fence"][0].parts if not isinstance(x, Token)]
        length = Dimension.LENGTH
        height_m = self.evaluator.within(parts[0], length, 0, 30, "the height of a fence")
        gap_m: float | None = None
        if len(parts) > 1:
            gap_m = self.evaluator.within(parts[1], length, 0, 60, "the room behind the baseline")
            if parts[2].text not in ("behind baseline", "behind the baseline"):
                message = "a fence stands behind the baseline"
                self.scope.report(WRONG_DIMENSION, parts[2], message, "write `behind baseline`")
        return _known(height_m), None if gap_m is None else _known(gap_m)

    def _wind(self, lines: Lines) -> p.Point:
        x_mps = y_mps = 0.0
        said: dict[bool, Token] = {}
        for part in lines["wind"][0].parts if lines.get("wind") else ():
            word = choice(self.scope, part.word, ("head", "tail", "ad", "deuce"), "way of a wind")
            speed = self.evaluator.within(part.value, Dimension.SPEED, *WIND_MPS, "a wind")
            if word is None or math.isnan(speed):
                continue
            first = said.setdefault(word in ("head", "tail"), part.word)
            if first is not part.word:
                what = "the wind along the court" if word in ("head", "tail") else "the side wind"
                properties.once(self.scope, part.word, self.scope.span(first), what)
            # A head wind meets the ball that the launcher sends, so it moves towards -y.
            x_mps += {"ad": speed, "deuce": -speed}.get(word, 0.0)
            y_mps += {"tail": speed, "head": -speed}.get(word, 0.0)
        return x_mps, y_mps

    def _neighbours(self, lines: Lines) -> tuple[str, ...]:
        words = lines["neighbour"][0].parts if lines.get("neighbour") else ()
        sides = [choice(self.scope, word, ("ad", "deuce"), "side") for word in words]
        return tuple(side for side in sides if side is not None)

    def balls(self, block: t.Declaration) -> p.BallsDecl:
        """``balls { … }``."""
        lines = gather(self.scope, block.properties)
        kind = "type 2"
        stage = self.word(lines, "stage", BALL_STAGES, "stage of ball")
        if stage is not None:
            kind = {"foam": "foam", "yellow": "type 2"}.get(stage, f"stage {stage}")
        known = ("1", "2", "3", "high altitude")
        named = self.word(lines, "type", known, "type of ball")
        if named is not None and stage is not None:
            first, second = self.scope.span(lines["stage"][0].word), lines["type"][0].word
            properties.once(self.scope, second, first, "the kind of ball")
        elif named is not None:
            kind = "high altitude" if named == "high altitude" else f"type {named}"
        return p.BallsDecl(
            kind=kind,
            load=self.whole(lines, "load", 1, 1000, "a load of balls"),
            wear=self.value(lines, "wear", Dimension.RATIO, *WEAR, "the wear") or 0.0,
            span=self.scope.span(block),
            spans=spans_of(self.scope, lines),
        )

    def launcher(self, block: t.Declaration) -> p.LauncherDecl:
        """``launcher [NAME] { … }``."""
        lines = gather(self.scope, block.properties)
        stands = self.point(lines, "stands", End.LAUNCHER) or p.LauncherDecl().stands_m
        facing_deg = self._turned(lines)
        idle_facts.turned_twice(self.scope, lines)
        faces = self.point(lines, "faces", End.RECEIVER)
        if faces is not None:
            facing_deg = math.degrees(math.atan2(faces[0] - stands[0], faces[1] - stands[1]))
        profile = lines["profile"][0].parts[0] if lines.get("profile") else None
        return p.LauncherDecl(
            name=str(block.name) if block.name is not None else "",
            profile=text_of(profile) if profile is not None else None,
            stands_m=stands,
            facing_deg=facing_deg,
            mouth_m=self.value(lines, "mouth", Dimension.LENGTH, 0.05, 4, "the mouth's height"),
            load=self.whole(lines, "load", 1, 1000, "a load of balls"),
            span=self.scope.span(block),
            spans=spans_of(self.scope, lines),
        )

    def _turned(self, lines: Lines) -> float:
        if not lines.get("turned"):
            return 0.0
        side, angle = lines["turned"][0].parts
        word = choice(self.scope, side, ("ad", "deuce"), "side")
        turned = self.evaluator.within(angle, Dimension.ANGLE, 0, 60, "a turn of the launcher")
        return 0.0 if word is None or math.isnan(turned) else turned * (1 if word == "ad" else -1)

    def point(self, lines: Lines, key: str, end: End) -> p.Point | None:
        if not lines.get(key):
            return None
        found = places.point(self.evaluator, self.lines, end, lines[key][0].parts[0])
        return found.point_m if found is not None else None

    def coach(self, block: t.Declaration) -> list[p.KeepOut]:
        """``coach { … }``: where no ball may pass."""
        lines = gather(self.scope, block.properties)
        idle_facts.without_area(self.scope, block, lines)
        found = []
        for line in lines.get("walks", ()):
            walked = places.area(self.evaluator, self.lines, End.RECEIVER, line.parts[0])
            if walked is not None:
                found.append(self._keep_out("coach", walked.corners_m, None, line))
        for line in lines.get("stands", ()):
            at = places.point(self.evaluator, self.lines, End.RECEIVER, line.parts[0])
            if at is not None:
                x_m, y_m = at.point_m
                r = COACH_REACH_M
                around = Region(x_m - r, x_m + r, y_m - r, y_m + r)
                found.append(self._keep_out("coach", around.corners_m, None, line))
        return found

    def keep_out(self, block: t.Declaration) -> list[p.KeepOut]:
        """``keep out "…" { … }``."""
        lines = gather(self.scope, block.properties, frozenset({"area", "between"}))
        idle_facts.without_area(self.scope, block, lines)
        height = self.value(lines, "height", Dimension.LENGTH, 0, 60, "a height")
        name, found = text_of(block.name), []
        for line in lines.get("area", ()):
            kept = places.area(self.evaluator, self.lines, End.RECEIVER, line.parts[0])
            if kept is not None:
                found.append(self._keep_out(name, kept.corners_m, height, line))
        for line in lines.get("between", ()):
            ends = [x for x in line.parts if not isinstance(x, Token)]
            points = [places.point(self.evaluator, self.lines, End.RECEIVER, x) for x in ends]
            good = [point.point_m for point in points if point is not None]
            if len(good) == 2:
                (x1, y1), (x2, y2) = good
                box = Region(min(x1, x2), max(x1, x2), min(y1, y2), max(y1, y2))
                found.append(self._keep_out(name, box.corners_m, height, line))
        return found

    def _keep_out(
        self, name: str, outline: tuple[p.Point, ...], height_m: float | None, line: t.Property
    ) -> p.KeepOut:
        return p.KeepOut(
            name=name, outline_m=outline, height_m=height_m, span=self.scope.span(line)
        )

    # --- one of a kind

    def only(self, word: str, read: Callable[[t.Declaration], T]) -> T | None:
        """The one block of this word, read; a second is reported."""
        found: T | None = None
        first: Any = None
        for block in self.scope.items(t.Declaration):
            if str(block.word).lower() != word:
                continue
            if first is None:
                first, found = block, read(block)
            else:
                span = self.scope.span(first.word)
                properties.once(self.scope, block.word, span, f"`{word}`")
        return found


def _known(value: float) -> float | None:
    return None if math.isnan(value) else value


def _or(value: float | None, default: float) -> float:
    return default if value is None else value
