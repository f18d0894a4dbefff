"""Signing in and out, taking up an invitation, one's own account, and the language."""

from __future__ import annotations

from starlette.responses import Response

from feedscript.club.people.export import of_account
from feedscript.club.people.pages.answers import Desk, download
from feedscript.club.people.pages.frame import alert, field, form, page, see_other, submit
from feedscript.club.people.pages.html import Child, el
from feedscript.club.people.pages.visit import RefusalError, Visit, not_there
from feedscript.club.people.passwords import LEAST_LETTERS, hashed, what_is_wrong
from feedscript.club.people.signing_in import (
    COOKIE,
    DEVICE_COOKIE,
    DEVICE_S,
    SIGN_IN_S,
    Asked,
    Called,
    SignedIn,
    sign_in,
    take_up,
)
from feedscript.club.store.people import accounts, audit
from feedscript.club.store.people.audit import Act
from feedscript.club.who import Role
from feedscript.console.page_in import COOKIE as LANGUAGE_COOKIE
from feedscript.tongues.text import Text, _, p_


def beginning(desk: Desk, visit: Visit) -> Response:
    """Where somebody who has signed in begins; for a stranger, signing in."""
    if visit.person is None:
        return _sign_in_page(desk, visit, None)
    return see_other("/courts" if visit.person.role is Role.VIEWER else "/groups")


def _sign_in_page(desk: Desk, visit: Visit, wrong: Text | None, status: int = 200) -> Response:
    asks = form(
        "/sign-in",
        alert(wrong),
        field("login", _("Sign-in name"), value=visit.told("login"), auto="username"),
        field("password", _("Password"), kind="password", auto="current-password", most=200),
        submit(_("Sign in")),
        class_="card",
    )
    other = desk.oidc
    by_other = None
    if other is not None:
        words = submit(_("Sign in with {service}", service=other.service.name), "plain")
        by_other = form("/oidc", words, class_="card")
    new = _("You come in by an invitation, which the head coach makes. A forgotten password too.")
    about = el("p", new, class_="hint")
    return page(visit, _("Sign in to the club"), asks, by_other, about, status=status)


def signs_in(desk: Desk, visit: Visit) -> Response:
    asked = Asked(
        login=visit.told("login"),
        password=visit.secret("password"),
        address=visit.address,
        device=visit.cookies.get(DEVICE_COOKIE, ""),
    )
    done = sign_in(desk.store, asked, visit.now_utc_s, desk.cost)
    if isinstance(done, SignedIn):
        return let_in_browser(visit, done, see_other("/"))
    return _sign_in_page(desk, visit, done, 403)


def let_in_browser(visit: Visit, done: SignedIn, answer: Response) -> Response:
    for name, token, life_s in (
        (COOKIE, done.token, SIGN_IN_S),
        (DEVICE_COOKIE, done.device, DEVICE_S),
    ):
        answer.set_cookie(
            name,
            token,
            httponly=True,
            samesite="strict",
            secure=visit.secure,
            max_age=int(life_s),
        )
    return answer


def signs_out(desk: Desk, visit: Visit) -> Response:
    accounts.end(desk.store, visit.cookies.get(COOKIE, ""))
    answer = see_other("/")
    answer.delete_cookie(COOKIE, httponly=True, samesite="strict", secure=visit.secure)
    return answer


def speaks(desk: Desk, visit: Visit) -> Response:
    """The language of this browser from now on."""
    language = visit.told("language")
    if visit.tongues.named(language) is None:
        raise not_there()
    answer = see_other("/")
    answer.set_cookie(
        LANGUAGE_COOKIE, language, samesite="strict", secure=visit.secure, max_age=31_536_000
    )
    return answer


def _spent() -> RefusalError:
    return RefusalError(
        404,
        _("The invitation opens nothing"),
        _("It works once, for a week. Ask the head coach for a new one."),
    )


def invitation(desk: Desk, visit: Visit) -> Response:
    """Somebody new chooses a password."""
    with desk.store.reading() as connection:
        person = accounts.invited(connection, visit.path["code"], visit.now_utc_s)
    if person is None:
        raise _spent()
    return _invitation_page(desk, visit, person.name, None)


