"""What a cluster's worker does. It is sent this module's names and data, and nothing else."""

from __future__ import annotations

import hashlib
import threading
from collections import OrderedDict

import msgspec

from feedscript.check.in_pieces.cases import AnyCase, case_of
from feedscript.check.in_pieces.craft import Craft, Refused
from feedscript.check.in_pieces.pieces import Answer, Piece
from feedscript.check.in_pieces.same_code import differing, own_code
from feedscript.check.in_pieces.work import work
from feedscript.host.memory import keep_freed_memory


class Asked(msgspec.Struct, frozen=True):
    """One piece, and by whom it may be done."""

    code: dict[str, str]  # of the process that asks
    piece: Piece


Said = Answer | Refused

#: Made at import, where one thread is alone.
_ASKED = msgspec.msgpack.Decoder(Asked)
_SAID: msgspec.msgpack.Decoder[Said] = msgspec.msgpack.Decoder(Said)
#: A worker may have several threads; what is kept of a case is for one at a time.
_ALONE = threading.Lock()
_MOST_CASES = 4
_cases: OrderedDict[bytes, AnyCase] = OrderedDict()


def held(data: bytes) -> bytes:
    """The case's data, kept in the cluster, where it can be had again whoever dies."""
    return data


def done(data: bytes, asked: bytes) -> bytes:
    """What came of one piece of a case, both as data.

    Dask has its workers give memory back at every turn: with arrays as long as a chunk that costs
    twice as much as the draws themselves, and what a chunk needs is bounded anyway.
    """
    with _ALONE:
        keep_freed_memory()
        wish = _ASKED.decode(asked)
        differs = differing(wish.code, own_code())
        said: Said = Refused(differs) if differs else work(kept_case(data), wish.piece)
        return msgspec.msgpack.encode(said)


def wish_for(piece: Piece) -> bytes:
    """What a worker is sent of one piece."""
    return msgspec.msgpack.encode(Asked(own_code(), piece))


def said_in(data: bytes) -> Said:
    """What a worker said; ``msgspec.DecodeError`` where it is nothing of the kind."""
    return _SAID.decode(data)


def kept_case(data: bytes) -> AnyCase:
    """The case, with what earlier pieces have worked out of it."""
    key = hashlib.sha256(data).digest()
    if key not in _cases:
        _cases[key] = case_of(data)
    _cases.move_to_end(key)
    while len(_cases) > _MOST_CASES:
        _cases.popitem(last=False)
    return _cases[key]


#: Draws, refits and verdicts.
DRAWS: Craft[Piece, Answer] = Craft(held, done, own_code, wish_for, said_in)
