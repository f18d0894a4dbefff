"""What is said of an event that cannot come where the lesson stands."""

from __future__ import annotations

from feedscript.diagnostics import FeedscriptError, Page

IMPOSSIBLE = Page(
    slug="impossible-event",
    title="Something that cannot happen where the lesson stands",
    why=(
        "A lesson changes by events in their order alone, and each has phases and places in which "
        "it can come. One that comes elsewhere is a fault of the program or, in a journal, the "
        "work of something else than feedscript; the lesson does not go on from it."
    ),
)


class ImpossibleEventError(FeedscriptError):
    """The event is refused and the state stays as it was."""


def impossible(what: str) -> ImpossibleEventError:
    """``what`` cannot be, and why not."""
    return ImpossibleEventError(
        IMPOSSIBLE.report(what, help="keep the journal and report this; it is a fault of ours")
    )
