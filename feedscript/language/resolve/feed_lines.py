"""The lines of one feed, each into the field of its wish."""

from __future__ import annotations

import math
from typing import Any

from feedscript.court.landmarks import End
from feedscript.court.lines import Court
from feedscript.court.pages import PLACE_DIRECTION
from feedscript.diagnostics import Page, Related
from feedscript.language import program as p
from feedscript.language.examples import program
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve import places
from feedscript.language.resolve.properties import choice, once
from feedscript.language.resolve.scope import Scope
from feedscript.language.resolve.values import Evaluator
from feedscript.units import Dimension

TWO_WISHES = Page(
    slug="two-wishes",
    title="A flight settled twice",
    why="""With the landing given, the speed settles the whole flight, and so does the apex, the
time of flight or the contact point. Two of them at once can hardly both come true.""",
    wrong=program(
        feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h  apex 3 m }"
    ),
    corrected=program(feed="feed deep { land 2 m inside baseline, on centre line  apex 3 m }"),
)

#: What may settle a flight, beside its landing: the line's word and the wish's field.
SETTLERS = {"speed": "speed_mps", "apex": "apex_m", "flight": "flight_s", "contact": "contact"}
_SPINS = {
    "top": "top",
    "topspin": "top",
    "back": "back",
    "backspin": "back",
    "side": "side",
    "sidespin": "side",
}


