"""How far what takes long has come: a bar for a person at a terminal, and for nobody else."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TypeVar

import click

from feedscript.cli.common import is_quiet

T = TypeVar("T")


def _hidden() -> bool:
    return is_quiet() or not sys.stderr.isatty()


def watched(what: str, steps: Iterable[T], most: int) -> Iterator[T]:
    """The steps as they come."""
    with click.progressbar(
        steps, length=most, label=what, file=sys.stderr, hidden=_hidden()
    ) as shown:
        yield from shown


@contextmanager
def counted(what: str) -> Iterator[Callable[[int, int], None]]:
    """What is told how many are done, and of how many."""
    with click.progressbar(length=1, label=what, file=sys.stderr, hidden=_hidden()) as bar:

        def watch(done: int, of: int) -> None:
            bar.length = max(of, 1)
            bar.update(done - bar.pos)

        yield watch
