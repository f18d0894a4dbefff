"""What every command may be told beside its own options: colour, how much it says, and its log."""

from __future__ import annotations

import logging
import os
import sys
import time
from contextlib import suppress
from pathlib import Path

import click

from feedscript.cli.written import WrittenFile
from feedscript.override import override
from feedscript.visible import visible

#: Where a command's context keeps that only what is wrong is told.
QUIET = "feedscript.quiet"
#: Where it keeps in which units figures are to be told.
UNITS_ASKED = "feedscript.units"
#: What is written to the log, by how often -v stands there.
LEVELS = (logging.WARNING, logging.INFO, logging.DEBUG)
_LINE = "%(asctime)s %(name)s: %(message)s"

LOG = logging.getLogger("feedscript")


def is_quiet() -> bool:
    """Whether the running command was told -q."""
    context = click.get_current_context(silent=True)
    return context is not None and bool(context.meta.get(QUIET))


def add_common(command: click.Command) -> None:
    """Put the common options on a command, once."""
    known = {name for one in command.params for name in one.opts}
    command.params.extend(one for one in _common() if not known & set(one.opts))


def _common() -> tuple[click.Option, ...]:
    return (
        click.Option(
            ["--color"],
            type=click.Choice(["auto", "always", "never"]),
            default="auto",
            show_default=True,
            expose_value=False,
            is_eager=True,
            callback=_colour,
            help="Colours; auto: on a terminal, unless NO_COLOR is set.",
        ),
        click.Option(
            ["-q", "--quiet"],
            is_flag=True,
            expose_value=False,
            is_eager=True,
            callback=_quiet,
            help="Say only what is wrong; the exit code says the rest.",
        ),
        click.Option(
            ["-v", "--verbose"],
            count=True,
            expose_value=False,
            callback=_verbose,
            help="Say on the error stream what is done; twice: also each file that is read.",
        ),
        click.Option(
            ["--units"],
            type=click.Choice(["metric", "imperial"]),
            expose_value=False,
            is_eager=True,
            callback=_units,
            help="Tell speeds and lengths so: km/h and m, or mph and ft; without it, as set.",
        ),
        click.Option(
            ["--log"],
            type=WrittenFile(),
            expose_value=False,
            is_eager=True,
            callback=_log,
            help="Write what -v says into this file, at its end; alone it stands for -v.",
        ),
    )


_FILE = "feedscript.log"


def _colour(context: click.Context, _option: click.Parameter, when: str) -> None:
    if when == "auto":
        # https://no-color.org: any value but an empty one. A group's own option goes on to hold.
        if os.environ.get("NO_COLOR"):
            context.color = False
        return
    context.color = when == "always"
    os.environ.pop("NO_COLOR" if context.color else "FORCE_COLOR", None)
    os.environ["FORCE_COLOR" if context.color else "NO_COLOR"] = "1"  # for screens and pictures


def _quiet(context: click.Context, _option: click.Parameter, quiet: bool) -> None:
    if quiet:
        context.meta[QUIET] = True


def _units(context: click.Context, _option: click.Parameter, asked: str | None) -> None:
    if asked is None:
        return
    from feedscript.told_units import METRIC, SYSTEMS, tell_in

    context.meta[UNITS_ASKED] = asked
    tell_in(SYSTEMS[asked])
    context.find_root().call_on_close(lambda: tell_in(METRIC))


def _log(context: click.Context, _option: click.Parameter, file: Path | None) -> None:
    if file is not None:
        context.meta[_FILE] = file


def _verbose(context: click.Context, _option: click.Parameter, times: int) -> None:
    file = context.meta.get(_FILE)
    if not times and file is None:
        return
    level = LEVELS[min(max(times, 1), len(LEVELS) - 1)]
    try:
        handler = logging.StreamHandler(sys.stderr) if file is None else _LogFile(file)
    except OSError as trouble:
        words = trouble.strerror or str(trouble)
        raise click.UsageError(f"{file} cannot be written: {words}") from trouble
    handler.setFormatter(logging.Formatter(_LINE))
    LOG.setLevel(level)
    LOG.addHandler(handler)
    context.call_on_close(lambda: _end(handler))
    _tell_what_runs(context)


class _LogFile(logging.FileHandler):
    """The log. What cannot be written to it, on a full disk, is told once and keeps nobody from
    the work."""

    _told = False

    @override
    def handleError(self, record: logging.LogRecord) -> None:
        trouble = sys.exc_info()[1]
        if not isinstance(trouble, OSError):
            super().handleError(record)
        elif not self._told:
            self._told = True
            words = trouble.strerror or str(trouble)
            sys.stderr.write(f"{visible(self.baseFilename)} cannot be written: {words}\n")

    @override
    def close(self) -> None:
        with suppress(OSError):
            super().close()


def _end(handler: logging.Handler) -> None:
    LOG.removeHandler(handler)
    handler.close()
    LOG.setLevel(logging.NOTSET)


def _tell_what_runs(context: click.Context) -> None:
    import platform

    import feedscript

    began_s = time.monotonic()
    LOG.info(
        "%s %s, Python %s on %s",
        context.command_path,
        feedscript.__version__,
        platform.python_version(),
        sys.platform,
    )
    context.call_on_close(lambda: LOG.info("done after %.2f s", time.monotonic() - began_s))
