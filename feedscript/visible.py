"""Characters that are not seen or change how others are seen, and what is shown in their place.

A terminal obeys control characters (ECMA-48): a name that holds them could move the cursor, write
over a verdict or set the window's title. Controls of the writing direction let words be read
otherwise than they are taken (Unicode Technical Report 36, "Unicode Security Considerations", 3;
N. Boucher and R. Anderson, "Trojan Source: Invisible Vulnerabilities", 2021). Programs may hold
neither; whatever comes from elsewhere (a file, a wire, a page) goes through here at each rim.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Any

#: Controls, formats, separators of lines and paragraphs, and halves of pairs (general categories
#: Cc, Cf, Zl, Zp, Cs), save tab and line feed; the joiners that Persian, Indic and other writing
#: needs (U+200C, U+200D); and the number signs that are seen (Prepended_Concatenation_Mark).
HIDDEN = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u00ad\u061c\u180e\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f"
    "\ud800-\udfff\ufeff\ufff9-\ufffb\U00013430-\U0001343f\U0001bca0-\U0001bca3"
    "\U0001d173-\U0001d17a\U000e0001\U000e0020-\U000e007f]"
)
_BREAKS = str.maketrans("\t\n", " ␊")


def visible(text: str) -> str:
    """The same text, as long, with a picture in the place of each hidden character; itself where it
    holds none, so that words that can be told in another language stay so."""
    return text if HIDDEN.search(text) is None else HIDDEN.sub(_picture, text)


def on_one_line(text: str) -> str:
    """The same for a name or a title, which has one line and no columns."""
    return visible(text).translate(_BREAKS)


def has_hidden(text: str) -> bool:
    """Whether a name or title holds what is not seen as it is."""
    return HIDDEN.search(text) is not None or "\n" in text


def json_visible(text: str) -> str:
    """JSON that means the same, with every hidden character written as its escape."""
    return HIDDEN.sub(_escape, text)


def all_visible(value: Any) -> Any:
    """Plain data with every text in it, keys too, made visible on one line."""
    if isinstance(value, str):
        return on_one_line(value)
    if isinstance(value, list | tuple):
        return [all_visible(each) for each in value]
    if isinstance(value, dict):
        return {all_visible(key): all_visible(each) for key, each in value.items()}
    return value


def called(character: str) -> str:
    """A hidden character in words."""
    name = unicodedata.name(character, "").lower()
    return f"U+{ord(character):04X} ({name or 'a control character'})"


def _picture(found: re.Match[str]) -> str:
    code = ord(found[0])
    if code < 0x20:
        return chr(0x2400 + code)  # Unicode's control pictures
    return "␡" if code == 0x7F else "\ufffd"


def _escape(found: re.Match[str]) -> str:
    units = found[0].encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at]:02x}{units[at + 1]:02x}" for at in range(0, len(units), 2))
