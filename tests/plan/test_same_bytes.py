"""The same program, profile and seed give the same bytes in any process."""

from __future__ import annotations

import os
import subprocess
import sys
from functools import cache

import pytest

PROGRAM = """feedscript 1
title "Everything by chance"
balls { stage green  load 70 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { 4 players  left-handed 1 }
feed deep {
    land 2 m inside baseline, on centre line
    speed 80 km/h
    vary place 0.4 m, speed 2 km/h
}
feed side { land 2 m inside baseline, 1 m inside ad sideline  speed 82 km/h  spin top 500 rpm }
lesson {
    show speed of deep
    repeat 3 { choose seed 7 { 2: send deep after 5 s  1: send side after 6 s vary 0.5 s } }
    shuffle { send deep after 6 s  send side after 6 s  rest 2 s }
    collect
    until 3 in a row in, at most 6 { send side after 5 s }
    rotate group every 30 s { send deep after 6 s }
}
"""

SCRIPT = """
import sys
from pathlib import Path
from feedscript.plan.canonical import canonical_bytes
from feedscript.check.check_program import check_program
verdict = check_program(Path("lesson.feed"), text=sys.stdin.read())
draft = verdict.plan or verdict.draft
assert draft is not None, verdict.diagnostics
sys.stdout.buffer.write(canonical_bytes(draft))
"""


@cache
def plan_bytes(hash_seed: str, **environment: str) -> bytes:
    """The plan as another process writes it, its strings hashed by this seed."""
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT],
        input=PROGRAM.encode(),
        env={**os.environ, "PYTHONHASHSEED": hash_seed, **environment},
        capture_output=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr.decode()
    return done.stdout


@pytest.mark.parametrize("other", ["1", "4242", "random"])
def test_another_hash_seed_writes_the_same_plan(other):
    assert plan_bytes("0") == plan_bytes(other)


def test_a_lesser_processor_writes_the_same_plan():
    # Without the newer vector instructions numpy takes other ways to a logarithm or a power, which
    # differ in the last bit: as close to another machine as one machine can come.
    from numpy._core._multiarray_umath import __cpu_dispatch__ as features

    assert plan_bytes("0") == plan_bytes("0", NPY_DISABLE_CPU_FEATURES=" ".join(features))
