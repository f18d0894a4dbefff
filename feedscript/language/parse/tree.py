"""The syntax tree: what was written, with the place of every part; nothing is looked up yet.

``start`` and ``end`` are offsets into the text. A name or word keeps its spelling; ``Token`` is a
string that knows its place. Two trees say the same when :func:`shape` gives the same for both.
"""

from __future__ import annotations

from typing import Any, TypeAlias

import msgspec

from feedscript.language.parse.token import Token


class SyntaxNode(msgspec.Struct, frozen=True, gc=False):
    """A part of the text, from ``start`` up to but not including ``end``.

    Trees hold no cycles, so the collector need not visit them (``gc=False``): a third of the time
    that a long program takes.
    """

    start: int
    end: int


class Text(SyntaxNode, frozen=True, gc=False):
    """Words in quotation marks, as they stand in the text, marks included."""

    raw: str
    closed: bool


class Number(SyntaxNode, frozen=True, gc=False):
    """A number as written; ``good`` is false for a comma inside it and the like."""

    raw: str
    good: bool


class Quantity(SyntaxNode, frozen=True, gc=False):
    """A number and, where it has one, its unit."""

    number: Number
    unit: Token | None


class Name(SyntaxNode, frozen=True, gc=False):
    """A name, after the name of the file it comes from where that is written."""

    text: str
    file: str | None = None

    @property
    def written(self) -> str:
        """As the program says it."""
        return f"{self.file}.{self.text}" if self.file else self.text


class Mirrored(SyntaxNode, frozen=True, gc=False):
    """``mirror NAME``."""

    name: Name


class Signed(SyntaxNode, frozen=True, gc=False):
    """A value with a sign before it."""

    sign: str
    value: Value


class Chain(SyntaxNode, frozen=True, gc=False):
    """Values joined by + and -, or by * and /: ``operators[i]`` stands before ``values[i + 1]``."""

    values: tuple[Value, ...]
    operators: tuple[Token, ...]


class Grouped(SyntaxNode, frozen=True, gc=False):
    """A value in brackets."""

    value: Value


Value: TypeAlias = Quantity | Name | Signed | Chain | Grouped
FeedRef: TypeAlias = Name | Mirrored


class Words(SyntaxNode, frozen=True, gc=False):
    """Words about the court."""

    words: tuple[Token, ...]

    @property
    def text(self) -> str:
        """In small letters, single spaces between."""
        return " ".join(" ".join(self.words).lower().split())


class PlacePart(SyntaxNode, frozen=True, gc=False):
    """One part of a place: a distance (or none) and words about the court."""

    distance: Value | None
    words: Words


class Place(SyntaxNode, frozen=True, gc=False):
    """A place in words."""

    parts: tuple[PlacePart, ...]


class PlaceAt(SyntaxNode, frozen=True, gc=False):
    """A place in metres: towards the ad side, and from the net."""

    x: Value
    y: Value


class Property(SyntaxNode, frozen=True, gc=False):
    """One line of a block: its word, and what follows without the commas."""

    word: Token
    parts: tuple[Any, ...]


class Spin(SyntaxNode, frozen=True, gc=False):
    """One part of a spin; no value for ``flat``."""

    words: tuple[Token, ...]
    value: Value | None


class Labelled(SyntaxNode, frozen=True, gc=False):
    """A word and a value: one part of a wind or of a variation."""

    word: Token
    value: Value


class Block(SyntaxNode, frozen=True, gc=False):
    """The steps between braces."""

    steps: tuple[Any, ...]


class Header(SyntaxNode, frozen=True, gc=False):
    version: Token


class Title(SyntaxNode, frozen=True, gc=False):
    text: Text


class Seed(SyntaxNode, frozen=True, gc=False):
    number: Token


class Use(SyntaxNode, frozen=True, gc=False):
    path: Text
    name: Token | None


class Allow(SyntaxNode, frozen=True, gc=False):
    rule: Token
    because: Text


class Require(SyntaxNode, frozen=True, gc=False):
    rule: Token
    value: Value


class Let(SyntaxNode, frozen=True, gc=False):
    name: Token
    value: Value


class Declaration(SyntaxNode, frozen=True, gc=False):
    """``court``, ``balls``, ``launcher``, ``group``, ``coach`` or ``keep out``."""

    word: Token
    name: Any  # Token of a launcher, Text of a keep-out, else None
    properties: tuple[Property, ...]


class Feed(SyntaxNode, frozen=True, gc=False):
    """A feed of its own (``base`` None) or one derived from another."""

    name: Token
    base: FeedRef | None
    properties: tuple[Property, ...]


class Param(SyntaxNode, frozen=True, gc=False):
    name: Token
    kind: Token
    default: Any  # Value, Mirrored or None


class Pattern(SyntaxNode, frozen=True, gc=False):
    name: Token
    params: tuple[Param, ...]
    body: Block


