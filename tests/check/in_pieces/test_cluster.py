"""Draws on a real cluster of this machine's: the same bytes, and every refusal in words."""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Iterator
from contextlib import closing
from itertools import repeat
from pathlib import Path

import pytest
from click.testing import CliRunner
from distributed import LocalCluster, Nanny
from distributed.security import Security
from distributed.utils import _offload_executor

import feedscript
from feedscript.check import bootstrap as fitting
from feedscript.check import on_launchers, testing
from feedscript.check import sample as sampling
from feedscript.check.bootstrap import bootstrap
from feedscript.check.check_program import check_program
from feedscript.check.in_pieces import cluster as on_cluster
from feedscript.check.in_pieces import cluster_pages
from feedscript.check.in_pieces.at_worker import DRAWS
from feedscript.check.in_pieces.case import Case
from feedscript.check.in_pieces.cluster import Certificates, OnCluster, Wanted, cluster
from feedscript.check.in_pieces.pieces import LauncherPiece, RefitsPiece, RunsPiece
from feedscript.check.in_pieces.refits import Measured
from feedscript.check.in_pieces.same_code import own_code
from feedscript.check.sample import sample
from feedscript.cli import verbs
from feedscript.diagnostics import FeedscriptError
from feedscript.launcher.tuning.fit import Fit
from feedscript.safety.analysis.plan_facts import PlanFacts
from feedscript.shipped import shipped_programs
from tests.check.in_pieces.measured import few_balls

LESSON = """feedscript 1
title "Two feeds"
launcher { profile "garage.toml"  stands 1 m behind centre mark }
feed deep { land 2 m inside baseline, on centre line  speed 85 km/h  spin top 600 rpm }
lesson { show speed of deep  repeat 5 { send deep after 5 s } }
expect {
    95 % of deep within 0.6 m
    20 % of deep within 0.6 m
    balls = 6
}
"""


def files_of(security: Security, folder: Path) -> Certificates:
    folder.mkdir()
    found = []
    names = ("tls_ca_file", "tls_client_cert", "tls_client_key")
    for name in names:
        path = folder / f"{name}.pem"
        path.write_text(getattr(security, name))
        found.append(path)
    return Certificates(*found)


@pytest.fixture(scope="module")
def there(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Wanted]:
    """A cluster of two workers, as ``--cluster local`` starts one, and how to reach it by URL."""
    with on_cluster._of_this_machine(2) as (address, security):
        _offload_executor.submit(int).result()  # its thread stays with the process
        folder = tmp_path_factory.mktemp("cluster") / "certificates"
        yield Wanted(address, files_of(security, folder))


@pytest.fixture(scope="module")
def workers(there: Wanted) -> Iterator[OnCluster]:
    with cluster(there, DRAWS) as found:
        yield found


@pytest.fixture(scope="module")
def facts() -> PlanFacts:
    found = check_program(shipped_programs()["friday-seven"]).facts
    assert found is not None
    return found


@pytest.fixture(scope="module")
def measured() -> tuple[Measured, Fit]:
    return few_balls()


@pytest.fixture
def lesson(tmp_path: Path) -> str:
    path = tmp_path / "lesson.feed"
    path.write_text(LESSON)
    return str(path)


def options(there: Wanted) -> list[str]:
    files = there.certificates
    assert files is not None
    found = ["--cluster", there.address, "--cluster-authority", str(files.authority)]
    return [
        *found,
        "--cluster-certificate",
        str(files.certificate),
        "--cluster-key",
        str(files.key),
    ]


def told(*words: str) -> tuple[int, str]:
    done = CliRunner().invoke(verbs, words)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.output


@pytest.mark.parametrize(
    "command",
    [
        ("check", "--sample", "40", "--draw-seed", "3", "LESSON"),
        ("test", "--draws", "1101", "--draw-seed", "3", "LESSON"),
        ("playable", "LESSON", "library/depth_cross", "nobody", "--launcher", "garage"),
    ],
)
def test_the_cluster_says_what_this_process_says(command, lesson, there, monkeypatch):
    monkeypatch.setattr(testing, "CHUNK", 500)
    words = [lesson if word == "LESSON" else word for word in (*command, "--format", "json")]
    alone = told(*words)
    assert json.loads(alone[1])
    assert told(*words, *options(there)) == alone


def test_a_fit_is_made_anew_there_as_here(measured, workers, monkeypatch):
    monkeypatch.setattr(fitting, "REFITS", 2)
    case, found = measured
    assert bootstrap(case, found, 6, 3, workers) == bootstrap(case, found, 6, 3)


def waiting(dask_scheduler) -> list[str]:
    return [key for key in dask_scheduler.tasks if "-case-" not in key and "feedscript" in key]


@pytest.mark.parametrize("kind", ["runs", "refits", "launcher"])
def test_who_stops_reading_takes_the_rest_back_from_the_workers(
    kind, facts, measured, lesson, workers
):
    if kind == "runs":
        asked = repeat((Case(facts), RunsPiece(1, 3)))
    elif kind == "refits":
        asked = repeat((measured[0], RefitsPiece(1, 0, 1)))
    else:
        texts = on_launchers._texts(Path(lesson), None)
        asked = repeat((texts, LauncherPiece("garage", facts.profiles[0])))
    with closing(workers.answers(asked)) as answers:
        next(answers)
        while len(workers._client.run_on_scheduler(waiting)) <= 10:
            pass  # what was sent ahead reaches the scheduler bit by bit
    while workers._client.run_on_scheduler(waiting):
        pass  # what had begun ends first; the test's time limit stands behind both


