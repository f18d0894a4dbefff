"""Task groups wrap what goes wrong in groups; a caller that waits for one error gets that error."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator


@contextlib.contextmanager
def one_error() -> Iterator[None]:
    """Let a group that holds a single exception out as that exception."""
    try:
        yield
    except BaseExceptionGroup as group:
        single = _single(group)
        if single is None:
            raise
        raise single from single.__cause__


def _single(error: BaseException) -> BaseException | None:
    while isinstance(error, BaseExceptionGroup):
        if len(error.exceptions) != 1:
            return None
        error = error.exceptions[0]
    return error
