"""The page's files in a language: the words of the HTML, and those of its scripts beside them."""

from __future__ import annotations

import re
from functools import lru_cache
from html import escape
from pathlib import Path

import msgspec
from starlette.requests import HTTPConnection

from feedscript.tongues.text import CONTEXT_ENDS
from feedscript.tongues.tongue import IN_ENGLISH, Tongue, Tongues

STATIC = Path(__file__).parent / "static"
#: Where a browser keeps the language that was chosen on it.
COOKIE = "feedscript_language"
#: The words of the page stand in double braces, with a context before a bar.
WORDS = re.compile(r"\{\{\s*(?:(?P<where>[a-z ]+)\|)?(?P<words>.+?)\s*\}\}", re.DOTALL)


def tongue_of(asks: HTTPConnection, tongues: Tongues) -> Tongue:
    """The language that was chosen on a device; else the one its browser asks for."""
    chosen = tongues.named(asks.cookies.get(COOKIE, ""))
    return chosen or tongues.wanted(asks.headers.get("accept-language", "")) or IN_ENGLISH


@lru_cache(maxsize=32)
def page_in(name: str, tongue: Tongue, tongues: Tongues, static: Path = STATIC) -> str:
    """A page whole, with what its scripts say and the languages to choose from."""
    html = (static / name).read_text("utf-8")

    def told(found: re.Match[str]) -> str:
        return escape(_told(tongue, found["where"], " ".join(found["words"].split())))

    html = WORDS.sub(told, html.replace('lang="en"', f'lang="{tongue.language}"', 1))
    data = f'<script type="application/json" id="words">{_for_scripts(tongue, tongues)}</script>'
    return html.replace("</head>", f"{data}\n</head>", 1)


def _told(tongue: Tongue, where: str | None, words: str) -> str:
    key = words if where is None else where + CONTEXT_ENDS + words
    found = tongue.catalogue.words.get(key, words)
    return found if isinstance(found, str) else found[0]


def _for_scripts(tongue: Tongue, tongues: Tongues) -> str:
    """As JSON that may stand in HTML."""
    own = tongue.catalogue
    found = {
        "forms": own.forms,
        "words": own.spoken,
        "languages": {one: _name(tongues, one) for one in tongues.languages},
    }
    return msgspec.json.encode(found).decode().replace("<", "\\u003c")


def _name(tongues: Tongues, language: str) -> str:
    named = tongues.named(language)
    return language if named is None else named.catalogue.name
