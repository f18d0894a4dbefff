"""Files about a launcher's own electronics and language, which drivers read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from feedscript.launcher.tools import tool

DOCUMENTS: dict[str, type[Any]] = {}
#: What has no number of its format.
PLAIN: Mapping[str, type[Any]] = tool("described-files")()
