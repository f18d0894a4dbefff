"""What a cluster's worker does with seeds. It is sent this module's names and data, and nothing
else: the tests themselves it has."""

from __future__ import annotations

import hashlib
import threading
from functools import cache

import msgspec

from feedscript.check.in_pieces import same_code
from feedscript.check.in_pieces.craft import Craft, Refused
from tests.seeds.found import Found
from tests.seeds.kinds import ROOT, tried

#: Whose sources have a say in what seeds come to, beside feedscript's own.
_SOURCES = ("tests", "drivers", "simulator", "programs")
_LIBRARIES = ("anyio", "hypothesis", "trio")


class Drawn(msgspec.Struct, frozen=True):
    """A kind of seeds, by its name."""

    name: str

    @property
    def data(self) -> bytes:
        return self.name.encode()


class Seeds(msgspec.Struct, frozen=True):
    """The seeds ``first`` to ``first + many - 1``."""

    first: int
    many: int


class Asked(msgspec.Struct, frozen=True):
    """Seeds, and by whom they may be tried."""

    code: dict[str, str]  # of the process that asks
    seeds: Seeds


#: Made at import, where one thread is alone.
_ASKED = msgspec.msgpack.Decoder(Asked)
_SAID: msgspec.msgpack.Decoder[Found | Refused] = msgspec.msgpack.Decoder(Found | Refused)
#: The virtual clock's order of tasks is the whole process's.
_ALONE = threading.Lock()


@cache
def own_code() -> dict[str, str]:
    """What this process is made of, its tests too."""
    found = hashlib.sha256()
    for folder in _SOURCES:
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix in (".py", ".feed", ".toml", ".json"):
                found.update(path.relative_to(ROOT).as_posix().encode() + b"\0")
                found.update(hashlib.sha256(path.read_bytes()).digest())
    libraries = {name: same_code.version_of(name) for name in _LIBRARIES}
    return same_code.own_code() | libraries | {"tests": found.hexdigest()[:16]}


def found_from(name: str, seeds: Seeds) -> Found:
    """What came of these seeds."""
    each = (tried(name, seed) for seed in range(seeds.first, seeds.first + seeds.many))
    return sum(each, Found())


def held(data: bytes) -> bytes:
    return data


def done(data: bytes, asked: bytes) -> bytes:
    """What came of some seeds of a kind, both as data."""
    with _ALONE:
        wish = _ASKED.decode(asked)
        differs = same_code.differing(wish.code, own_code())
        said = Refused(differs) if differs else found_from(data.decode(), wish.seeds)
        return msgspec.msgpack.encode(said)


def _wish(seeds: Seeds) -> bytes:
    return msgspec.msgpack.encode(Asked(own_code(), seeds))


SEEDS: Craft[Seeds, Found] = Craft(held, done, own_code, _wish, _SAID.decode)
