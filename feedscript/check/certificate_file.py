"""A certificate as the content of a file, by its ending."""

from __future__ import annotations

import json

from feedscript.check import certificate_html, certificate_text
from feedscript.check.as_json import certificate_json
from feedscript.check.check_program import Verdict

ENDINGS = (".html", ".json", ".txt")


def page_for(ending: str, verdict: Verdict) -> str:
    """The page of a verdict that has a certificate; ``ending`` is one of ``ENDINGS``."""
    certificate = verdict.certificate
    assert certificate is not None
    title = verdict.program.title if verdict.program is not None else ""
    if ending == ".html":
        return certificate_html.page(certificate, title, verdict.hour)
    if ending == ".json":
        return json.dumps(certificate_json(verdict), indent=2, ensure_ascii=False) + "\n"
    return certificate_text.page(certificate, title) + "\n"
