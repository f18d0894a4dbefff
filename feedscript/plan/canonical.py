"""One way to write a plan down, so that equal plans are equal bytes on every machine.

Keys are sorted, nothing is spaced, text is UTF-8, and every float is rounded to
``DECIMALS`` decimal places of its internal unit (a micrometre, a microsecond). Two machines whose
mathematics libraries differ in the last bit of a sine differ by about 1e-13 here, so they write
the same bytes, unless a value lies within that of a rounding boundary: odds of about one in ten
million for each value. Values that a person wrote are never that near one.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any, TypeVar

import msgspec

from feedscript.memo import Memo, content
from feedscript.plan.certificate import Certificate
from feedscript.plan.model import AimedFeed, Plan
from feedscript.tongues.text import plain

DECIMALS = 6

T = TypeVar("T", Plan, AimedFeed, Certificate)

#: Made at import, where one thread is alone: msgspec works a type out at its first use, and the
#: interpreter crashes where two checks do so at the same time.
_DECODERS: Mapping[type, msgspec.json.Decoder[Any]] = {
    kind: msgspec.json.Decoder(kind) for kind in (Plan, AimedFeed, Certificate)
}


def quantised(value: float) -> float:
    """The float as it is written; ValueError for one that is not finite."""
    rounded = round(value, DECIMALS)
    if rounded - rounded != 0.0:  # infinite or not a number
        raise ValueError(f"{value} has no place in a plan")
    return rounded + 0.0  # -0.0 becomes 0.0


def _plain(value: Any) -> Any:
    """What msgspec has made plain, with every float as it is written."""
    kind = type(value)
    if kind is float:
        return quantised(value)
    if kind is dict:
        return {key: _plain(item) for key, item in value.items()}
    if kind is list or kind is tuple:
        return [_plain(item) for item in value]
    return value


def canonical_bytes(value: Any) -> bytes:
    """The canonical JSON of a frozen struct, or of anything JSON can say."""
    bare = _plain(msgspec.to_builtins(value, enc_hook=plain))
    text = json.dumps(
        bare, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    )
    return text.encode()


def digest(value: Any) -> str:
    """SHA-256 of the canonical JSON, in hexadecimal."""
    return hashlib.sha256(canonical_bytes(value)).hexdigest()


def body_hash(plan: Plan, memo: Memo | None = None) -> str:
    """The hash of a plan without its certificate; ``memo`` is of earlier checks.

    Feeds and steps, nearly all of it, are written down once while they stay as they are.
    """
    memo = Memo() if memo is None else memo
    feeds = memo.each(
        "canonical feed",
        [content(feed) for feed in plan.feeds],
        lambda rows: [canonical_bytes(plan.feeds[row]) for row in rows],
    )
    steps = memo.one("canonical steps", content(plan.steps), lambda: canonical_bytes(plan.steps))
    written = {"feeds": b"[%b]" % b",".join(feeds), "steps": steps, "certificate": b"null"}
    parts = [
        b'"%b":%b' % (name.encode(), written.get(name) or canonical_bytes(getattr(plan, name)))
        for name in sorted(Plan.__struct_fields__)
    ]
    return hashlib.sha256(b"{%b}" % b",".join(parts)).hexdigest()


def settled(struct: T) -> T:
    """The struct with every float as its canonical JSON says it, so memory and file agree."""
    decoder: msgspec.json.Decoder[T] = _DECODERS[type(struct)]
    return decoder.decode(canonical_bytes(struct))
