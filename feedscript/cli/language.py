"""The option that says in which language something is written; apart from the others, since most
commands need no language."""

from __future__ import annotations

import click

from feedscript.cli.options import Option
from feedscript.tongues.tongue import ENGLISH, Tongue, Tongues

language_option: Option = click.option(
    "--language",
    type=click.Choice(Tongues().languages),
    default=ENGLISH,
    show_default=True,
    help="The language of what is written as HTML; German, Spanish and French were not yet read "
    "by native speakers.",
)


def tongue_of(language: str) -> Tongue:
    """The language of this option."""
    found = Tongues().named(language)
    assert found is not None
    return found
