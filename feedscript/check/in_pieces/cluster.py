"""Pieces of work done by a Dask cluster: another machine's, or the cores of this one.

What travels is data: cases as JSON, pieces and answers as MessagePack, and the names of the
functions of a :class:`Craft`. What the cluster itself must be trusted with, stands in SECURITY.md.
"""

from __future__ import annotations

import asyncio
import ipaddress
import logging
import uuid
from collections import deque
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import Any, Generic
from urllib.parse import urlsplit

import msgspec

from feedscript.check.in_pieces import cluster_pages
from feedscript.check.in_pieces.craft import AnswerT, Craft, HasData, PieceT, Refused
from feedscript.check.in_pieces.same_code import differing
from feedscript.diagnostics import FeedscriptError
from feedscript.one_thread import ONE_THREAD

LOCAL = "local"
#: Pieces that are asked for ahead of the one that is waited for: enough for many workers, and
#: little to take back.
AHEAD = 256
#: So long a scheduler is waited for, and so long a worker at it.
PATIENCE_S, WORKER_PATIENCE_S = 20.0, 20.0

#: A cluster of this machine's shows nothing of itself on its web server, which asks nobody's name.
#: Each worker is one thread that counts; libraries' own threads would be in their way.
_SETTINGS: dict[str, object] = {
    "distributed.scheduler.http.routes": [],
    "distributed.worker.http.routes": [],
    "distributed.nanny.pre-spawn-environ": ONE_THREAD,
}


class Certificates(msgspec.Struct, frozen=True):
    """By which the cluster and this side know each other, as PEM files."""

    authority: Path
    certificate: Path
    key: Path


class Wanted(msgspec.Struct, frozen=True):
    """The cluster that is asked for: ``local``, or a scheduler's URL with its certificates."""

    address: str
    certificates: Certificates | None = None
    workers: int = 1  # of a local one


@contextmanager
def cluster(wanted: Wanted, craft: Craft[PieceT, AnswerT]) -> Iterator[OnCluster[PieceT, AnswerT]]:
    """The workers of a cluster while it is needed; FeedscriptError where they are not to be had."""
    missing = cluster_pages.what_is_missing()
    if missing is not None:
        raise FeedscriptError(missing)
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    if wanted.address == LOCAL:
        with (
            _of_this_machine(wanted.workers) as (address, security),
            _client(address, security) as client,
        ):
            yield _same_workers(client, address, craft)
    else:
        _refuse_open(wanted)
        with _client(wanted.address, _security(wanted.certificates)) as client:
            yield _same_workers(client, wanted.address, craft)


class OnCluster(Generic[PieceT, AnswerT]):
    """The cluster's workers; where one dies, another does its pieces again."""

    def __init__(self, client: Any, address: str, craft: Craft[PieceT, AnswerT]) -> None:
        self._client, self._address, self._craft = client, address, craft
        self._name = f"feedscript-{uuid.uuid4().hex}"
        self._cases: dict[int, tuple[HasData, Any]] = {}
        self._asked = 0

    def answers(self, asked: Iterable[tuple[HasData, PieceT]]) -> Iterator[AnswerT]:
        """In the order asked for. Whoever stops reading takes back what nobody has begun."""
        coming = iter(asked)
        waiting = deque(self._sent(case, piece) for case, piece in islice(coming, AHEAD))
        try:
            while waiting:
                answer = self._received(waiting[0])
                waiting.popleft()
                waiting += (self._sent(case, piece) for case, piece in islice(coming, 1))
                yield answer
        finally:
            self._client.cancel(list(waiting), force=True)

    def _sent(self, case: HasData, piece: PieceT) -> Any:
        self._asked += 1
        wish, key = self._craft.wish(piece), f"{self._name}-{self._asked}"
        return self._client.submit(self._craft.done, self._held(case), wish, key=key, pure=False)

    def _held(self, case: HasData) -> Any:
        """The case in the cluster, sent once."""
        if id(case) not in self._cases:
            key = f"{self._name}-case-{len(self._cases)}"
            held = self._client.submit(self._craft.held, case.data, key=key, pure=False)
            self._cases[id(case)] = (case, held)
        return self._cases[id(case)][1]

    def _received(self, future: Any) -> AnswerT:
        said = self._waited_for(future)
        if isinstance(said, Refused):
            raise _differs(f"a worker of {self._address}", said.differs)
        return said

    def _waited_for(self, future: Any) -> AnswerT | Refused:
        from distributed.client import FutureCancelledError

        while True:
            try:
                return self._craft.said(future.result(timeout=WORKER_PATIENCE_S))
            except TimeoutError as late:
                if not self._client.nthreads():
                    raise _nobody(self._address, "no worker is left there") from late
            except FutureCancelledError as lost:
                raise _nobody(self._address, "the scheduler was lost in the middle") from lost
            except Exception as trouble:
                raise FeedscriptError(
                    cluster_pages.WORK_FAILED.report(
                        f"a piece of the work failed: {_words(trouble)}",
                        help="look at the workers' logs, or do it without --cluster",
                        device=self._address,
                    )
                ) from trouble


