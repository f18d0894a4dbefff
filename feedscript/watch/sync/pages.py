"""The pages of the diagnostics that bringing a film and a lesson together gives rise to."""

from __future__ import annotations

from feedscript.diagnostics import Page

NOT_TOGETHER = Page(
    slug="not-together",
    title="Where the lesson's balls are in the film is not known",
    why=(
        "A ball is heard as it leaves the launcher and as it bounces. Those sounds are laid beside "
        "the times that the journal has, and the one place where they agree is taken. If nothing "
        "agrees, the film is of something else or too noisy. Where two places do about as well, as "
        "with like balls at an even beat, none is chosen by chance: then a person says where one "
        "ball leaves."
    ),
)

PAGES = (NOT_TOGETHER,)
