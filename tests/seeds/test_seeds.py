"""Seeds tried here and on a real cluster come to the same words, and what is broken is found."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from itertools import repeat

import msgspec
import pytest
from click.testing import CliRunner
from distributed import Nanny
from distributed.utils import _offload_executor
from feedscript_simulator.memory import FeedMemory

from feedscript.check.in_pieces import cluster as on_cluster
from feedscript.check.in_pieces.cluster import OnCluster
from feedscript.diagnostics import FeedscriptError
from tests.language.syntax_errors import test_any_text
from tests.seeds import at_worker
from tests.seeds.__main__ import command, pieces, told
from tests.seeds.at_worker import SEEDS, Drawn, Seeds, found_from
from tests.seeds.found import Found, Wrong
from tests.seeds.kinds import KINDS, Kind, too_many_in_all, tried


@pytest.fixture(scope="module")
def workers() -> Iterator[OnCluster[Seeds, Found]]:
    """Two workers of this machine's."""
    with (
        on_cluster._of_this_machine(2) as (address, security),
        on_cluster._client(address, security) as client,
    ):
        _offload_executor.submit(int).result()  # its thread stays with the process
        yield on_cluster._same_workers(client, address, SEEDS)


def asked(name: str, seeds: list[Seeds]) -> list[tuple[Drawn, Seeds]]:
    case = Drawn(name)
    return [(case, one) for one in seeds]


def here(name: str, first: int, many: int) -> list[Found]:
    return [found_from(name, one) for one in pieces(name, first, many)]


@pytest.mark.parametrize("name", [name for name in KINDS if name != "places"])
def test_a_seed_of_every_kind_is_tried_and_nothing_is_wrong(name: str) -> None:
    found = tried(name, 3)
    assert (found.seeds, found.wrong) == (1, ())
    assert any(found.seen.values())


@pytest.mark.long
def test_places_are_held_against_balls() -> None:
    found = tried("places", 3)
    assert found.wrong == ()
    assert found.seen["places held against them"] >= 10


def test_however_seeds_are_cut_they_come_to_the_same() -> None:
    whole = found_from("texts", Seeds(5, 40))
    assert sum((found_from("texts", Seeds(n, 1)) for n in range(5, 45)), Found()) == whole
    assert whole.seeds == sum(one.many for one in pieces("texts", 5, 40)) == 40


@pytest.mark.parametrize("name", ["texts", "lines"])
def test_the_cluster_finds_what_this_process_finds(workers, name: str) -> None:
    there = workers.answers(asked(name, pieces(name, 1, 6)))
    assert list(there) == here(name, 1, 6)


def waiting(dask_scheduler) -> list[str]:
    return [key for key in dask_scheduler.tasks if "-case-" not in key and "feedscript" in key]


def test_who_stops_reading_takes_the_rest_back_from_the_workers(workers) -> None:
    with closing(workers.answers(repeat((Drawn("texts"), Seeds(1, 1))))) as answers:
        next(answers)
        while len(workers._client.run_on_scheduler(waiting)) <= 10:
            pass  # what was sent ahead reaches the scheduler bit by bit
    while workers._client.run_on_scheduler(waiting):
        pass  # what had begun ends first; the test's time limit stands behind both


def test_a_worker_with_other_tests_is_refused_by_name(workers) -> None:
    def wish(seeds: Seeds) -> bytes:
        code = at_worker.own_code() | {"tests": "others"}
        return msgspec.msgpack.encode(at_worker.Asked(code, seeds))

    other = OnCluster(workers._client, "there", replace(SEEDS, wish=wish))
    with pytest.raises(FeedscriptError, match=r"tests \w+, here others") as refused:
        next(other.answers([(Drawn("texts"), Seeds(1, 1))]))
    assert refused.value.diagnostic.slug == "cluster-differs"


def test_a_worker_killed_in_the_middle_changes_nothing(workers) -> None:
    found, killed = [], []
    for one in workers.answers(asked("texts", pieces("texts", 50, 120))):
        found.append(one)
        if not killed:
            nanny = next(iter(Nanny._instances))
            nanny.close_gracefully()  # who is killed is not begun again
            killed.append(nanny.pid)
            os.kill(nanny.pid, signal.SIGKILL)
    assert found == here("texts", 50, 120)
    left = list(workers._client.run(os.getpid).values())
    assert (len(left), killed[0] in left) == (1, False)


# What would be wrong is said to be, with its seed.


def test_an_exception_is_what_is_wrong_with_a_seed_and_no_other(monkeypatch) -> None:
    def one(seed: int) -> Found:
        if seed == 4:
            raise ValueError("four")
        return Found(seen={"seen": 1})

    monkeypatch.setitem(KINDS, "texts", Kind("odd", 3, one))
    found = sum(here("texts", 0, 9), Found())
    assert (found.seeds, found.seen) == (9, {"seen": 8})
    (wrong,) = found.wrong
    assert wrong.seed == 4
    assert wrong.what.startswith("ValueError at tests/seeds/test_seeds.py:")


def test_a_protection_that_is_off_is_found_by_its_seeds(monkeypatch) -> None:
    monkeypatch.setattr(FeedMemory, "is_used", lambda *_: False)
    assert any(tried("lines", seed).wrong for seed in range(16, 60))


def test_a_text_that_crashes_the_parser_is_found(monkeypatch) -> None:
    calls = iter(range(10_000))
    read = test_any_text.read

    def now_and_then(*words):
        if next(calls) == 7:
            raise RecursionError("too deep")
        return read(*words)

    monkeypatch.setattr(test_any_text, "read", now_and_then)
    assert [one.what.split(" ")[0] for one in found_from("texts", Seeds(0, 20)).wrong] == [
        "RecursionError"
    ]


def test_many_balls_a_little_too_near_are_found_in_all_where_no_place_says_so() -> None:
    few = Found(seen={"balls, once for each place": 1_000_000, "balls too near": 1_500})
    many = Found(seen={"balls, once for each place": 1_000_000, "balls too near": 2_500})
    assert not too_many_in_all(few)
    assert "2500 of 1000000" in too_many_in_all(many)
    assert told("places", [many])[0] is False


def test_the_command_tells_what_was_wrong_and_exits_so(monkeypatch) -> None:
    well = CliRunner().invoke(command, ["texts", "--seeds", "21", "--first", "9"])
    assert (well.exit_code, well.output) == (0, "21 seeds\n  21 spoilt texts\n")
    bad = Found(wrong=(Wrong(9, "upside down"),))
    monkeypatch.setitem(KINDS, "texts", Kind("odd", 3, lambda _: bad))
    ill = CliRunner().invoke(command, ["texts", "--seeds", "1", "--first", "9"])
    assert (ill.exit_code, ill.output) == (1, "1 seeds\n  wrong, seed 9: upside down\n")


def test_a_cluster_that_is_not_there_is_told(monkeypatch) -> None:
    monkeypatch.setattr(on_cluster, "PATIENCE_S", 0.5)
    words = ["texts", "--seeds", "1", "--cluster", "tcp://127.0.0.1:1"]
    done = CliRunner().invoke(command, words)
    assert (done.exit_code, "no scheduler answers" in done.output) == (3, True)
