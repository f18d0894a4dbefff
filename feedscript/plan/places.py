"""Where in the program's text each part of a plan comes from, for diagnostics about the plan."""

from __future__ import annotations

from collections.abc import Mapping

from feedscript.diagnostics import Span
from feedscript.language.program import (
    CollectStatement,
    FeedWish,
    Program,
    RestStatement,
    SayStatement,
    SendStatement,
    ShowSpeedStatement,
    StatementNode,
)


def line_in(program: Program, span: Span, calls: tuple[Span, ...] = ()) -> int:
    """The line of the program's own file that a place belongs to.

    What another file says belongs to the line that called for it; without one, to none (0).
    """
    own = [each.line for each in (*calls, span) if each.source == program.source]
    return own[-1] if own else 0


#: Steps without a body.
_ALONE = (SendStatement, ShowSpeedStatement, RestStatement, SayStatement, CollectStatement)


class Places:
    """Spans by what a plan knows: feed index, and the step's line with the feed it sends.

    ``wishes`` and ``launchers`` have one entry for each of the plan's feeds and launchers, and
    ``lesson`` one for each of its own steps: the number of the program's step that it comes from.
    """

    def __init__(
        self, wishes: tuple[FeedWish, ...] = (), launchers: tuple[Span | None, ...] = ()
    ) -> None:
        self.wishes, self.launchers = wishes, launchers
        self.lesson: tuple[int, ...] = ()
        self.sends: dict[tuple[int, int], StatementNode] = {}
        self.steps: dict[int, StatementNode] = {}
        self.blocks: dict[int, StatementNode] = {}

    def note(self, line: int, node: StatementNode, feeds: tuple[int, ...] = ()) -> None:
        """Remember the first step of this line, and the first that sends each of these feeds."""
        self.steps.setdefault(line, node)
        if node.calls or not isinstance(node, _ALONE):
            self.blocks.setdefault(line, node)
        for feed in feeds:
            self.sends.setdefault((line, feed), node)

    def step(self, line: int, feed: int | None = None) -> Span | None:
        """The step on this line, the one that sends ``feed`` if there is one."""
        node = None if feed is None else self.sends.get((line, feed))
        node = node or self.steps.get(line)
        return None if node is None else node.span

    def block(self, line: int) -> Span | None:
        """The exercise on this line: the call that it came from, or its block; else its step."""
        node = self.blocks.get(line) or self.steps.get(line)
        if node is None:
            return None
        return node.calls[0] if node.calls else node.span

    def feed(self, index: int, part: str = "") -> Span:
        """The definition of a feed, or the part of it (``speed``, ``land``, ``spin`` …)."""
        wish = self.wishes[index]
        spans: Mapping[str, Span] = wish.spans
        return spans.get(part, wish.span)
