"""``feedscript club``: many courts, one history."""

from __future__ import annotations

import click

from feedscript.cli.lazy import Verbs

COMMANDS: dict[str, str] = {
    "serve": "feedscript.cli.club.serve:command",
    "password": "feedscript.cli.club.password:command",
    "export": "feedscript.cli.club.export:command",
    "invite": "feedscript.cli.club.invite:command",
    "fetch": "feedscript.cli.club.fetch:command",
    "join": "feedscript.cli.club.join:command",
    "push": "feedscript.cli.club.push:command",
}


@click.group(cls=Verbs, places=COMMANDS)
def command() -> None:
    """Keep the history of many courts on a server, and see and stop them from there."""
