"""Accounts, and courts' computers: who belongs to the club. For the head coach."""

from __future__ import annotations

from starlette.responses import Response

from feedscript.club.people.export import of_account
from feedscript.club.people.pages.answers import Desk, download
from feedscript.club.people.pages.frame import (
    alert,
    field,
    form,
    page,
    secret_link,
    section,
    see_other,
    submit,
)
from feedscript.club.people.pages.html import Child, Node, el
from feedscript.club.people.pages.visit import Visit, bad_form, not_there
from feedscript.club.store import hosts
from feedscript.club.store.people import accounts, audit
from feedscript.club.store.people.accounts import Account
from feedscript.club.store.people.audit import Act
from feedscript.club.store.people.retention import DAY_S
from feedscript.club.who import Role
from feedscript.review.report.words import day
from feedscript.tongues.text import Text, _, p_

#: An invitation waits for so long.
INVITED_S = 7 * DAY_S

ROLES = {
    Role.COACH: p_("club", "Coach: own groups; may stop any court"),
    Role.HEAD_COACH: p_("club", "Head coach: everything"),
    Role.VIEWER: p_("club", "Viewer: the courts, without names or records"),
}


def people(desk: Desk, visit: Visit) -> Response:
    return _page(desk, visit)


def _page(
    desk: Desk, visit: Visit, given: Child = None, wrong: Text | None = None, status: int = 200
) -> Response:
    everyone = accounts.everyone(desk.store)
    rows = [_row(one, own=one.person.id == visit.by.id) for one in everyone]
    body = (
        el("div", given, role="status") if given is not None else alert(wrong),
        section("accounts", _("Accounts"), el("ul", *rows, class_="rows")),
        _invite_form(visit),
        _courts(desk),
    )
    return page(visit, p_("club", "People"), *body, status=status)


def _row(one: Account, *, own: bool) -> Node:
    name = one.person.name
    told = el("span", el("b", name), " ", el("span", _about(one), class_="hint"))
    if one.withdrawn_utc_s is not None:
        return el("li", told)
    again = form(
        f"/people/{one.person.id}/invite",
        el("button", _("New link"), type="submit", aria_label=_("New link for {name}", name=name)),
    )
    close = form(
        f"/people/{one.person.id}/withdraw",
        el(
            "button",
            p_("account", "Withdraw"),
            type="submit",
            class_="care",
            aria_label=_("Withdraw {name}", name=name),
        ),
    )
    known = el(
        "a",
        p_("club", "Export"),
        href=f"/people/{one.person.id}/export",
        aria_label=_("Everything that the club knows of {name}", name=name),
    )
    return el("li", told, el("div", known, again, None if own else close, class_="acts"))


def _about(one: Account) -> Text:
    role = _SHORT[one.person.role]
    if one.withdrawn_utc_s is not None:
        when = day(one.withdrawn_utc_s)
        return _("{role}; withdrawn on {day}", role=role, day=when)
    if one.invited:
        return _("{role}, {login}; invited", role=role, login=one.login)
    return _("{role}, {login}", role=role, login=one.login)


_SHORT = {
    Role.COACH: p_("club", "coach"),
    Role.HEAD_COACH: p_("club", "head coach"),
    Role.VIEWER: p_("club", "viewer"),
}


def _invite_form(visit: Visit) -> Node:
    options = [el("option", words, value=str(role)) for role, words in ROLES.items()]
    asks = form(
        "/people",
        field("name", _("Name")),
        field(
            "login", _("Sign-in name"), hint=_("What is typed to sign in, as an address of mail.")
        ),
        el("label", p_("club", "Role"), for_="role"),
        el("select", *options, id="role", name="role"),
        submit(_("Invite")),
    )
    return section("invite", _("Invite somebody"), asks)


