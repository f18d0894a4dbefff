"""``--cluster``: who does the work, and how far they have come."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from feedscript.cli.options import FILE
from feedscript.cli.output import Exit, refuse
from feedscript.diagnostics import FeedscriptError

if TYPE_CHECKING:
    from feedscript.check.in_pieces.cluster import OnCluster, Wanted
    from feedscript.check.in_pieces.craft import Craft
    from feedscript.check.in_pieces.work import Workers

PieceT = TypeVar("PieceT")
AnswerT = TypeVar("AnswerT")

_OPTIONS = (
    click.option(
        "--cluster",
        "cluster_address",
        metavar="URL",
        help="Work on a Dask cluster: tls://HOST:PORT of its scheduler, or local for this "
        "machine's cores. The result is the same.",
    ),
    click.option(
        "--cluster-authority",
        type=FILE,
        help="The authority (PEM) whose certificates the cluster has, and nobody else.",
    ),
    click.option(
        "--cluster-certificate",
        type=FILE,
        help="Your own certificate (PEM) of --cluster-authority.",
    ),
    click.option(
        "--cluster-key", type=FILE, help="The private key (PEM) of --cluster-certificate."
    ),
)


def cluster_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """``--cluster`` and its certificates, passed on as one ``wanted``; None without it."""

    @functools.wraps(command)
    def with_cluster(*args: Any, **options: Any) -> Any:
        address = options.pop("cluster_address")
        files = [options.pop(f"cluster_{one}") for one in ("authority", "certificate", "key")]
        return command(*args, wanted=_wanted(address, files), **options)

    for option in reversed(_OPTIONS):
        with_cluster = option(with_cluster)
    return with_cluster


def _wanted(address: str | None, files: list[Path | None]) -> Wanted | None:
    given = [one for one in files if one is not None]
    if given and len(given) < len(files):
        together = "--cluster-authority, --cluster-certificate and --cluster-key belong together"
        raise click.UsageError(together)
    if address is None:
        if given:
            raise click.UsageError("--cluster-certificate is for --cluster URL")
        return None
    from feedscript.check.in_pieces.cluster import LOCAL, Certificates, Wanted
    from feedscript.check.in_pieces.cores import cores

    if address == LOCAL and given:
        raise click.UsageError("--cluster local makes certificates of its own")
    missing = next((one for one in given if not one.is_file()), None)
    if missing is not None:
        raise click.UsageError(f"{missing} is not there, or is no file")
    return Wanted(address, Certificates(*given) if given else None, cores())


@contextmanager
def workers(wanted: Wanted | None, output_format: str) -> Iterator[Workers | None]:
    """The cluster's workers, None without a cluster. What keeps them from it ends the command."""
    if wanted is None:
        yield None
        return
    from feedscript.check.in_pieces.at_worker import DRAWS

    with workers_of(wanted, DRAWS, output_format) as found:
        yield found


@contextmanager
def workers_of(
    wanted: Wanted, craft: Craft[PieceT, AnswerT], output_format: str
) -> Iterator[OnCluster[PieceT, AnswerT]]:
    """Workers for work of this kind."""
    from feedscript.check.in_pieces.cluster import cluster
    from feedscript.check.in_pieces.cluster_pages import NO_CLUSTER, OPEN_CLUSTER

    try:
        with cluster(wanted, craft) as found:
            yield found
    except FeedscriptError as trouble:
        usage = trouble.diagnostic.slug in (NO_CLUSTER.slug, OPEN_CLUSTER.slug)
        refuse(Exit.USAGE if usage else Exit.LAUNCHER, [trouble.diagnostic], output_format)
