"""Every page of people and rights, and who may see it."""

from __future__ import annotations

from pathlib import Path

from starlette.routing import BaseRoute, Mount
from starlette.staticfiles import StaticFiles

from feedscript.club.people.pages import (
    entering,
    group_pages,
    keeping_pages,
    people_pages,
    player_pages,
)
from feedscript.club.people.pages.answers import Desk, Routes, anybody, coaches, head_coach
from feedscript.club.people.pages.frame import FILES

STATIC = Path(__file__).parent / "static"


def people_routes(desk: Desk) -> list[BaseRoute]:
    """What a server mounts."""
    make = Routes(desk)
    return [
        *_entering(make),
        *_groups(make),
        *_players(make),
        *_people(make),
        *_keeping(make),
        Mount(FILES, StaticFiles(directory=STATIC)),
    ]


def _entering(make: Routes) -> list[BaseRoute]:
    return [
        make.get("/", entering.beginning, None),
        make.post("/sign-in", entering.signs_in, None, queue="passwords"),
        make.post("/sign-out", entering.signs_out, None),
        make.post("/language", entering.speaks, None),
        make.get("/invitations/{code}", entering.invitation, None),
        make.post("/invitations/{code}", entering.takes_up, None, queue="passwords"),
        make.get("/me", entering.own_account, anybody),
        make.post("/me/password", entering.changes_password, anybody, queue="passwords"),
        make.get("/me/export", entering.own_export, anybody),
    ]


def _groups(make: Routes) -> list[BaseRoute]:
    return [
        make.get("/groups", group_pages.overview, coaches),
        make.get("/groups/new", group_pages.change, head_coach),
        make.post("/groups/new", group_pages.keep, head_coach),
        make.get("/groups/{group}", group_pages.change, head_coach),
        make.post("/groups/{group}", group_pages.keep, head_coach),
        make.post("/groups/{group}/dissolve", group_pages.dissolve, head_coach),
    ]


def _players(make: Routes) -> list[BaseRoute]:
    return [
        make.get("/players/{player}", player_pages.player, coaches),
        make.get("/players/{player}/record", player_pages.record, coaches),
        make.post("/players/{player}/links", player_pages.make_link, coaches),
        make.post("/links/{link}/withdraw", player_pages.withdraw_link, coaches),
        make.get("/players/{player}/export", player_pages.export, head_coach),
        make.post("/players/{player}/forget", keeping_pages.forget_player, head_coach),
        make.get("/family/{token}", player_pages.family, None),
    ]


def _people(make: Routes) -> list[BaseRoute]:
    return [
        make.get("/people", people_pages.people, head_coach),
        make.post("/people", people_pages.invite, head_coach),
        make.post("/people/courts", people_pages.let_court_join, head_coach),
        make.post("/people/courts/{court}/withdraw", people_pages.withdraw_court, head_coach),
        make.post("/people/{person}/invite", people_pages.invite_again, head_coach),
        make.post("/people/{person}/withdraw", people_pages.withdraw, head_coach),
        make.get("/people/{person}/export", people_pages.export, head_coach),
    ]


def _keeping(make: Routes) -> list[BaseRoute]:
    return [
        make.get("/keeping", keeping_pages.keeping, head_coach),
        make.post("/keeping", keeping_pages.set_rules, head_coach),
        make.post("/keeping/forget", keeping_pages.forget_by_name, head_coach),
        make.get("/audit", keeping_pages.readings, head_coach),
    ]
