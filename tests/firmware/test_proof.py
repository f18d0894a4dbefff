"""The fence and its callers are proven, and the proof would notice: see drivers/firmware/proof."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.firmware.far_end import FIRMWARE
from tests.firmware.proof import agree
from tests.firmware.proof.planted import PLANTED, caught_by
from tests.firmware.proof.prove import claims_of, prove_all, translate

#: A few of the planted bugs, one for each way in which a proof can fall; all of them take minutes.
SOME = ("16 bits read without the lock", "driven while running down", "an id taken twice")


def test_every_claim_holds_for_every_input_and_interleaving() -> None:
    proofs = list(prove_all())
    assert [(proved.function, proved.refuted) for proved in proofs if proved.refuted] == []
    assert sum(proved.obligations for proved in proofs) > 1000


@pytest.mark.parametrize(
    "name",
    [pytest.param(name, marks=() if name in SOME else pytest.mark.long) for name in PLANTED],
)
def test_a_planted_bug_makes_a_proof_fall(name: str) -> None:
    assert caught_by(name)


def test_every_planted_bug_stands_where_the_code_has_its_place() -> None:
    """Most are planted by hand only: what no longer fits must be seen before."""
    core = {source.name: source.read_text() for source in (FIRMWARE / "core").rglob("*.c")}
    assert [name for name, bug in PLANTED.items() if bug["old"] not in core[bug["file"]]] == []


@pytest.mark.parametrize("runs", [1, pytest.param(40, marks=pytest.mark.long)])
def test_the_translator_reads_the_code_as_a_compiler_does(runs: int, tmp_path: Path) -> None:
    module = translate(agree.HARNESS)
    native = agree.Native(module, tmp_path)
    functions = claims_of(module) if runs > 1 else ["@prove_tick", "@prove_take_ball"]
    assert all(agree.compare(module, native, function, runs, seed=runs) for function in functions)


def declared(header: str) -> set[str]:
    (text,) = [found.read_text() for found in (FIRMWARE / "core").rglob(header)]
    return set(re.findall(r"^\w[\w ]* \**(\w+)\([^;{]*\);", text, re.M))


def test_no_call_into_the_fence_is_left_out() -> None:
    """Whatever anybody can call is called by some proof."""
    proof = (FIRMWARE / "proof" / "fence_proof.c").read_text()
    of_gate = {name for name in declared("fence_gate.h") if name.startswith("fence_")}
    assert of_gate
    for name in declared("fence.h") | of_gate:
        assert re.search(rf"\b{name}\(", proof), name
    callers = (FIRMWARE / "proof" / "callers_proof.c").read_text()
    inside = {
        "state_go",
        "feeder_add",
        "feeder_flush",
        "feeder_prepare",
        "feeder_note_opening",
        "feeder_ball_left",
        "feeder_look_for_loss",
        "feeder_work_head",
    }  # see the next test
    asking = {"state_now", "state_reason", "state_fault_now", "state_cause_present",
              "state_sensor_detail", "feeder_queued", "feeder_clear", "feeder_before"}  # fmt: skip
    for name in (
        (declared("state.h") | declared("feeder.h") | declared("feeding.h")) - inside - asking
    ):
        assert re.search(rf"\b{name}\(", callers), name


def test_what_only_the_proven_callers_may_call_nobody_else_calls() -> None:
    """A state is entered, a feed added, power asked for by proven code alone."""
    proven = {"state.c", "feeder.c", "feeding.c", "obey_feeding.c", "fence.c", "fence_gate.c"}
    kept = ("state_go", "feeder_add", "feeder_flush", "feeder_prepare", "feeder_note_opening",
            "feeder_ball_left", "feeder_look_for_loss", "feeder_work_head", "fence_on",
            "fence_release", "fence_ready", "fence_release_done", "fence_unlatch",
            "fence_take_trips")  # fmt: skip
    for source in sorted((FIRMWARE / "core").rglob("*.c")):
        if source.name not in proven:
            assert not re.findall(rf"\b({'|'.join(kept)})\(", source.read_text()), source.name


def test_only_the_fence_touches_an_output_or_the_watchdog() -> None:
    """Nor its gate's inner side, which asks nobody whether it may open."""
    outputs = r"\b(?:board_(?:power|wheel|gate|servo|lamp|alive)|gate_\w+)\("
    for source in sorted((FIRMWARE / "core").rglob("*.c")):
        if source.name not in ("fence.c", "fence_gate.c"):
            assert not re.findall(outputs, source.read_text()), source.name


def test_the_clock_moves_on_with_the_tick_alone() -> None:
    """What the proof supposes of the board: the tick's interrupt counts, then calls the fence."""
    board = (FIRMWARE / "boards" / "atmega328p" / "board.c").read_text()
    assert re.search(
        r"milliseconds\+\+;\n    tick_base \+= TICK_STEPS;\n    fence_tick\(\);", board
    )
    assert len(re.findall(r"\bmilliseconds\b\s*(?:\+\+|[-+]?=[^=])", board)) == 1
