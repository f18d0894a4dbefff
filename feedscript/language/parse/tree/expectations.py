"""Nodes of what a tester trusts."""

from __future__ import annotations

from feedscript.language.parse.token import Token
from feedscript.language.parse.tree.values import FeedRef, Quantity, SyntaxNode, Value, Words


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


class RunningSyntax(SyntaxNode, frozen=True, gc=False):
    most: Value
    subject: Subject
