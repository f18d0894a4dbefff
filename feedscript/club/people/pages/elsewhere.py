"""Signing in by another service: there, and back again.

The cookie of a sign-in is not sent along where another site leads here, so either way goes over a
page of this server's that leads on at once (``Refresh``), which needs no script.
"""

from __future__ import annotations

import hmac
import sys

from starlette.responses import Response
from starlette.routing import BaseRoute

from feedscript.club.people.oidc import DONE, NotVouchedError, Oidc, asked_in
from feedscript.club.people.pages.answers import Desk, Routes
from feedscript.club.people.pages.entering import let_in_browser
from feedscript.club.people.pages.frame import HEADERS, page
from feedscript.club.people.pages.html import el
from feedscript.club.people.pages.visit import RefusalError, Visit, not_there
from feedscript.club.people.signing_in import ASKED_S, let_in
from feedscript.tongues.text import Text, _

#: What a browser keeps while its owner is at the service, and where it is sent along.
COOKIE, COOKIE_PATH = "feedscript_club_oidc", "/oidc"


def goes_there(desk: Desk, visit: Visit) -> Response:
    oidc = _of(desk)
    url, asked = oidc.begin(visit.base)
    answer = _leads_on(visit, _("On to {service}", service=oidc.service.name), url)
    answer.set_cookie(
        COOKIE,
        asked.cookie,
        path=COOKIE_PATH,
        httponly=True,
        samesite="lax",  # it comes back from another site
        secure=visit.secure,
        max_age=int(ASKED_S),
    )
    return answer


def comes_back(desk: Desk, visit: Visit) -> Response:
    """Whom the service vouches for is let in, if the club has an account for that address."""
    oidc = _of(desk)
    asked = asked_in(visit.cookies.get(COOKIE, ""))
    state, code = visit.query.get("state", ""), visit.query.get("code", "")
    if asked is None or not code or not hmac.compare_digest(state.encode(), asked.state.encode()):
        raise _refused(_("It was not asked for from this browser, or too long ago."))
    issuer = visit.query.get("iss", oidc.service.issuer)  # RFC 9207
    if issuer != oidc.service.issuer:
        raise _refused(_("Another service answers than was asked."))
    try:
        mail = oidc.vouched_for(asked, code)
    except NotVouchedError as why:
        print(f"{oidc.service.issuer}: {why}", file=sys.stderr)
        raise _refused(_("The service does not vouch for you.")) from None
    done = let_in(desk.store, mail, asked.state, visit.now_utc_s)
    if done is None:
        raise _refused(_("The club has no account for your address. The head coach makes one."))
    answer = let_in_browser(visit, done, _leads_on(visit, _("You have signed in"), "/"))
    answer.delete_cookie(COOKIE, path=COOKIE_PATH)
    return answer


def _of(desk: Desk) -> Oidc:
    if desk.oidc is None:
        raise not_there()
    return desk.oidc


def _leads_on(visit: Visit, title: Text, to: str) -> Response:
    go_on = el("p", el("a", _("Go on"), href=to, class_="button"))
    return page(visit, title, go_on, headers={**HEADERS, "Refresh": f"0; url={to}"})


def _refused(why: Text) -> RefusalError:
    return RefusalError(403, _("Signing in did not work"), why)


def elsewhere_routes(desk: Desk) -> list[BaseRoute]:
    """What a server mounts that lets people sign in by another service."""
    make = Routes(desk)
    return [
        make.post("/oidc", goes_there, None, queue="services"),
        make.get(DONE, comes_back, None, queue="services"),
    ]
