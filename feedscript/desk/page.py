"""The desk's page itself, as whoever serves it hands it out."""

from __future__ import annotations

import secrets
from pathlib import Path
from typing import Literal

from starlette.responses import HTMLResponse

from feedscript.console.page_in import page_in
from feedscript.console.walls import SECURITY_HEADERS
from feedscript.told_units import system_told
from feedscript.tongues.tongue import Tongue, Tongues

STATIC = Path(__file__).parent / "static"


def desk_page(
    tongue: Tongue, tongues: Tongues, served: Literal["here", "club"] = "here"
) -> HTMLResponse:
    """The page in a language. ``served``: by the machine that goes to court, or by a club's server,
    where nothing is begun."""
    # The editor makes style sheets of its own; this page's nonce lets those in, and no others.
    nonce = secrets.token_urlsafe(16)
    html = page_in("desk.html", tongue, tongues, STATIC)
    html = html.replace("{nonce}", nonce).replace("{served}", served)
    html = html.replace("{units}", system_told())
    policy = SECURITY_HEADERS["Content-Security-Policy"].replace(
        "style-src 'self'", f"style-src 'self' 'nonce-{nonce}'"
    )
    return HTMLResponse(html, headers={"Content-Security-Policy": policy})
