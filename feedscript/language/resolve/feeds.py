"""Feeds as wished: what a definition says, what it takes over, and its mirror image."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import partial
from typing import Any, NamedTuple

from feedscript.court.lines import Court
from feedscript.diagnostics import Page, Span
from feedscript.language import program as p
from feedscript.language.examples import program
from feedscript.language.parse import tree as t
from feedscript.language.resolve import places
from feedscript.language.resolve.feed_lines import SETTLERS, FeedReader
from feedscript.language.resolve.graph import ordered
from feedscript.language.resolve.idle_facts import of_feed
from feedscript.language.resolve.properties import gather, spans_of
from feedscript.language.resolve.scope import Scope, named
from feedscript.language.resolve.values import Evaluator, report_circle
from feedscript.memo import Memo

MISSING_LINE = Page(
    slug="missing-line",
    title="A feed that leaves something open",
    why="""A feed says where it lands, and one thing more that settles its flight: its speed, the
height of its apex, its time of flight, or where the player shall meet it. Nothing is guessed.""",
    wrong=program(feed="feed deep { land 2 m inside baseline, on centre line }"),
    corrected=program(feed="feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }"),
)

#: A word, or what a name with hyphens begins with: behind one a minus and a number may stand too.
_WORD = re.compile(r"[^\W\d]\w*")


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


class _Read(NamedTuple):
    """A feed that was read without anything to report. ``words`` are those between its braces."""

    wish: p.FeedWish
    relative: tuple[bool, bool]
    words: frozenset[str]


class Feeds:
    """Every feed of every file that was read, by its full name; None for one that is wrong."""

    def __init__(self, court: Court, lets: dict[int, Any], memo: Memo) -> None:
        self.court = court
        self.lets = lets
        self.memo = memo
        self.wishes: dict[str, p.FeedWish | None] = {}
        self.progressions: dict[str, p.ProgressionDecl] = {}  # mirror images among them
        self._relative: dict[str, tuple[bool, bool]] = {}  # landing, receiver

    def read_file(self, scope: Scope) -> None:
        """Read every feed of a file; the files that it uses come before."""
        nodes = scope.defined(t.Feed)

        def needs(name: str) -> list[str]:
            base = _base_name(nodes[name])
            return [base.text] if base and base.file is None and base.text in nodes else []

        order, circles = ordered(nodes, needs)
        for circle in circles:
            report_circle(scope, [named(nodes[n].name) for n in circle], circle, "feeds")
            for name in circle:
                self.wishes[scope.prefix + name] = None
        written = {name: index for index, name in enumerate(nodes)}
        taken = frozenset(one.partition("-")[0] for one in (*scope.names, *scope.files))
        for name in order:
            if scope.prefix + name not in self.wishes:
                self._read_or_known(scope, nodes[name], taken)
        # In the order of their definition, whatever the order of need.
        for name in sorted(nodes, key=written.__getitem__):
            self.wishes[scope.prefix + name] = self.wishes.pop(scope.prefix + name)

    def _read_or_known(self, scope: Scope, feed: t.Feed, taken: frozenset[str]) -> None:
        """Read a feed; one that stands as it stood is known already, if it leans on no name.

        ``taken`` are the words that names of this file begin with.
        """
        name = scope.prefix + str(feed.name)
        if feed.base is None and scope.damage.none:
            text, place = scope.source.text[feed.start : feed.end], scope.source.place(feed.start)
            key = (scope.source.name, scope.prefix, place, text, self.court.name)
            known = self.memo.one("feed", key, partial(self._read_alone, scope, feed, taken))
            if known is not None and known.words.isdisjoint(taken):
                self.wishes[name], self._relative[name] = known.wish, known.relative
        if name not in self.wishes:
            self._read(scope, feed)

    def _read_alone(self, scope: Scope, feed: t.Feed, taken: frozenset[str]) -> _Read | None:
        """What is read of a feed; None where it leans on a name, or is reported on."""
        text = scope.source.text[feed.start : feed.end]
        words = frozenset(_WORD.findall(text.partition("{")[2]))
        if not words.isdisjoint(taken):
            return None
        before = len(scope.findings)
        self._read(scope, feed)
        name = scope.prefix + str(feed.name)
        wish = self.wishes[name]
        if wish is None or len(scope.findings) > before:
            return None
        return _Read(wish, self._relative[name], words)

    def _read(self, scope: Scope, feed: t.Feed) -> None:
        name = scope.prefix + str(feed.name)
        base = self._base(scope, feed)
        lines = gather(scope, feed.properties)
        evaluator = Evaluator(scope, self.lets)
        fields: dict[str, Any] = {}
        if base is not None:
            fields = {key: getattr(base, key) for key in p.FeedWish.__struct_fields__}
        relative = self._relative.get(base.name, (False, False)) if base else (False, False)
        good = feed.base is None or base is not None
        good &= FeedReader(scope, evaluator, self.court, lines, fields).read()
        relative = (_side(lines, "land", relative[0]), _side(lines, "receiver", relative[1]))
        if good and not _complete(scope, feed, fields):
            good = False
        if good and not of_feed(scope, feed, lines, _with_defaults(fields)):
            good = False
        if not good:
            self.wishes[name] = None
            return
        own = spans_of(scope, lines)
        taken = _other_landing(base.spans if base else {}, own)
        spans = {**taken, **own}
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

    def mirror_progression(self, found: p.ProgressionDecl) -> str:
        """The name of what sends the mirror image of each rung, entered among progressions."""
        name = f"mirror {found.name}"
        wishes = [self.wishes.get(step) for step in found.rungs]
        rungs = tuple(self.mirror(wish).name for wish in wishes if wish is not None)
        self.progressions[name] = p.ProgressionDecl(name=found.name, rungs=rungs)
        return name

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


def _other_landing(taken: Mapping[str, Span], own: Mapping[str, Span]) -> dict[str, Span]:
    """Where the lines stand that are taken over; not of a `land` where a `sweep` is said now."""
    instead = {"land": "sweep", "sweep": "land"}
    return {key: span for key, span in taken.items() if instead.get(key) not in own}


def _base_name(feed: t.Feed) -> t.Name | None:
    return feed.base.name if isinstance(feed.base, t.Mirrored) else feed.base


def _side(lines: dict[str, list[t.Property]], key: str, inherited: bool) -> bool:
    return places.is_relative(lines[key][0].parts[0]) if lines.get(key) else inherited


def _complete(scope: Scope, feed: t.Feed, fields: dict[str, Any]) -> bool:
    """Whether the landing and the flight are settled; reports what is open."""
    if scope.damaged(feed):
        return False  # what is missing may be what could not be read
    settled = any(fields.get(key) is not None for key in SETTLERS.values())
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
    return {"top_rpm": 0.0, "side_rpm": 0.0} | dict.fromkeys(SETTLERS.values()) | fields
