"""The page about finding faults against the faults that there are."""

from __future__ import annotations

import re

from feedscript.launcher.faults import KINDS
from tests.firmware.far_end import FIRMWARE

PAGE = (FIRMWARE / "finding-faults.md").read_text(encoding="utf-8")


def test_every_fault_has_its_row_and_no_other() -> None:
    rows = re.findall(r"^\| `([a-z-]+)`[^|]*\|([^|]+)\|([^|]+)\|$", PAGE, re.M)
    assert {name for name, _, _ in rows} == KINDS
    assert all(len(saw.split()) > 2 and len(find.split()) > 2 for _, saw, find in rows)


def test_hands_stay_away_first() -> None:
    assert PAGE.index("wheels standing before a hand") < PAGE.index("| told as |")
