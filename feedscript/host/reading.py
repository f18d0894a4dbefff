"""What reads standard input, whatever the system."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import TypeAlias

#: The next bytes, waited for; b"" once there will be no more.
Read: TypeAlias = Callable[[], Awaitable[bytes]]

CHUNK = 1024
