"""The command line: one module a command, no logic of its own."""

from __future__ import annotations

import os
import sys
from typing import Any

import click

import feedscript
from feedscript.cli.common import UNITS_ASKED
from feedscript.cli.lazy import Verbs
from feedscript.cli.output import Exit, refuse, tell
from feedscript.cli.stages import STAGES
from feedscript.host.streams import set_up_streams
from feedscript.one_thread import keep_to_one_thread
from feedscript.override import override
from feedscript.visible import visible

#: Each verb, in the order of the job, and where its command lives; a module is imported only when
#: its verb is used, so that `check` does not pay for the others.
COMMANDS: dict[str, str] = {
    "desk": "feedscript.cli.write.desk:command",
    "programs": "feedscript.cli.write.programs:command",
    "profiles": "feedscript.cli.write.profiles:command",
    "check": "feedscript.cli.prove.check:command",
    "tidy": "feedscript.cli.write.tidy:command",
    "certify": "feedscript.cli.prove.certify:command",
    "draw": "feedscript.cli.prove.draw:command",
    "rehearse": "feedscript.cli.prove.rehearse:command",
    "test": "feedscript.cli.prove.test:command",
    "playable": "feedscript.cli.prove.playable:command",
    "withstand": "feedscript.cli.prove.withstand:command",
    "touched": "feedscript.cli.prove.touched:command",
    "relive": "feedscript.cli.prove.relive:command",
    "compare": "feedscript.cli.prove.compare:command",
    "baseline": "feedscript.cli.prove.baseline:command",
    "season": "feedscript.cli.prove.season:command",
    "why": "feedscript.cli.write.why:command",
    "language-server": "feedscript.cli.write.language_server:command",
    "find": "feedscript.cli.setting_up.find:command",
    "look-over": "feedscript.cli.setting_up.look_over:command",
    "set-up": "feedscript.cli.setting_up.set_up:command",
    "pair": "feedscript.cli.setting_up.pair:command",
    "link-check": "feedscript.cli.setting_up.link_check:command",
    "board-check": "feedscript.cli.setting_up.board_check:command",
    "mapped": "feedscript.cli.setting_up.mapped:command",
    "jog": "feedscript.cli.setting_up.jog:command",
    "parts": "feedscript.cli.setting_up.parts:command",
    "stand-in": "feedscript.cli.setting_up.stand_in:command",
    "run": "feedscript.cli.on_court.run:command",
    "court-side": "feedscript.cli.on_court.court_side:command",
    "journal": "feedscript.cli.after.journal:command",
    "review": "feedscript.cli.after.review:command",
    "watch": "feedscript.cli.after.watch:command",
    "tune": "feedscript.cli.after.tune:command",
    "flight": "feedscript.cli.prove.flight:command",
    "bundle": "feedscript.cli.after.bundle:command",
    "club": "feedscript.cli.club:command",
    "settings": "feedscript.cli.write.settings:command",
    "schema": "feedscript.cli.write.schema:command",
    "completion": "feedscript.cli.write.completion:command",
    "manual": "feedscript.cli.write.manual:command",
}


#: A shell asks for completions instead of a command's work.
COMPLETES = "_FEEDSCRIPT_COMPLETE"


class _FromTheTop(Verbs):
    """The verbs of ``feedscript``."""

    @override
    def invoke(self, ctx: click.Context) -> Any:
        """What click itself has to say of an option or a file quotes them, too. Settings that
        nobody can read would be kept by no command."""
        try:
            _see_the_settings(ctx)
            return super().invoke(ctx)
        except click.ClickException as refused:
            vars(refused)["message"] = visible(refused.message)
            raise


def _see_the_settings(ctx: click.Context) -> None:
    if ctx.resilient_parsing or set(ctx._protected_args) & {"settings", "why"}:
        return
    from feedscript.diagnostics import FeedscriptError
    from feedscript.settings import settings
    from feedscript.told_units import METRIC, SYSTEMS, tell_in

    try:
        found = settings()
    except FeedscriptError as wrong:
        refuse(Exit.USAGE, [wrong.diagnostic], "text")
    if "units" in found and UNITS_ASKED not in ctx.meta:
        tell_in(SYSTEMS[found["units"].value])
        ctx.call_on_close(lambda: tell_in(METRIC))


@click.group(
    cls=_FromTheTop,
    places=COMMANDS,
    stages=STAGES,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(feedscript.__version__, "--version", prog_name="feedscript")
@click.pass_context
def verbs(context: click.Context) -> None:
    """Write tennis feeds, prove them safe, rehearse them, run them on a launcher.

    Without a verb, at a person's terminal: the desk for the programs of this folder.
    """
    if context.invoked_subcommand is None:
        person = sys.stdin.isatty() and sys.stdout.isatty()
        if not person:
            tell(context.get_help())
            return
        desk = verbs.get_command(context, "desk")
        assert desk is not None
        context.invoke(desk)


def main() -> None:
    """Run the command line. Exit codes: 0 fine, 1 errors in the program, 2 usage, 3 link."""
    set_up_streams()
    keep_to_one_thread()
    if COMPLETES in os.environ:
        from feedscript.cli.write.completion import know_our_shells

        know_our_shells()
    verbs(prog_name="feedscript")