def _invitation_page(desk: Desk, visit: Visit, name: str, wrong: Text | None) -> Response:
    first = not accounts.anybody(desk.store)
    asks = form(
        f"/invitations/{visit.path['code']}",
        alert(wrong),
        *(_who_is_first(visit) if first else ()),
        *_new_password(),
        submit(_("Take up the invitation")),
        class_="card",
    )
    title = _("Welcome, {name}", name=name)
    status = 200 if wrong is None else 422
    return page(visit, title, el("p", _("Choose a password of your own.")), asks, status=status)


def _who_is_first(visit: Visit) -> tuple[Child, ...]:
    """The first head coach has no name yet but what stands for one."""
    return (
        field("name", p_("club", "Your name"), value=visit.told("name"), auto="name"),
        field(
            "login",
            _("Sign-in name"),
            value=visit.told("login"),
            hint=_("What is typed to sign in, as an address of mail."),
            auto="username",
        ),
    )


def _new_password() -> tuple[Child, ...]:
    hint = _(
        "{n} letters or more. A few words that do not belong together are good.", n=LEAST_LETTERS
    )
    return (
        field(
            "password",
            _("New password"),
            kind="password",
            hint=hint,
            auto="new-password",
            most=200,
        ),
        field("again", _("The same again"), kind="password", auto="new-password", most=200),
    )


def takes_up(desk: Desk, visit: Visit) -> Response:
    with desk.store.reading() as connection:
        person = accounts.invited(connection, visit.path["code"], visit.now_utc_s)
    if person is None:
        raise _spent()
    password = visit.secret("password")
    called = Called(name=visit.told("name"), login=visit.told("login"))
    wrong = what_is_wrong(password, visit.secret("again"), called.login or person.name)
    if wrong is not None:
        return _invitation_page(desk, visit, person.name, wrong)
    done = take_up(desk.store, visit.path["code"], password, visit.now_utc_s, desk.cost, called)
    if done is None:
        raise _spent()
    return let_in_browser(visit, done, see_other("/"))


def own_account(desk: Desk, visit: Visit) -> Response:
    return _own_page(visit, None)


def _own_page(visit: Visit, wrong: Text | None) -> Response:
    asks = form(
        "/me/password",
        alert(wrong),
        field(
            "password-now",
            _("Password now"),
            kind="password",
            auto="current-password",
            most=200,
        ),
        *_new_password(),
        submit(_("Change the password")),
        class_="card",
    )
    known = el("a", _("All that the club knows of my account"), href="/me/export", download=True)
    title = p_("club", "My account")
    return page(visit, title, asks, el("p", known), status=200 if wrong is None else 422)


def changes_password(desk: Desk, visit: Visit) -> Response:
    login = next(
        (one.login for one in accounts.everyone(desk.store) if one.person.id == visit.by.id), ""
    )
    asked = Asked(
        login=login,
        password=visit.secret("password-now"),
        address=visit.address,
        device=visit.cookies.get(DEVICE_COOKIE, ""),
    )
    new = visit.secret("password")
    wrong = what_is_wrong(new, visit.secret("again"), login)
    if wrong is not None:
        return _own_page(visit, wrong)
    done = sign_in(desk.store, asked, visit.now_utc_s, desk.cost)
    if not isinstance(done, SignedIn):
        return _own_page(visit, done)
    kept = hashed(new, desk.cost)
    with desk.store.writing() as connection:
        accounts.set_password(connection, visit.by.id, kept)
        audit.note(connection, visit.now_utc_s, visit.by, Act.CHANGED_PASSWORD)
    asked = Asked(login=login, password=new, address=visit.address, device="")
    again = sign_in(desk.store, asked, visit.now_utc_s, desk.cost)
    return (
        let_in_browser(visit, again, see_other("/"))
        if isinstance(again, SignedIn)
        else see_other("/")
    )


def own_export(desk: Desk, visit: Visit) -> Response:
    found = of_account(desk.store, visit.by.id, visit.now_utc_s)
    if found is None:
        raise not_there()
    return download(found, "my-account.json")
