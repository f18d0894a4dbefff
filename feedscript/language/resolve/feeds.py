"""Feeds as wished: what a definition says, what it takes over, and its mirror image."""

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
from feedscript.language.resolve.graph import ordered
from feedscript.language.resolve.idle_facts import of_feed
from feedscript.language.resolve.properties import choice, gather, once, spans_of
from feedscript.language.resolve.scope import Scope
from feedscript.language.resolve.values import Reckoner, report_circle
from feedscript.units import Dimension

MISSING_LINE = Page(
    slug="missing-line",
    title="A feed that leaves something open",
    why="""A feed says where it lands, and one thing more that settles its flight: its speed, the
height of its apex, its time of flight, or where the player shall meet it. Nothing is guessed.""",
    wrong=program(feed="feed deep { land 2 m inside baseline, on centre line }"),
    corrected=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }"),
)

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

PAGES = (MISSING_LINE, TWO_WISHES)

#: What may settle a flight, beside its landing.
_SETTLERS = ("speed", "apex", "flight", "contact")
_SPINS = {
    "top": "top",
    "topspin": "top",
    "back": "back",
    "backspin": "back",
    "side": "side",
    "sidespin": "side",
}


def mirrored(wish: p.FeedWish, name: str, *, receiver: bool = True) -> p.FeedWish:
    """The wish on the other side of the court's long axis."""
    x_m, y_m = wish.land_m
    waits = wish.receiver_m
    if waits is not None and receiver:
        waits = (_flipped(waits[0]), waits[1])
    fields = {key: getattr(wish, key) for key in p.FeedWish.__struct_fields__}
    fields |= {
        "name": name,
        "land_m": (_flipped(x_m), y_m),
        "receiver_m": waits,
        "side_rpm": _flipped(wish.side_rpm),
        "mirrored": None,
    }
    return p.FeedWish(**fields)


def _flipped(x: float) -> float:
    return -x if x else 0.0


class Feeds:
    """Every feed of every file that was read, by its full name; None for one that is wrong."""

    def __init__(self, court: Court, lets: dict[int, Any]) -> None:
        self.court = court
        self.lets = lets
        self.wishes: dict[str, p.FeedWish | None] = {}
        self._relative: dict[str, tuple[bool, bool]] = {}  # landing, receiver

    def read_file(self, scope: Scope) -> None:
        """Read every feed of a file; the files that it uses come before."""
        nodes = scope.defined(t.Feed)

        def needs(name: str) -> list[str]:
            base = _base_name(nodes[name])
            return [base.text] if base and base.file is None and base.text in nodes else []

        order, circles = ordered(nodes, needs)
        for circle in circles:
            report_circle(scope, [_node(nodes[n].name) for n in circle], circle, "feeds")
            for name in circle:
                self.wishes[scope.prefix + name] = None
        written = {name: index for index, name in enumerate(nodes)}
        for name in order:
            if scope.prefix + name not in self.wishes:
                self._read(scope, nodes[name])
        # In the order of their definition, whatever the order of need.
        for name in sorted(nodes, key=written.__getitem__):
            self.wishes[scope.prefix + name] = self.wishes.pop(scope.prefix + name)

    def _read(self, scope: Scope, feed: t.Feed) -> None:
        name = scope.prefix + str(feed.name)
        base = self._base(scope, feed)
        lines = gather(scope, feed.properties)
        reckoner = Reckoner(scope, self.lets)
        fields: dict[str, Any] = {}
        if base is not None:
            fields = {key: getattr(base, key) for key in p.FeedWish.__struct_fields__}
        relative = self._relative.get(base.name, (False, False)) if base else (False, False)
        good = feed.base is None or base is not None
        good &= _Reading(scope, reckoner, self.court, lines, fields).read()
        relative = (_side(lines, "land", relative[0]), _side(lines, "receiver", relative[1]))
        if good and not _complete(scope, feed, fields):
            good = False
        if good and not of_feed(scope, feed, lines, _with_defaults(fields)):
            good = False
        if not good:
            self.wishes[name] = None
            return
        spans = {**(base.spans if base else {}), **spans_of(scope, lines)}
        fields |= {"name": name, "span": scope.span(feed), "spans": spans, "mirrored": None}
        self.wishes[name] = p.FeedWish(**fields)
        self._relative[name] = relative

    def _base(self, scope: Scope, feed: t.Feed) -> p.FeedWish | None:
        if feed.base is None:
            return None
        found = scope.look_up(_base_name(feed) or t.Name(0, 0, ""), t.Feed)
        if found is None:
            return None
        home, definition = found
        base = self.wishes.get(home.prefix + str(definition.name))
        if base is None or not isinstance(feed.base, t.Mirrored):
            return base
        return self.mirror(base)

    def mirror(self, wish: p.FeedWish) -> p.FeedWish:
        """``mirror`` of a wish, entered among the feeds."""
        name = wish.name.removeprefix("mirror ")
        if name == wish.name:
            name = f"mirror {wish.name}"
        known = self.wishes.get(name)
        if known is not None:
            return known
        made = mirrored(wish, name)
        self.wishes[name] = made
        self._relative[name] = self._relative.get(wish.name, (False, False))
        return made

    def for_left_handers(self) -> None:
        """Give every feed with player-relative sides its left-handed twin."""
        for name, wish in list(self.wishes.items()):
            landing, receiver = self._relative.get(name, (False, False))
            if wish is None or not landing:
                continue
            twin = mirrored(wish, f"{name} (left-hander)", receiver=receiver)
            fields = {key: getattr(wish, key) for key in p.FeedWish.__struct_fields__}
            self.wishes[name] = p.FeedWish(**{**fields, "mirrored": twin.name})
            self.wishes[twin.name] = twin


