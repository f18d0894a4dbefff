"""Groups and their players; only the head coach changes them."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Connection
from starlette.responses import Response

from feedscript.club.people.pages.answers import Desk
from feedscript.club.people.pages.frame import field, form, page, section, see_other, submit
from feedscript.club.people.pages.html import Child, Lines, Node, el
from feedscript.club.people.pages.visit import Visit, bad_form, not_there
from feedscript.club.store.people import accounts, audit, groups
from feedscript.club.store.people.accounts import Account
from feedscript.club.store.people.audit import Act, player_key
from feedscript.club.store.people.groups import Group
from feedscript.club.store.people.players import MOST_NAME
from feedscript.club.who import Person, Role
from feedscript.tongues.text import Text, _, n_
from feedscript.visible import has_hidden

MOST_PLAYERS = 300


def overview(desk: Desk, visit: Visit) -> Response:
    """The groups that this person sees, and for the head coach who is in none."""
    head = visit.by.role is Role.HEAD_COACH
    with desk.store.reading() as connection:
        found = groups.groups_of(connection, visit.by)
        without = groups.without_a_group(connection) if head else []
    cards = [_card(desk, one, head=head) for one in found]
    nothing = None if found else el("p", _nothing(head=head))
    new = el("p", el("a", _("Make a group"), href="/groups/new", class_="button")) if head else None
    rest = _without(desk, without)
    return page(visit, _("Groups"), nothing, *cards, new, rest)


def _nothing(*, head: bool) -> Text:
    if head:
        return _("There is no group yet.")
    return _("You have no group yet. The head coach says whose records you see.")


def _card(desk: Desk, group: Group, *, head: bool) -> Node:
    change = el(
        "a",
        _("Change"),
        href=f"/groups/{group.id}",
        aria_label=_("Change {group}", group=group.name),
    )
    coached = [name for _id, name in group.coaches]
    body = (el("p", _coached(coached), class_="hint"), links(desk, group.players))
    return section(f"group-{group.id}", group.name, *body, beside=change if head else None)


def _coached(names: Sequence[str]) -> str:
    return _("Coached by {names}", names=", ".join(names)) if names else _("No coach yet")


def links(desk: Desk, players: Sequence[str]) -> Node:
    """Each player's name, leading to the player's page."""
    if not players:
        return el("p", _("Nobody is in it yet."), class_="hint")
    items = [el("li", el("a", one, href=f"/players/{desk.id_of(one)}")) for one in players]
    return el("ul", *items, class_="players")


def _without(desk: Desk, players: Sequence[str]) -> Child:
    if not players:
        return None
    about = n_(
        "{n} player was in a lesson, and is in no group.",
        "{n} players were in lessons, and are in no group.",
        len(players),
    )
    body = (el("p", about, class_="hint"), links(desk, players))
    return section("in-none", _("In no group yet"), *body)


def change(desk: Desk, visit: Visit) -> Response:
    """The form of a group; a new one's is empty."""
    group = None if visit.path.get("group") is None else _of(desk, visit.path["group"])
    return _form_page(desk, visit, group)


def _of(desk: Desk, group: str) -> Group:
    with desk.store.reading() as connection:
        found = groups.group_of(connection, group)
    if found is None:
        raise not_there()
    return found


def _form_page(desk: Desk, visit: Visit, group: Group | None) -> Response:
    title = _("A new group") if group is None else _("Change {group}", group=group.name)
    to = "/groups/new" if group is None else f"/groups/{group.id}"
    players = () if group is None else group.players
    one_child = _(
        "One name a line. In the whole club one name is one player: write two of one name "
        "differently, as Anna K and Anna M."
    )
    asks = form(
        to,
        field("name", _("Name of the group"), value="" if group is None else group.name),
        el("label", _("Players"), for_="players"),
        el("p", one_child, id="players-hint", class_="hint"),
        _names(players),
        _coaches(desk, group),
        submit(_("Keep")),
        class_="card",
    )
    gone = None
    if group is not None:
        gone = form(
            f"/groups/{group.id}/dissolve", submit(_("Dissolve the group"), "care"), class_="card"
        )
    return page(visit, title, asks, gone)


def _names(players: Sequence[str]) -> Node:
    words = "\n".join(players)
    return el(
        "textarea",
        *([Lines(words)] if words else []),
        id="players",
        name="players",
        rows=max(6, len(players) + 2),
        aria_describedby="players-hint",
    )


def _coaches(desk: Desk, group: Group | None) -> Node:
    chosen = () if group is None else [one for one, _name in group.coaches]
    boxes = [
        el(
            "label",
            el(
                "input",
                type="checkbox",
                name="coach",
                value=one.person.id,
                checked=one.person.id in chosen,
            ),
            one.person.name,
            class_="tick",
        )
        for one in _who_coaches(desk)
    ]
    return el("fieldset", el("legend", _("Coaches")), *boxes)


def _who_coaches(desk: Desk) -> list[Account]:
    return [
        one
        for one in accounts.everyone(desk.store)
        if one.withdrawn_utc_s is None and one.person.role is not Role.VIEWER
    ]


def keep(desk: Desk, visit: Visit) -> Response:
    """The group as the form has it."""
    group = visit.path.get("group")
    if group is not None:
        _of(desk, group)
    name = visit.told("name")
    players = _players(visit.secret("players"))
    if not name:
        raise bad_form()
    with desk.store.writing() as connection:
        groups.save(connection, group, name, players, visit.form.get("coach", []))
        _note(connection, visit.now_utc_s, visit.by, name, players)
    return see_other("/groups")


def _players(lines: str) -> list[str]:
    found = [line.strip() for line in lines.splitlines() if line.strip()]
    bad = [one for one in found if len(one) > MOST_NAME or has_hidden(one) or not player_key(one)]
    if bad or len(found) > MOST_PLAYERS:
        raise bad_form()
    return found


def _note(
    connection: Connection, now_utc_s: float, by: Person, name: str, players: Sequence[str]
) -> None:
    about = f"{name}: {', '.join(players)}"
    audit.note(connection, now_utc_s, by, Act.CHANGED_GROUP, about=about)


def dissolve(desk: Desk, visit: Visit) -> Response:
    group = _of(desk, visit.path["group"])
    with desk.store.writing() as connection:
        groups.dissolve(connection, group.id)
        _note(connection, visit.now_utc_s, visit.by, group.name, ())
    return see_other("/groups")
