"""One request of a page, and what may come of it besides an answer."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import parse_qs

import msgspec
from starlette.requests import Request

from feedscript.club.who import Person
from feedscript.console.walls import body_of
from feedscript.tongues.text import Text, _
from feedscript.tongues.tongue import Tongue, Tongues
from feedscript.visible import has_hidden

#: No honest form is longer: a group of some hundred names.
MOST_FORM_BYTES, MOST_FIELDS = 50_000, 300


class RefusalError(Exception):
    """What is told instead, with the status of the answer."""

    def __init__(self, status: int, title: Text, words: Text) -> None:
        super().__init__(title)
        self.status = status
        self.title = title
        self.words = words


def not_there() -> RefusalError:
    """The same for what is not there and for what is not this person's to see."""
    return RefusalError(
        404,
        _("There is nothing here for you"),
        _("It does not exist, or belongs to somebody else's group. The head coach can help."),
    )


class Visit(msgspec.Struct, frozen=True, kw_only=True, eq=False):
    """Who asks, for what, and with which form."""

    tongue: Tongue
    tongues: Tongues
    person: Person | None
    path: Mapping[str, str]
    query: Mapping[str, str]
    form: Mapping[str, list[str]]
    cookies: Mapping[str, str]
    address: str
    base: str  # of the server, as the browser wrote it
    secure: bool
    now_utc_s: float

    @property
    def by(self) -> Person:
        """Who has signed in; there is somebody wherever a page is not for strangers."""
        assert self.person is not None
        return self.person

    def told(self, field: str, most: int = 80) -> str:
        """A line of the form; "" where it was left out. Raises RefusalError for one too long, or
        with characters that are not seen."""
        words = (self.form.get(field) or [""])[-1].strip()
        if len(words) > most or has_hidden(words):
            raise bad_form()
        return words

    def secret(self, field: str) -> str:
        """The same as it is, with its blanks."""
        return (self.form.get(field) or [""])[-1]


def bad_form() -> RefusalError:
    """For what no page of ours sends."""
    return RefusalError(
        422,
        _("That cannot be taken"),
        _("Something in the form is too long, missing, or holds characters that are not seen."),
    )


async def form_of(request: Request, most_bytes: int = MOST_FORM_BYTES) -> dict[str, list[str]]:
    """The fields of a posted form. Raises RefusalError."""
    body = await body_of(request, most_bytes)
    if body is None:
        raise RefusalError(413, _("That cannot be taken"), _("The form is too long."))
    try:
        text = body.decode("ascii")
        return parse_qs(text, keep_blank_values=True, max_num_fields=MOST_FIELDS, errors="strict")
    except (ValueError, UnicodeDecodeError):
        raise bad_form() from None
