"""Options that several commands share. An option has one name and one meaning, written once here;
what a command adds to it stands behind."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

import click

from feedscript.cli.names import ProfileFile
from feedscript.cli.standard_output import OutFile
from feedscript.cli.written import WrittenFile

if TYPE_CHECKING:
    from feedscript.console.listening import Certificate

F = TypeVar("F", bound=Callable[..., Any])


class Option(Protocol):
    """An option that can be put on a command."""

    def __call__(self, command: F, /) -> F: ...


FILE = click.Path(path_type=Path, dir_okay=False)
FOLDER = click.Path(path_type=Path, file_okay=False)

OF_THE_PROGRAM = "without it, the one that the program names"
GARAGE = "without it, garage"


library_option: Option = click.option(
    "--library",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    help="The folder of your own library, of `my/NAME`; without it, what FEEDSCRIPT_LIBRARY names, "
    "else the usual folder.",
)


def out_option(
    what: str,
    *,
    required: bool = False,
    kind: click.Path = FILE,
    piped: str | None = None,
    only_new: bool = False,
) -> Option:
    """``-o`` or ``--out``: the file, or the folder, that the command is to write. ``piped`` is the
    ending of what goes to standard output, for ``-``, where that is more than a file.
    ``only_new``: the command writes over no file, and says so itself."""
    words = f"Where to write: {what}"
    if kind is FILE:
        kind = OutFile(piped, only_new=only_new)
        words += "" if piped is None else f" - is standard output, as {piped}; or say -{piped}."
    return click.option("-o", "--out", required=required, type=kind, help=words)


junit_option: Option = click.option(
    "--junit",
    "junit_file",
    type=WrittenFile(),
    help="Also write the results here as JUnit XML.",
)


def launcher_option(otherwise: str, *, required: bool = False) -> Option:
    """``--launcher PROFILE``, and what holds where it is not given."""
    words = f"The launcher's profile, a file, club/NAME or a shipped one by its name; {otherwise}."
    return click.option("--launcher", type=ProfileFile(), required=required, help=words)


def on_option(*, multiple: bool = False, required: bool = True) -> Option:
    """``--on URL``: where the launcher is; passed on as ``url``, or as ``urls`` of several."""
    return click.option(
        "--on",
        "urls" if multiple else "url",
        multiple=multiple,
        required=required and not multiple,
        metavar="URL",
        help="The launcher's address: serial:DEVICE, tcp:HOST:PORT, ble:NAME or sim:"
        + ("; once for each launcher, in the program's order." if multiple else "."),
    )


court_network_option: Option = click.option(
    "--court-network",
    "on_court_network",
    is_flag=True,
    help="Serve the page on the network this machine is joined to, for a phone; without it, on "
    "this machine alone.",
)
port_option: Option = click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    show_default="any that is free",
    help="The page's port.",
)


def certificate_options(command: F, /) -> F:
    """``--tls-certificate`` and ``--tls-key``."""
    for option in (
        click.option("--tls-key", type=FILE, help="The private key (PEM) of --tls-certificate."),
        click.option(
            "--tls-certificate",
            type=FILE,
            help="Serve the page over https with this certificate (PEM) for this machine's "
            "address.",
        ),
    ):
        command = option(command)
    return command


def certificate_of(tls_certificate: Path | None, tls_key: Path | None) -> Certificate | None:
    """The two files, if they were given. Raises UsageError for one alone."""
    from feedscript.console.listening import Certificate

    if (tls_certificate is None) != (tls_key is None):
        raise click.UsageError("--tls-certificate and --tls-key belong together")
    return Certificate(tls_certificate, tls_key) if tls_certificate and tls_key else None


def journal_option(what: str = "") -> Option:
    """``--journal FILE``, passed on as ``journal_path``: the user's own, or None where the command
    says what holds without it."""
    if what:
        words = f"The journal file; {what}."
        return click.option("--journal", "journal_path", type=FILE, help=words)
    from feedscript.journal.store import default_journal_path

    return click.option(
        "--journal",
        "journal_path",
        type=FILE,
        default=default_journal_path,
        show_default=str(default_journal_path()),
        help="The journal file.",
    )


journals_option: Option = click.option(
    "--journal",
    "journal_paths",
    multiple=True,
    type=FILE,
    help="The journal file; without it, the usual one. Several for a player's record; without it, "
    "all in the usual folder.",
)


def capture_option(what: str, *, multiple: bool = False) -> Option:
    """``--capture FILE``: every byte of a link, in a file."""
    return click.option(
        "--capture",
        multiple=multiple,
        type=FILE,
        help=f"A capture, a file with every byte of the link; {what}",
    )


format_option: Option = click.option(
    "--format",
    "output_format",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="Text for people, JSON for machines.",
)
seed_option: Option = click.option(
    "--seed",
    type=click.IntRange(0),
    help="Seed for what the program leaves to chance; without it, the plan's own.",
)
scatter_seed_option: Option = click.option(
    "--scatter-seed",
    type=click.IntRange(0),
    default=1,
    show_default=True,
    help="Seed for how the simulated launcher's balls scatter.",
)
results_option: Option = click.option(
    "--results",
    type=click.Choice(["drawn", "none"]),
    default="none",
    show_default=True,
    help="Drawn: invented players, each of a skill drawn for the lesson, hit court and target by "
    "it, so that conditions, goals and the review show something.",
)
fault_option: Option = click.option(
    "--fault",
    "faults",
    multiple=True,
    metavar="NAME=NUMBER,…",
    help="What goes wrong at the simulated launcher, such as lost=0.02,jam=7,ppm=40.",
)


def faults_option(otherwise: str) -> Option:
    """``--faults FILE``: named faults, passed on as ``faults_file``."""
    words = f"Named faults, a TOML file; {otherwise}."
    return click.option("--faults", "faults_file", type=FILE, help=words)


named_option: Option = click.option(
    "--named", multiple=True, metavar="NAME", help="Only the named fault of this name."
)
strict_option: Option = click.option(
    "--strict",
    is_flag=True,
    help="Nothing is let pass that was not decided: what is skipped, empty or says nothing fails.",
)
player_option: Option = click.option(
    "--player", help="Only this player's balls, and nobody else's name."
)


def draw_seed_option(otherwise: str) -> Option:
    """``--draw-seed N``: what drawn balls and runs begin from."""
    words = f"Seed of the first of what is drawn; {otherwise}."
    return click.option("--draw-seed", type=click.IntRange(0), help=words)
