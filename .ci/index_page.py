"""The README as the package index shows it: links into the repository are made whole."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from hatchling.metadata.plugin.interface import MetadataHookInterface


class IndexPage(MetadataHookInterface):
    """Fills in ``readme`` while the package is built."""

    def update(self, metadata: dict[str, Any]) -> None:
        text = (Path(self.root) / "README.md").read_text("utf-8")
        source = metadata["urls"]["Source"]
        words = with_whole_links(text, source)
        metadata["readme"] = {"content-type": "text/markdown", "text": words}


def with_whole_links(text: str, source: str) -> str:
    """Every link to a file of the repository as one that leads there from anywhere."""
    return re.sub(r"\]\((?!https?://|#)([^)]+)\)", rf"]({source}/\1)", text)