def _words(trouble: BaseException) -> str:
    first = (str(trouble).strip().splitlines() or [""])[0]
    return f"{type(trouble).__name__}: {first}"[:300]


def _differs(who: str, what: str) -> FeedscriptError:
    return FeedscriptError(
        cluster_pages.OTHER_CODE.report(
            f"{who} would come to something else: {what}",
            help="install the same versions there, and start the workers again",
        )
    )


def _nobody(address: str, words: str) -> FeedscriptError:
    return FeedscriptError(
        cluster_pages.NOT_REACHED.report(
            f"{address}: {words}",
            help="start `dask scheduler` and, on each machine that is to work, "
            "`dask worker --nthreads 1 --nworkers auto`, or do it without --cluster",
            device=address,
        )
    )


def _refuse_open(wanted: Wanted) -> None:
    """Certificates for every other machine; none where the address has no use for them."""
    try:
        parts = urlsplit(wanted.address)
        host, port = parts.hostname, parts.port
    except ValueError:
        parts, host, port = urlsplit(""), None, None
    if parts.scheme not in ("tcp", "tls") or not host or not port:
        raise _nobody(wanted.address, "no address of a scheduler; one is tls://HOST:PORT")
    secure = parts.scheme == "tls"
    if secure and wanted.certificates is None:
        words, mend = "tls:// needs certificates", "add the three files of --cluster-…"
    elif not secure and wanted.certificates is not None:
        words, mend = "tcp:// has no use for certificates", "write tls://, or leave them out"
    elif not secure and not _here(host):
        words, mend = "tcp:// reaches another machine", "write tls:// and give certificates"
    else:
        return
    found = cluster_pages.OPEN_CLUSTER.report(f"{wanted.address}: {words}", help=mend)
    raise FeedscriptError(found)


def _here(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _security(certificates: Certificates | None) -> Any:
    from distributed.security import Security

    if certificates is None:
        return Security(require_encryption=False)
    return Security(
        require_encryption=True,
        tls_ca_file=str(certificates.authority),
        tls_client_cert=str(certificates.certificate),
        tls_client_key=str(certificates.key),
    )


@contextmanager
def _of_this_machine(workers: int) -> Iterator[tuple[str, Any]]:
    """A scheduler and workers that end with this command. Their ports are on this machine alone,
    and behind certificates that only they have: other accounts are strangers too."""
    import dask
    from distributed import LocalCluster
    from distributed.security import Security

    security = Security.temporary()
    with (
        dask.config.set(_SETTINGS),
        LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            processes=True,
            host="127.0.0.1",
            protocol="tls",
            security=security,
            dashboard_address="127.0.0.1:0",
            silence_logs=logging.CRITICAL,
            memory_limit=0,
        ) as local,
    ):
        yield local.scheduler_address, security


@contextmanager
def _client(address: str, security: Any) -> Iterator[Any]:
    from distributed import Client

    try:
        asyncio.run(_knock(address, security))
        client = Client(address, security=security, timeout=PATIENCE_S, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as trouble:
        raise _nobody(address, f"no scheduler answers ({_words(trouble)})") from trouble
    try:
        yield client
    finally:
        client.close(timeout=PATIENCE_S)


async def _knock(address: str, security: Any) -> None:
    """Whether anybody is there: a client that finds nobody would leave its thread behind."""
    from distributed.comm.core import connect

    comm = await connect(address, PATIENCE_S, **security.get_connection_args("client"))
    await comm.close()


def _same_workers(
    client: Any, address: str, craft: Craft[PieceT, AnswerT]
) -> OnCluster[PieceT, AnswerT]:
    """The cluster, once somebody works there, and all who do are the same as here.

    One that joins later is asked again with each piece.
    """
    try:
        client.wait_for_workers(1, timeout=WORKER_PATIENCE_S)
    except TimeoutError as late:
        raise _nobody(address, "a scheduler answers, but no worker has joined it") from late
    said = client.run(craft.own_code, on_error="return")
    for worker, code in said.items():
        if isinstance(code, BaseException):
            raise _differs(f"the worker {worker}", f"it has no such feedscript ({_words(code)})")
        differs = differing(craft.own_code(), code)
        if differs:
            raise _differs(f"the worker {worker}", differs)
    return OnCluster(client, address, craft)
