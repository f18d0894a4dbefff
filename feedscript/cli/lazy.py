"""A group of verbs whose commands are imported only when they are used."""

from __future__ import annotations

import gc
import importlib
import sys
from collections.abc import Mapping
from types import ModuleType
from typing import Any

import click
from click.shell_completion import CompletionItem

from feedscript.cli.common import add_common
from feedscript.nearest import nearest
from feedscript.override import override


class Verbs(click.Group):
    """Verbs, loaded as they are asked for. ``places`` names each one's module and command, in the
    order in which they are listed; ``stages`` lists them in groups and words that need no import.
    """

    def __init__(
        self,
        *arguments: Any,
        places: Mapping[str, str],
        stages: Mapping[str, Mapping[str, str]] | None = None,
        **settings: Any,
    ) -> None:
        super().__init__(*arguments, **settings)
        self._places = places
        self._stages = stages or {}
        add_common(self)

    @override
    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self._places)

    @override
    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        place = self._places.get(cmd_name)
        if place is None:
            return None
        module, name = place.split(":")
        command = getattr(_imported(module), name)
        assert isinstance(command, click.Command)
        add_common(command)
        return command

    @override
    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """A word that is no verb is told with what was most likely meant."""
        asked = args[0]
        if not ctx.resilient_parsing and asked not in self._places and not asked.startswith("-"):
            raise click.UsageError(f"`{asked}` is no command; {self._meant(ctx, asked)}", ctx)
        return super().resolve_command(ctx, args)

    def _meant(self, ctx: click.Context, asked: str) -> str:
        if asked.endswith(".feed") and "check" in self._places:
            return f"to have the program checked, type `{ctx.command_path} check {asked}`"
        close = nearest(asked, self._places)
        if close is not None:
            return f"did you mean `{close}`?"
        return f"`{ctx.command_path} --help` lists all"

    @override
    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """Verbs in their few words, where those need no import, and options."""
        if not self._stages:
            return super().shell_complete(ctx, incomplete)
        known = [pair for verbs in self._stages.values() for pair in verbs.items()]
        found = [CompletionItem(verb, help=w) for verb, w in known if verb.startswith(incomplete)]
        return [*found, *click.Command.shell_complete(self, ctx, incomplete)]

    @override
    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        for stage, verbs in self._stages.items():
            with formatter.section(stage):
                formatter.write_dl([(verb, words) for verb, words in verbs.items()])
        if not self._stages:
            super().format_commands(ctx, formatter)


def _imported(module: str) -> ModuleType:
    """The module. What it and all that it imports are made of stays until the process ends, so the
    collector looks at it neither now nor later: a tenth of what a check takes."""
    if module in sys.modules or not gc.isenabled():
        return importlib.import_module(module)
    gc.disable()
    try:
        return importlib.import_module(module)
    finally:
        gc.freeze()
        gc.enable()