def _courts(desk: Desk) -> Node:
    rows = [
        el(
            "li",
            el("span", el("b", one.name), " ", el("span", _joined(one), class_="hint")),
            form(
                f"/people/courts/{one.id}/withdraw",
                el(
                    "button",
                    p_("court", "Withdraw"),
                    type="submit",
                    class_="care",
                    aria_label=_("Withdraw {name}", name=one.name),
                ),
            ),
        )
        for one in hosts.courts(desk.store)
    ]
    join = form("/people/courts", submit(_("Let a court's computer join")))
    listed = el("ul", *rows, class_="rows") if rows else el("p", _("None has joined yet."))
    return section("computers", _("Courts' computers"), listed, join)


def _joined(court: hosts.Court) -> Text:
    return _("joined on {day}", day=day(court.joined_utc_s))


def _link(visit: Visit, code: str, name: str) -> Node:
    words = _(
        "Give this to {name}. It works once, for a week, and is shown here only now.", name=name
    )
    return secret_link(words, f"{visit.base}/invitations/{code}")


def invite(desk: Desk, visit: Visit) -> Response:
    """A new account, and the link by which its owner opens it."""
    name, login, role = visit.told("name"), visit.told("login"), visit.told("role")
    if not name or not accounts.login_key(login) or role not in list(Role):
        raise bad_form()
    try:
        with desk.store.writing() as connection:
            made = accounts.make(connection, login, name, Role(role), visit.now_utc_s)
            code = accounts.invite(connection, made.id, visit.now_utc_s + INVITED_S)
            audit.note(connection, visit.now_utc_s, visit.by, Act.INVITED, about=name)
    except accounts.LoginTakenError:
        wrong = _("Somebody else signs in by this name.")
        return _page(desk, visit, wrong=wrong, status=422)
    return _page(desk, visit, _link(visit, code, name))


def invite_again(desk: Desk, visit: Visit) -> Response:
    """A new link for a person: by it another password is chosen."""
    with desk.store.writing() as connection:
        person = accounts.person_of(connection, visit.path["person"])
        if person is None:
            raise not_there()
        code = accounts.invite(connection, person.id, visit.now_utc_s + INVITED_S)
        audit.note(connection, visit.now_utc_s, visit.by, Act.INVITED, about=person.name)
    return _page(desk, visit, _link(visit, code, person.name))


def withdraw(desk: Desk, visit: Visit) -> Response:
    try:
        with desk.store.writing() as connection:
            person = accounts.withdraw(connection, visit.path["person"], visit.now_utc_s)
            if person is None:
                raise not_there()
            audit.note(connection, visit.now_utc_s, visit.by, Act.WITHDREW, about=person.name)
    except accounts.LastHeadCoachError:
        wrong = _("This is the last head coach: without one nobody could run the club.")
        return _page(desk, visit, wrong=wrong, status=409)
    return see_other("/people")


def export(desk: Desk, visit: Visit) -> Response:
    person = visit.path["person"]
    found = of_account(desk.store, person, visit.now_utc_s)
    if found is None:
        raise not_there()
    with desk.store.writing() as connection:
        audit.note(connection, visit.now_utc_s, visit.by, Act.EXPORTED, about=str(found["name"]))
    return download(found, "account.json")


def let_court_join(desk: Desk, visit: Visit) -> Response:
    """A code for one court's computer."""
    code = hosts.new_code(desk.store, visit.now_utc_s + hosts.CODE_LIFE_S)
    words = _("On the court's computer, within ten minutes: the command, then this code")
    line = el("code", f"feedscript club join {visit.base}", class_="secret")
    given = el("div", el("p", words), line, el("p", el("b", code), class_="code"), class_="given")
    with desk.store.writing() as connection:
        audit.note(connection, visit.now_utc_s, visit.by, Act.LET_IN)
    return _page(desk, visit, given)


def withdraw_court(desk: Desk, visit: Visit) -> Response:
    """The court's key opens nothing any more; what it sent stays."""
    court = next((one for one in hosts.courts(desk.store) if one.id == visit.path["court"]), None)
    if court is None:
        raise not_there()
    hosts.withdraw(desk.store, court.id, visit.now_utc_s)
    with desk.store.writing() as connection:
        audit.note(connection, visit.now_utc_s, visit.by, Act.WITHDREW, about=court.name)
    return see_other("/people")
