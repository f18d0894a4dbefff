"""Compiles a harness with the core's sources, and proves what it claims, function by function."""

from __future__ import annotations

import re
import subprocess
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import z3

from tests.firmware.proof.ir import Module, read
from tests.firmware.proof.machine import Guard, Machine

FIRMWARE: Final = Path(__file__).parents[3] / "drivers" / "firmware"
HARNESSES: Final = ("fence_proof.c", "callers_proof.c")
SHARED: Final = frozenset({"@f", "@gate", "@axes"})  # by the main loop and interrupts

#: The front end as avr-gcc has it: 16-bit int, enumerations as small as they may be.
CLANG: Final = (
    "clang", "--target=avr", "-mmcu=atmega328p", "-ffreestanding", "-fshort-enums", "-std=gnu11",
    "-O0", "-S", "-emit-llvm", "-fno-discard-value-names", "-o", "-",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Proved:
    """One function of a harness: how much it had to show, and what it could not."""

    function: str
    obligations: int
    seconds: float
    refuted: tuple[str, ...]


def translate(harness: str, core: Path = FIRMWARE / "core") -> Module:
    """The intermediate text of a harness with the sources of ``core``; raises if it has errors."""
    source = FIRMWARE / "proof" / harness
    done = subprocess.run(
        [*CLANG, f"-I{core}", str(source)], capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        raise RuntimeError(done.stderr)
    return read(done.stdout)


def claims_of(module: Module) -> list[str]:
    """The functions that prove something."""
    return [name for name in module.functions if name.startswith("@prove_")]


def guard(harness: str) -> Guard:
    """The functions of the harness itself only look on."""
    text = "".join((FIRMWARE / "proof" / name).read_text() for name in (harness, "proof.h"))
    watchers = set(re.findall(r"^\w[\w ]* \**(\w+)\(", text, re.M))
    watchers |= {f"prove_{name}" for name in re.findall(r"^ASKS\((\w+),", text, re.M)}
    return Guard(SHARED, "@locked", frozenset(watchers))


def prove(harness: str, module: Module, function: str) -> Proved:
    """Work one function and ask the solver about everything that it must show."""
    began = time.perf_counter()
    machine = Machine(module, guard(harness))
    machine.run(function, [], machine.start(), function[1:])
    refuted = []
    if _possible(_any_broken(machine)):
        refuted += [o.where for o in machine.obligations if _possible(o.broken, *o.supposed)]
    if not _possible(z3.Or(machine.arrivals), *machine.supposed):
        refuted.append("its end is never reached: what is supposed contradicts itself")
    seconds = time.perf_counter() - began
    return Proved(function[1:], len(machine.obligations), seconds, tuple(dict.fromkeys(refuted)))


def _any_broken(machine: Machine) -> Any:
    """All obligations in one question: each under what was supposed before it."""
    whole: Any = z3.BoolVal(False)
    supposed = len(machine.supposed)
    for obligation in reversed(machine.obligations):
        before = len(obligation.supposed)
        whole = z3.Or(obligation.broken, z3.And(*machine.supposed[before:supposed], whole))
        supposed = before
    return z3.And(*machine.supposed[:supposed], whole)


def _possible(*conditions: Any) -> bool:
    if any(z3.is_false(condition) for condition in conditions):
        return False
    solver = z3.SolverFor("QF_BV")
    solver.add(*conditions)
    return bool(solver.check() != z3.unsat)


def prove_all(core: Path = FIRMWARE / "core") -> Iterator[Proved]:
    """Both harnesses, one function after the other."""
    for harness in HARNESSES:
        module = translate(harness, core)
        for function in claims_of(module):
            yield prove(harness, module, function)
