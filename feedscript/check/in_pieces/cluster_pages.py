"""What may keep a cluster from its work."""

from __future__ import annotations

from importlib.util import find_spec

from feedscript.diagnostics import Diagnostic, Page

NO_CLUSTER = Page(
    slug="needs-cluster",
    title="Working on a cluster needs the extra `cluster`",
    why=(
        "Work is shared among many machines by Dask, which not everybody wants to install; it "
        "comes with the extra `cluster`. Without `--cluster` this machine does the same alone."
    ),
)

NOT_REACHED = Page(
    slug="cluster-not-reached",
    title="The cluster does not answer, or nobody works there",
    why=(
        "A cluster is a scheduler and at least one worker that has joined it. Nothing was done "
        "there, or not all of it, so nothing is said of it."
    ),
)

OPEN_CLUSTER = Page(
    slug="open-cluster",
    title="A cluster without certificates",
    why=(
        "Whoever reaches a Dask scheduler can run anything on every machine of the cluster, and "
        "whoever sits between can run anything here. So another machine's scheduler is spoken to "
        "only by `tls://`, with certificates of an authority that was made for this cluster alone; "
        "`tcp://` reaches this machine only."
    ),
)

OTHER_CODE = Page(
    slug="cluster-differs",
    title="A worker is not the same as here",
    why=(
        "The result is the same whoever works it out. That holds only where everything that "
        "counts is the same: feedscript's own code, Python, numpy, shapely, scipy and msgspec, the "
        "kind of machine, and what its sine, power and logarithm come to in the last bit. One "
        "worker that differs in any of it would make a result that nobody can have again, so all "
        "is refused."
    ),
)

WORK_FAILED = Page(
    slug="cluster-failed",
    title="A piece of the work failed on the cluster",
    why=(
        "A piece that a dying worker had is given to another. One that fails otherwise, or that "
        "took several workers with it, would fail again; nothing is said of a part of the work."
    ),
)

_NEEDED = ("distributed", "cryptography")


def what_is_missing() -> Diagnostic | None:
    """Which libraries are not installed, if any."""
    missing = [name for name in _NEEDED if find_spec(name) is None]
    if not missing:
        return None
    return NO_CLUSTER.report(
        f"--cluster needs {' and '.join(missing)}, which {'is' if len(missing) == 1 else 'are'} "
        "not installed",
        help="pip install 'feedscript[cluster]', or do it without --cluster",
    )