class Lesson(SyntaxNode, frozen=True, gc=False):
    body: Block


class Expect(SyntaxNode, frozen=True, gc=False):
    expectations: tuple[Any, ...]


class SendSyntax(SyntaxNode, frozen=True, gc=False):
    feed: FeedRef
    after: Value | None
    vary: Value | None


class ShowSyntax(SyntaxNode, frozen=True, gc=False):
    feed: FeedRef


class RestSyntax(SyntaxNode, frozen=True, gc=False):
    value: Value


class SaySyntax(SyntaxNode, frozen=True, gc=False):
    text: Text


class CollectSyntax(SyntaxNode, frozen=True, gc=False):
    pass


class RepeatSyntax(SyntaxNode, frozen=True, gc=False):
    times: Value
    body: Block


class OptionSyntax(SyntaxNode, frozen=True, gc=False):
    weight: Number | Name
    body: Block


class ChooseSyntax(SyntaxNode, frozen=True, gc=False):
    seed: Token | None
    options: tuple[OptionSyntax, ...]


class ShuffleSyntax(SyntaxNode, frozen=True, gc=False):
    seed: Token | None
    body: Block


class ConditionSyntax(SyntaxNode, frozen=True, gc=False):
    """``share`` says whether ``count`` is a share of the ``last`` balls."""

    count: Number | Name
    share: bool
    outcome: Token
    in_a_row: bool
    last: Number | Name | None
    feed: FeedRef | None


class UntilSyntax(SyntaxNode, frozen=True, gc=False):
    condition: ConditionSyntax
    most: Value
    body: Block


class WhenSyntax(SyntaxNode, frozen=True, gc=False):
    condition: ConditionSyntax
    body: Block
    otherwise: Block | None


class RotateSyntax(SyntaxNode, frozen=True, gc=False):
    every: Value
    balls: bool
    body: Block


class EachSyntax(SyntaxNode, frozen=True, gc=False):
    body: Block


class StationSyntax(SyntaxNode, frozen=True, gc=False):
    name: Text
    launcher: Token | None
    body: Block


class TogetherSyntax(SyntaxNode, frozen=True, gc=False):
    stations: tuple[StationSyntax, ...]


class Slot(SyntaxNode, frozen=True, gc=False):
    """One argument of a call, after its parameter's name where that is written."""

    name: Token | None
    value: Any  # Value or Mirrored


class CallSyntax(SyntaxNode, frozen=True, gc=False):
    pattern: Name
    slots: tuple[Slot, ...]
    mirror: bool


StepSyntax: TypeAlias = (
    SendSyntax
    | ShowSyntax
    | RestSyntax
    | SaySyntax
    | CollectSyntax
    | RepeatSyntax
    | ChooseSyntax
    | ShuffleSyntax
    | UntilSyntax
    | WhenSyntax
    | RotateSyntax
    | EachSyntax
    | TogetherSyntax
    | CallSyntax
)


class Subject(SyntaxNode, frozen=True, gc=False):
    """The feed an expectation speaks of; None for every feed."""

    feed: FeedRef | None


class BoundSyntax(SyntaxNode, frozen=True, gc=False):
    measure: Token
    compare: Token
    value: Value


class Clears(SyntaxNode, frozen=True, gc=False):
    subject: Subject
    by: Value
    aimed: bool


class Lands(SyntaxNode, frozen=True, gc=False):
    share: Quantity
    subject: Subject
    within: Value


class Arrives(SyntaxNode, frozen=True, gc=False):
    subject: Subject
    low: Value
    high: Value
    aimed: bool


class Bounces(SyntaxNode, frozen=True, gc=False):
    subject: Subject
    area: Words


class Gets(SyntaxNode, frozen=True, gc=False):
    low: Value | None
    high: Value


class Waits(SyntaxNode, frozen=True, gc=False):
    most: Value


class Running(SyntaxNode, frozen=True, gc=False):
    most: Value
    subject: Subject


class Tree(SyntaxNode, frozen=True, gc=False):
    """A whole text."""

    items: tuple[Any, ...]


_SAME = {"\u2212": "-", "\u2013": "-", "\u00d7": "*", "\u00f7": "/", "\u2264": "<=", "\u2265": ">="}


def shape(node: Any) -> Any:
    """The tree without its places: equal for two texts that say the same in the same order."""
    if isinstance(node, Text):
        return ("Text", node.raw[1:-1] if node.closed else node.raw[1:], node.closed)
    if isinstance(node, SyntaxNode):
        fields = type(node).__struct_fields__[2:]
        return (type(node).__name__, *(shape(getattr(node, name)) for name in fields))
    if isinstance(node, tuple):
        return tuple(shape(part) for part in node)
    if isinstance(node, Token):
        if node.type in ("NAME", "UNIT"):
            return str(node)
        return " ".join(_SAME.get(word, word.lower()) for word in node.split())
    return _SAME.get(node, node) if isinstance(node, str) else node
