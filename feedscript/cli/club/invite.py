"""``feedscript club invite``: a code by which one court's computer joins."""

from __future__ import annotations

import time
from contextlib import closing

import click

from feedscript.cli.club.store_option import opened, store_option
from feedscript.cli.options import format_option
from feedscript.cli.output import answer
from feedscript.formats import headed


@click.command()
@store_option
@format_option
def command(address: str | None, output_format: str) -> None:
    """Make a code by which one court's computer may join, once, within ten minutes.

    For whoever keeps the server, on its own machine; the head coach makes one on the page.
    """
    with closing(opened(address, output_format)) as store:
        from feedscript.club.store.hosts import CODE_LIFE_S, new_code

        code = new_code(store, time.time() + CODE_LIFE_S)
    words = f"The code: {code}\nAt the court's computer: feedscript club join ADDRESS"
    answer(output_format, headed("club-invite", {"code": code}), words)
