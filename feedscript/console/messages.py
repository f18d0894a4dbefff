"""What page and console say to each other, as JSON with a strict shape and a bounded size."""

from __future__ import annotations

from contextlib import suppress
from typing import Any

import msgspec

from feedscript.session.operator.commands import Command
from feedscript.tongues.tongue import IN_ENGLISH, Tongue
from feedscript.visible import all_visible, has_hidden

#: No honest message is longer.
MOST_BYTES = 2048


class FromPage(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One message of a page.

    ``socket`` repeats the word the console gave this socket when it opened, ``count`` rises from 1
    with each message: a copied message fits no other socket and no later moment.
    """

    socket: str
    count: int
    command: Command | None = None
    control: bool | None = None  # true: take it; false: hand it over; null: a sign of life


class PairRequest(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A code and what the device is to be called."""

    code: str
    name: str = ""


class StopRequest(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Stop without a socket; ``emergency`` removes the power at once."""

    emergency: bool = False


class CodeRequest(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Ask for a code to pair another device."""

    viewer: bool = True


_page_decoder = msgspec.json.Decoder(FromPage)
_encoder = msgspec.json.Encoder()


def read_message(text: str | bytes) -> FromPage | None:
    """The message, or None when it is too long or not of the shape."""
    if len(text) > MOST_BYTES:
        return None
    try:
        return _page_decoder.decode(text)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None


def encode(message: dict[str, Any], tongue: Tongue = IN_ENGLISH) -> str:
    """One message to a page, every word in it visible, and our own in the page's language.

    Most hold nothing hidden, which one look at the whole tells: a hidden character stands in it as
    it is or, as JSON has it, behind a backslash.
    """
    plain = msgspec.to_builtins(message, enc_hook=tongue)
    with suppress(UnicodeEncodeError):  # half of a pair
        text = _encoder.encode(plain).decode()
        if "\\" not in text and not has_hidden(text):
            return text
    return _encoder.encode(all_visible(plain)).decode()