def _base_name(feed: t.Feed) -> t.Name | None:
    return feed.base.name if isinstance(feed.base, t.Mirrored) else feed.base


def _node(token: Token) -> t.Name:
    return t.Name(token.start_pos or 0, token.end_pos or 0, str(token))


def _side(lines: dict[str, list[t.Property]], key: str, inherited: bool) -> bool:
    return places.is_relative(lines[key][0].parts[0]) if lines.get(key) else inherited


def _complete(scope: Scope, feed: t.Feed, fields: dict[str, Any]) -> bool:
    """Whether the landing and the flight are settled; reports what is open."""
    if scope.damaged(feed):
        return False  # what is missing may be what could not be read
    settled = any(fields.get(key) is not None for key in _FIELDS.values())
    if "land_m" not in fields:
        message = f"the feed `{feed.name}` does not say where it lands"
        help_text = "add a line such as `land 2 m inside baseline, 1 m inside ad sideline`"
        scope.report(MISSING_LINE, feed.name, message, help_text)
    elif not settled:
        message = f"the feed `{feed.name}` does not say how fast it is"
        help_text = "add a line such as `speed 70 km/h` (or `apex`, `flight`, `contact`)"
        scope.report(MISSING_LINE, feed.name, message, help_text)
    return settled and "land_m" in fields


def _with_defaults(fields: dict[str, Any]) -> dict[str, Any]:
    return {"top_rpm": 0.0, "side_rpm": 0.0} | dict.fromkeys(_FIELDS.values()) | fields


_FIELDS = {"speed": "speed_mps", "apex": "apex_m", "flight": "flight_s", "contact": "contact"}


class _Reading:
    """The lines of one feed on their way into the fields of its wish."""

    def __init__(
        self,
        scope: Scope,
        reckoner: Reckoner,
        court: Court,
        lines: dict[str, list[t.Property]],
        fields: dict[str, Any],
    ) -> None:
        self.scope, self.reckoner, self.court = scope, reckoner, court
        self.lines, self.fields = lines, fields
        self.good = True

    def read(self) -> bool:
        """Fill the fields; False where a line was wrong (reported)."""
        self._place("land", "land_m")
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
                self.reckoner, self.court, End.RECEIVER, self.lines[key][0].parts[0]
            )
            self._set(field, found.point_m if found is not None else None)

    def _value(
        self, key: str, field: str, dimension: Dimension, low: float, high: float, what: str
    ) -> None:
        if self.lines.get(key):
            node = self.lines[key][0].parts[0]
            self._set(field, self.reckoner.within(node, dimension, low, high, what))

    def _settle(self) -> None:
        said = [key for key in _SETTLERS if self.lines.get(key)]
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
            for field in _FIELDS.values():
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
        height_m = self.reckoner.within(height, Dimension.LENGTH, 0.1, 4, "a contact's height")
        behind_m = self.reckoner.within(behind, Dimension.LENGTH, 0, 15, "the way to the contact")
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
        size = self.reckoner.within(spin.value, Dimension.SPIN, 0, 6000, "a spin")
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
                found["seed"] = self.reckoner.whole(part.value, 0, 2**31 - 1, "a seed")
                self.good &= found["seed"] is not None
            else:
                dimension, most, field = limits[word]
                what = f"the variation of {word}"
                value = self.reckoner.within(part.value, dimension, 0, most, what)
                if math.isnan(value):
                    self.good = False
                    continue
                found[field] = value
            first = said.setdefault(word, part.word)
            if first is not part.word:
                once(self.scope, part.word, self.scope.span(first), f"`vary {word}`")
        self.fields["vary"] = p.Variation(**found)
