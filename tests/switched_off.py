"""A protection taken out of the very function that has it, for as long as a test lasts.

What is only patched from outside may be another thing than what stands in the source. Here the
function's own words are cut out, and it is compiled anew; whoever holds it, and however it was
imported, runs what is left.
"""

from __future__ import annotations

import inspect
import textwrap
from collections.abc import Callable
from typing import Any, NamedTuple

import pytest


class Cut(NamedTuple):
    """Words of a function that go, and what stands in their place."""

    function: Callable[..., Any]
    words: str
    instead: str = ""

    def make(self, patch: pytest.MonkeyPatch) -> None:
        """Until the patches are undone. The words must stand there exactly once."""
        source = textwrap.dedent(inspect.getsource(self.function))
        assert source.count(self.words) == 1, f"{self.words!r} in {self.function.__qualname__}"
        left, flags = source.replace(self.words, self.instead), annotations.compiler_flag
        made: dict[str, Any] = {}
        whole = compile(left, inspect.getfile(self.function), "exec", flags)
        exec(whole, self.function.__globals__, made)
        (changed,) = made.values()
        patch.setattr(self.function, "__code__", changed.__code__)