@pytest.fixture
def other_code_here(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The workers are processes of their own, and stay as they are."""
    with monkeypatch.context() as patch:
        patch.setattr(feedscript, "__version__", "0.0")
        own_code.cache_clear()
        yield
    own_code.cache_clear()


@pytest.mark.usefixtures("other_code_here")
def test_a_worker_with_other_code_is_refused_by_name(there):
    with pytest.raises(FeedscriptError, match="here 0") as refused, cluster(there, DRAWS):
        pass
    assert refused.value.diagnostic.slug == "cluster-differs"


@pytest.mark.usefixtures("other_code_here")
def test_a_worker_that_joins_later_with_other_code_is_refused_too(workers, facts):
    with pytest.raises(FeedscriptError, match="come to something else") as refused:
        next(workers.answers([(Case(facts), RunsPiece(1, 1))]))
    assert refused.value.diagnostic.slug == "cluster-differs"


def test_what_fails_at_a_worker_is_told_and_no_traceback(workers, facts):
    class Broken(Case, frozen=True):
        data = b"{}"

    with pytest.raises(FeedscriptError, match="failed") as refused:
        next(workers.answers([(Broken(facts), RunsPiece(1, 1))]))
    assert refused.value.diagnostic.slug == "cluster-failed"


def test_a_stranger_to_the_authority_is_not_let_in(there, lesson, tmp_path, monkeypatch):
    monkeypatch.setattr(on_cluster, "PATIENCE_S", 1.0)
    strange = files_of(Security.temporary(), tmp_path / "strange")
    with pytest.raises(FeedscriptError) as refused, cluster(Wanted(there.address, strange), DRAWS):
        pass
    assert refused.value.diagnostic.slug == "cluster-not-reached"


def test_a_worker_killed_in_the_middle_changes_nothing(facts, workers, monkeypatch):
    monkeypatch.setattr(sampling, "RUN_BALLS", 600)
    alone = sample(facts, 10, 1)
    killed = []

    def killing(what, steps, most):
        for number, step in enumerate(steps):
            if number == 1 and what == "runs":
                nanny = next(iter(Nanny._instances))
                nanny.close_gracefully()  # who is killed is not begun again
                killed.append(nanny.pid)
                os.kill(nanny.pid, signal.SIGKILL)
            yield step

    assert sample(facts, 10, 1, workers, killing) == alone
    left = list(workers._client.run(os.getpid).values())
    assert (len(left), killed[0] in left) == (1, False)


def test_a_scheduler_without_workers_is_told(lesson, monkeypatch):
    monkeypatch.setattr(on_cluster, "WORKER_PATIENCE_S", 0.5)
    with LocalCluster(n_workers=0, dashboard_address=None, host="127.0.0.1") as empty:
        code, out = told("check", "--sample", "3", lesson, "--cluster", empty.scheduler_address)
    assert (code, "no worker has joined" in out) == (3, True)


def test_a_cluster_that_dies_in_the_middle_is_told(facts, monkeypatch):
    monkeypatch.setattr(on_cluster, "WORKER_PATIENCE_S", 0.5)
    case = Case(facts)
    with (
        LocalCluster(n_workers=0, dashboard_address=None, host="127.0.0.1") as dying,
        on_cluster._client(dying.scheduler_address, Security()) as client,
    ):
        left_alone = OnCluster(client, dying.scheduler_address, DRAWS)
        with pytest.raises(FeedscriptError, match="no worker is left there"):
            next(left_alone.answers([(case, RunsPiece(1, 1))]))
        sent = left_alone._sent(case, RunsPiece(1, 1))
        dying.close()
        with pytest.raises(FeedscriptError, match="the scheduler was lost in the middle"):
            left_alone._waited_for(sent)


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--sample", "3", "--cluster", "tcp://10.0.0.7:8786"], 2, "reaches another machine"),
        (["--sample", "3", "--cluster", "tls://10.0.0.7:8786"], 2, "needs certificates"),
        (["--sample", "3", "--cluster", "nowhere"], 3, "no address of a scheduler"),
        (["--sample", "3", "--cluster", "tls://[::1"], 3, "no address of a scheduler"),
        (["--sample", "3", "--cluster", "tcp://127.0.0.1:1"], 3, "no scheduler answers"),
        (["--cluster", "local"], 2, "--cluster is for --sample"),
        (["--sample", "3", "--cluster-key", "k.pem"], 2, "belong together"),
    ],
)
def test_what_cannot_be_is_refused_in_words(words, code, said, lesson, monkeypatch):
    monkeypatch.setattr(on_cluster, "PATIENCE_S", 0.5)
    found, out = told("check", lesson, *words)
    assert (found, said in out) == (code, True), out
    assert "Traceback" not in out


def test_without_the_extra_it_is_named(lesson, monkeypatch):
    monkeypatch.setattr(cluster_pages, "find_spec", lambda name: None)
    code, out = told("test", lesson, "--cluster", "local")
    assert (code, "pip install 'feedscript[cluster]'" in out) == (2, True)