class FeedReader:
    """The lines of one feed on their way into the fields of its wish."""

    def __init__(
        self,
        scope: Scope,
        evaluator: Evaluator,
        court: Court,
        lines: dict[str, list[t.Property]],
        fields: dict[str, Any],
    ) -> None:
        self.scope, self.evaluator, self.court = scope, evaluator, court
        self.lines, self.fields = lines, fields
        self.good = True

    def read(self) -> bool:
        """Fill the fields; False where a line was wrong (reported)."""
        self._landing()
        self._place("receiver", "receiver_m")
        self._settle()
        self._value("within", "within_m", Dimension.LENGTH, 0.05, 10, "a target's radius")
        self._spin()
        self._arc()
        self._vary()
        return self.good

    def _set(self, field: str, value: Any) -> None:
        if value is None or (isinstance(value, float) and math.isnan(value)):
            self.good = False
        self.fields[field] = value

    def _place(self, key: str, field: str) -> None:
        if self.lines.get(key):
            found = places.point(
                self.evaluator, self.court, End.RECEIVER, self.lines[key][0].parts[0]
            )
            self._set(field, found.point_m if found is not None else None)

    def _landing(self) -> None:
        """One place, or all over the sweep of a launcher that swings by itself."""
        one, over = self.lines.get("land"), self.lines.get("sweep")
        if one and over:
            self.scope.report(
                TWO_WISHES,
                over[0].word,
                "`sweep` says where the balls land, and so does `land`",
                "keep `sweep` for a launcher that swings by itself, else `land`",
                (Related(self.scope.span(one[0].word), "they land at one place here"),),
            )
            self.good = False
        self._place("land", "land_m")
        if over:
            depth_m = places.depth(self.evaluator, self.court, End.RECEIVER, over[0].parts[0])
            self._set("land_m", None if depth_m is None else (0.0, depth_m))
        if one or over:
            self.fields["swept"] = bool(over)

    def _value(
        self, key: str, field: str, dimension: Dimension, low: float, high: float, what: str
    ) -> None:
        if self.lines.get(key):
            node = self.lines[key][0].parts[0]
            self._set(field, self.evaluator.within(node, dimension, low, high, what))

    def _settle(self) -> None:
        said = [key for key in SETTLERS if self.lines.get(key)]
        if len(said) > 1:
            first, second = (self.lines[key][0] for key in said[:2])
            self.scope.report(
                TWO_WISHES,
                second.word,
                f"`{second.word}` settles the flight that `{first.word}` settles already",
                "keep one of the two",
                (Related(self.scope.span(first.word), "settled here"),),
            )
            self.good = False
        if said:
            for field in SETTLERS.values():
                self.fields.pop(field, None)
        d = Dimension
        self._value("speed", "speed_mps", d.SPEED, 1, 90, "a feed's speed")
        self._value("apex", "apex_m", d.LENGTH, 0.2, 60, "an apex")
        self._value("flight", "flight_s", d.TIME, 0.1, 15, "a time of flight")
        if self.lines.get("contact"):
            self._contact(self.lines["contact"][0])

    def _contact(self, line: t.Property) -> None:
        height, behind, words = (part for part in line.parts if not isinstance(part, Token))
        if words.text not in ("behind bounce", "behind the bounce"):
            self.scope.findings.add(
                PLACE_DIRECTION.report(
                    f"`{self.scope.written(words)}` says no distance from the bounce",
                    help="write `contact 1 m high, 2 m behind bounce`",
                    span=self.scope.span(words),
                )
            )
            self.good = False
        height_m = self.evaluator.within(height, Dimension.LENGTH, 0.1, 4, "a contact's height")
        behind_m = self.evaluator.within(behind, Dimension.LENGTH, 0, 15, "the way to the contact")
        if math.isnan(height_m) or math.isnan(behind_m):
            self.good = False
            return
        self.fields["contact"] = p.Contact(height_m=height_m, behind_bounce_m=behind_m)

    def _spin(self) -> None:
        if not self.lines.get("spin"):
            return
        said: dict[str, t.Spin] = {}
        top_rpm = side_rpm = 0.0
        for spin in self.lines["spin"][0].parts:
            kind, value = self._one_spin(spin)
            if math.isnan(value):
                self.good = False
                continue
            axis = "side" if kind == "side" else "top"
            if axis in said:
                once(self.scope, spin, self.scope.span(said[axis]), f"{axis} spin")
            said[axis] = spin
            if kind == "side":
                side_rpm = value
            else:
                top_rpm = value
        self._set("top_rpm", top_rpm)
        self._set("side_rpm", side_rpm)

    def _one_spin(self, spin: t.Spin) -> tuple[str, float]:
        """The kind of spin and its signed size."""
        if spin.value is None:
            return "flat", 0.0
        size = self.evaluator.within(spin.value, Dimension.SPIN, 0, 6000, "a spin")
        word = choice(self.scope, spin.words[0], _SPINS, "kind of spin")
        kind = _SPINS.get(word or "", "top")
        if word is None:
            return kind, math.nan
        if len(spin.words) > 1:
            sides = ("ad", "deuce") if kind == "side" else ()
            side = choice(self.scope, spin.words[1], sides or ("a number next",), "side")
            if side is None:
                return kind, math.nan
            return kind, size if side == "ad" else -size
        return kind, -size if kind == "back" else size

    def _arc(self) -> None:
        if self.lines.get("arc"):
            arc = choice(self.scope, self.lines["arc"][0].parts[0], ("low", "high"), "arc")
            self._set("high_arc", None if arc is None else arc == "high")

    def _vary(self) -> None:
        if not self.lines.get("vary"):
            return
        limits = {
            "place": (Dimension.LENGTH, 5.0, "place_m"),
            "speed": (Dimension.SPEED, 15.0, "speed_mps"),
            "spin": (Dimension.SPIN, 2000.0, "spin_rpm"),
        }
        found: dict[str, Any] = {}
        said: dict[str, Token] = {}
        for part in self.lines["vary"][0].parts:
            word = str(part.word).lower()
            if word == "seed":
                found["seed"] = self.evaluator.whole(part.value, 0, 2**31 - 1, "a seed")
                self.good &= found["seed"] is not None
            else:
                dimension, most, field = limits[word]
                what = f"the variation of {word}"
                value = self.evaluator.within(part.value, dimension, 0, most, what)
                if math.isnan(value):
                    self.good = False
                    continue
                found[field] = value
            first = said.setdefault(word, part.word)
            if first is not part.word:
                once(self.scope, part.word, self.scope.span(first), f"`vary {word}`")
        self.fields["vary"] = p.Variation(**found)
