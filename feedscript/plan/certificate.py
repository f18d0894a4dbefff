"""The certificate: what was proven about a plan, as data that travels inside it.

The rules and the proof live in ``feedscript.safety``; the record lies here so that a plan can
carry it. ``seal`` is the hash of the certificate's canonical JSON with the seal left empty, and
``body`` the hash of the plan without its certificate, so neither can change alone.
"""

from __future__ import annotations

from enum import StrEnum

import msgspec


class Standing(StrEnum):
    """How a rule stands for one plan."""

    HOLDS = "holds"
    WAIVED = "waived"  # broken, and the program says why that is right
    GUIDE = "guide"  # advice that is exceeded: shown, never refused
    SILENT = "silent"  # nothing it speaks of was declared, and it says so
    REFUSED = "refused"


class Waiver(msgspec.Struct, frozen=True, kw_only=True):
    """``allow RULE because "…"``: a rule set aside, with the reason on record."""

    rule: str
    because: str
    line: int


class Requirement(msgspec.Struct, frozen=True, kw_only=True):
    """``require RULE QUANTITY``: a limit made stricter, in the internal unit."""

    rule: str
    value: float
    line: int


class Clause(msgspec.Struct, frozen=True, kw_only=True):
    """One rule's result: its worst case against its limit, and on what that rests."""

    rule: str
    standing: Standing
    worst_case: str  # which feed, which pair, which number, in words
    worst: float | None  # the number itself; null where the rule counts nothing
    limit: float | None
    margin: float | None  # how far the worst case is inside the limit; negative when broken
    unit: str
    feed: int | None = None  # index into Plan.feeds
    after_feed: int | None = None  # the feed before it, where a pair is the worst case
    line: int | None = None
    assumption: str
    source: str
    because: str = ""  # the waiver's reason


class SetUpItem(msgspec.Struct, frozen=True, kw_only=True):
    """One thing a person does or looks at before the launcher may be armed."""

    key: str
    words: str


class Certificate(msgspec.Struct, frozen=True, kw_only=True):
    """Every rule with its worst case, and everything the proof depends on."""

    rules_version: str
    body: str
    program_hash: str
    profile_hashes: tuple[str, ...]
    court_hash: str
    model: str
    model_version: str
    sigma: float
    clauses: tuple[Clause, ...]
    set_up: tuple[SetUpItem, ...]
    assumptions: tuple[str, ...]
    seal: str = ""
