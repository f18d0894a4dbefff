"""Documents of the commands for writing programs."""

from __future__ import annotations

from typing import Any

import msgspec
from msgspec import UNSET, UnsetType

from feedscript.diagnostics import Page
from feedscript.documents.common import Diagnostics, Told


class ListedProgram(msgspec.Struct, frozen=True, kw_only=True):
    """One program, and what it says of itself."""

    name: str
    file: str
    own: bool  # of your own library
    season: bool  # it plans lessons, and names programs
    title: str
    minutes: float | None  # the time meant for it
    themes: tuple[str, ...]  # what it is about
    stages: tuple[str, ...]  # for whom: stages and levels
    players: tuple[int, int] | None  # for how many, least and most
    needs: tuple[str, ...]  # equipment
    fault: Told | None  # the first error of one that cannot be used


class Programs(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript programs`: what there is to run or to use."""

    library: str  # the folder of your own
    programs: tuple[ListedProgram, ...]


class ListedProfile(msgspec.Struct, frozen=True, kw_only=True):
    """One launcher's profile."""

    name: str
    file: str
    title: str  # what people call the launcher
    diagnostics: Diagnostics


class Profiles(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript profiles`: the launchers' profiles that come with feedscript."""

    profiles: tuple[ListedProfile, ...]


class OneSetting(msgspec.Struct, frozen=True, kw_only=True):
    """One setting."""

    value: str
    from_: str | None = msgspec.field(name="from")  # who says so; null: nobody, it is the usual


class Settings(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript settings`: what holds where a command is not told."""

    settings: dict[str, OneSetting]  # by name
    user_file: str  # where your own stand
    project_file: str | None  # where the project's stand


class TidiedFile(msgspec.Struct, frozen=True, kw_only=True):
    """One file."""

    file: str
    changed: bool  # its layout is not, or was not, the usual one
    diagnostics: Diagnostics


class Tidy(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript tidy`: programs in the usual layout."""

    files: tuple[TidiedFile, ...]


class Why(Page, frozen=True):
    """`feedscript why SLUG`: the page of a diagnostic."""


class WhyList(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript why`: every page."""

    pages: tuple[Page, ...]


class Desk(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript desk`: where it is served."""

    link: str  # lets one browser in, once
    folder: str  # of the programs


class ListedSchema(msgspec.Struct, frozen=True, kw_only=True):
    """One schema."""

    name: str
    says: str  # what such a document is
    file: str | None  # where the schema was written; null: it was not
    schema: dict[str, Any] | UnsetType = UNSET  # itself, where one was asked for


class SchemaList(msgspec.Struct, frozen=True, kw_only=True):
    """`feedscript schema`: every document that has one."""

    schemas: tuple[ListedSchema, ...]


DOCUMENTS = {
    "programs": Programs,
    "profiles": Profiles,
    "settings": Settings,
    "tidy": Tidy,
    "why": Why,
    "why-list": WhyList,
    "desk": Desk,
    "schema-list": SchemaList,
}
