"""The mark of an overridden method: known to the tools, free at run time."""

from __future__ import annotations

import subprocess
import sys

import pytest

SEEN = "import sys, feedscript.override as o; print('typing_extensions' in sys.modules, o.override)"


def test_it_imports_no_library() -> None:
    ran = subprocess.run([sys.executable, "-c", SEEN], capture_output=True, text=True, check=True)
    assert ran.stdout.startswith("False <function override")


@pytest.mark.parametrize("marked", [True, False])
def test_ruff_asks_no_reason_for_what_a_marked_method_leaves_unused(marked: bool) -> None:
    mark = "    @override\n" if marked else ""
    source = (
        "from feedscript.override import override\n\n\n"
        f"class Narrow(Wide):\n{mark}    def Takes(self, unused: int) -> int:\n        return 1\n"
    )
    check = ["ruff", "check", "--select", "ARG002,N802", "--stdin-filename", "feedscript/x.py", "-"]
    ran = subprocess.run(
        [sys.executable, "-m", *check], input=source, capture_output=True, text=True, check=False
    )
    assert (ran.returncode == 0) is marked, ran.stdout
