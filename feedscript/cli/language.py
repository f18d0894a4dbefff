"""The option that says in which language something is written; apart from the others, since most
commands need no language."""

from __future__ import annotations

import click

from feedscript.cli.options import Option
from feedscript.settings import setting
from feedscript.tongues.tongue import ENGLISH, IN_ENGLISH, Tongue, Tongues

language_option: Option = click.option(
    "--language",
    type=click.Choice(Tongues().languages),
    help="The language of pages, pictures and calendars; without it the one that the player of a "
    "sheet or a record `speaks`, else English. German, Spanish and French were not yet read by "
    "native speakers.",
)


def tongue_of(asked: str | None, players: str = "") -> Tongue:
    """The language of this option, else the player's, where there is one."""
    return Tongues().named(asked or players or setting("language") or ENGLISH) or IN_ENGLISH
