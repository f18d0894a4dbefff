"""``make prove``: the proofs, and with ``--planted`` that they fall when a bug is planted."""

from __future__ import annotations

import sys
import time

from tests.firmware.proof.planted import PLANTED, caught_by
from tests.firmware.proof.prove import prove_all


def main() -> int:
    """Print each proof; 1 if one fails, or if a planted bug passes."""
    return _planted() if sys.argv[1:] == ["--planted"] else _prove()


def _prove() -> int:
    began, obligations, functions, wrong = time.perf_counter(), 0, 0, 0
    for proved in prove_all():
        word = "REFUTED" if proved.refuted else "proved"
        print(
            f"{word:8} {proved.function:22} {proved.obligations:4} obligations"
            f" {proved.seconds:6.2f} s",
            flush=True,
        )
        for where in proved.refuted:
            print(f"           {where}")
        functions += 1
        obligations += proved.obligations
        wrong += bool(proved.refuted)
    seconds = time.perf_counter() - began
    print(f"{functions} functions, {obligations} obligations, {seconds:.1f} s; {wrong} refuted")
    print("What is proven, supposed and trusted: drivers/firmware/proof/README.md")
    return int(wrong > 0)


def _planted() -> int:
    passed = 0
    for name in PLANTED:
        fallen = caught_by(name)
        passed += not fallen
        print(f"{'caught' if fallen else 'PASSES':7} {name:44} {' '.join(fallen)}", flush=True)
    print(f"{len(PLANTED) - passed} of {len(PLANTED)} planted bugs caught")
    return int(passed > 0)


if __name__ == "__main__":
    sys.exit(main())
