"""The Bluetooth LE service of the wire: three UUIDs, each drawn at random."""

from __future__ import annotations

from typing import Final

SERVICE: Final = "56485304-c915-4bd8-8e43-0ffdd9c209fa"
TO_LAUNCHER: Final = "9f6fe516-05f0-4acc-b630-68736cbcbd3a"  # the host writes, without response
TO_HOST: Final = "49ebf5a9-eca7-4cb3-8116-d8ed935fce5b"  # the launcher notifies
