"""The Bluetooth LE service of the wire: a UART of three UUIDs, drawn at random for this project."""

from __future__ import annotations

from typing import Final

SERVICE: Final = "8f4e0001-52c7-4d0e-9a3b-6d1f7c25b9e4"
TO_LAUNCHER: Final = "8f4e0002-52c7-4d0e-9a3b-6d1f7c25b9e4"  # the host writes, without response
TO_HOST: Final = "8f4e0003-52c7-4d0e-9a3b-6d1f7c25b9e4"  # the launcher notifies
