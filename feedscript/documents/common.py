"""What several documents have in common.

The types of this room describe what goes out; what makes it lies elsewhere, and a test holds every
document that is made to its type. A field's words stand behind it, or above it after ``#:``.
"""

from __future__ import annotations

from typing import Annotated, TypeAlias

import msgspec

Pair: TypeAlias = tuple[float, float]
Moment: TypeAlias = Annotated[str, msgspec.Meta(extra_json_schema={"format": "date-time"})]
Day: TypeAlias = Annotated[str, msgspec.Meta(extra_json_schema={"format": "date"})]


class RelatedPlace(msgspec.Struct, frozen=True, kw_only=True):
    """Another place that belongs to the story."""

    file: str
    line: int
    column: int
    message: str  # what is there


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """A diagnostic: what is wrong, where, and what mends it. Lines and columns count from 1; null
    where there is no text to point into."""

    slug: str  # its kind: `feedscript why SLUG` has the page
    severity: str  # error, warning or note
    file: str | None
    line: int | None
    column: int | None
    end_line: int | None
    end_column: int | None  # just past the last character
    message: str  # what is wrong, with its number
    help: str  # what mends it
    device: str  # the launcher, port or file, where there is no text
    related: tuple[RelatedPlace, ...]  # other places that belong to the story


Diagnostics: TypeAlias = tuple[Told, ...]


class Refused(msgspec.Struct, frozen=True, kw_only=True):
    """What any command says that could not do its work; it then exits with another code than 0."""

    ok: bool  # false
    diagnostics: Diagnostics


class ShareIn(msgspec.Struct, frozen=True, kw_only=True):
    """A share in court."""

    recorded: int
    in_: int = msgspec.field(name="in")  # of those recorded
    share_in: float | None  # null where nothing was recorded
    interval: Pair | None  # of the share, 95 %


DOCUMENTS = {"refused": Refused}
