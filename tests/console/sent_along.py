"""What a paired device sends along with everything it asks: its cookie, and what its pages know."""

from __future__ import annotations

from urllib.parse import urlsplit

import httpx

from feedscript.console.access import COOKIE, Paired
from feedscript.console.walls import PAGE_KEY


def as_its_page(client: httpx.Client, answer: httpx.Response) -> None:
    """From now on the client asks as a page that was just paired; the cookie is kept already."""
    assert answer.status_code == 200, answer.text
    client.headers[PAGE_KEY] = answer.json()["page"]


def of_its_page(url: str, paired: Paired) -> dict[str, str]:
    return {
        "Cookie": f"{COOKIE}_{urlsplit(url).port}={paired.token}",
        "Origin": url,
        PAGE_KEY: paired.page,
    }
