"""What the pieces of one command have in common, of each kind, from its data."""

from __future__ import annotations

from typing import TypeAlias

import msgspec

from feedscript.check.in_pieces.case import Case, CaseData
from feedscript.check.in_pieces.refits import Measured, MeasuredData
from feedscript.check.in_pieces.texts import Texts, TextsData

#: Each has its ``data``, from which :func:`case_of` makes an equal one.
AnyCase: TypeAlias = Case | Measured | Texts

#: Made at import, where one thread is alone: msgspec works a type out at its first use, and the
#: interpreter crashes where two threads do so at the same time.
_DECODER: msgspec.json.Decoder[CaseData | MeasuredData | TextsData] = msgspec.json.Decoder(
    CaseData | MeasuredData | TextsData
)


def case_of(data: bytes) -> AnyCase:
    """The case again from its data; ``msgspec.DecodeError`` where that is none."""
    return _DECODER.decode(data).case()
