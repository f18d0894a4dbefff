"""Bugs planted one at a time in a copy of the core: a proof that still holds proves nothing."""

from __future__ import annotations

import shutil
import tempfile
import tomllib
from pathlib import Path
from typing import Final

from tests.firmware.proof.prove import FIRMWARE, HARNESSES, claims_of, prove, translate

PLANTED: Final[dict[str, dict[str, str]]] = tomllib.loads(
    Path(__file__).with_name("planted.toml").read_text()
)
_OF_FENCE: Final = ("fence.c", "fence_gate.c", "fence_steps.c")


def caught_by(name: str, *, first: bool = True) -> list[str]:
    """The proofs that fall; only the first of them unless all are asked for."""
    bug = PLANTED[name]
    with tempfile.TemporaryDirectory() as folder:
        core = Path(folder) / "core"
        shutil.copytree(FIRMWARE / "core", core)
        (source,) = core.rglob(bug["file"])
        text = source.read_text()
        if bug["old"] not in text:
            raise AssertionError(f"{bug['file']} has changed: fix the planted bug {name!r}")
        source.write_text(text.replace(bug["old"], bug["new"], 1))
        harness = HARNESSES[0 if bug["file"] in _OF_FENCE else 1]
        module = translate(harness, core)
    fallen = []
    likely = f"@prove_{bug.get('falls')}"  # asked first, to be quick
    for function in sorted(claims_of(module), key=lambda name: name != likely):
        if prove(harness, module, function).refuted:
            fallen.append(function.removeprefix("@prove_"))
            if first:
                break
    return fallen
