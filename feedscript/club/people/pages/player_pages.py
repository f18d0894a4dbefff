"""One player: the record, the family's links, and what the head coach may do beside."""

from __future__ import annotations

from starlette.responses import HTMLResponse, Response

from feedscript.club.people.export import of_player
from feedscript.club.people.history import record_in_club
from feedscript.club.people.pages.answers import Desk, download
from feedscript.club.people.pages.frame import form, page, secret_link, section, see_other, submit
from feedscript.club.people.pages.html import Child, Node, el
from feedscript.club.people.pages.visit import RefusalError, Visit, bad_form, not_there
from feedscript.club.store.people import audit, families, groups, players
from feedscript.club.store.people.audit import Act
from feedscript.club.store.people.families import FamilyLink
from feedscript.club.store.people.retention import DAY_S
from feedscript.club.who import Role
from feedscript.console.review_page import REVIEW_POLICY
from feedscript.diagnostics import FeedscriptError
from feedscript.review.record.family import family_html
from feedscript.review.record.figures import Record
from feedscript.review.record.page import record_html
from feedscript.review.report.lesson import NO_SUCH_PLAYER
from feedscript.review.report.words import day
from feedscript.tongues.text import Text, _, n_, p_

#: For how many days a family's link may be made.
LINK_DAYS = (7, 30, 90, 365)
_USUAL_DAYS = 90


def _asked(desk: Desk, visit: Visit) -> str:
    """The player whose page this is. Raises RefusalError alike for one that is not there and for
    one whom somebody else coaches."""
    with desk.store.reading() as connection:
        known = players.known_players(connection).values()
        found = next((one for one in known if desk.id_of(one) == visit.path["player"]), None)
        if found is None or not groups.may_read(connection, visit.by, found):
            raise not_there()
    return found


def player(desk: Desk, visit: Visit) -> Response:
    return _page(desk, visit, _asked(desk, visit), None)


def _page(desk: Desk, visit: Visit, name: str, new_link: str | None) -> Response:
    own = f"/players/{desk.id_of(name)}"
    with desk.store.reading() as connection:
        links = families.links_of(connection, name)
    record = el("p", el("a", _("Read the record"), href=f"{own}/record", class_="button"))
    noted = el("p", _("Who reads it, and when, is noted."), class_="hint")
    head = _for_the_head_coach(own, name) if visit.by.role is Role.HEAD_COACH else ()
    family = _family(own, links, visit.now_utc_s, new_link)
    return page(visit, name, record, noted, family, *head)


def _family(own: str, links: list[FamilyLink], now_utc_s: float, new_link: str | None) -> Node:
    about = _(
        "A link opens a page in plain words about this player alone, to whoever has it, until its "
        "day is over or somebody withdraws it here."
    )
    given = None
    if new_link is not None:
        words = _("Give this to the family. It is shown here only now.")
        given = el("div", secret_link(words, new_link), role="status")
    body = (el("p", about, class_="hint"), given, _links(links, now_utc_s), _new(own))
    return section("family", _("The family's page"), *body)


def _links(links: list[FamilyLink], now_utc_s: float) -> Child:
    items = [
        el("li", el("span", _state(one, now_utc_s)), _withdraw(one, now_utc_s)) for one in links
    ]
    return el("ul", *items, class_="rows") if items else None


def _state(link: FamilyLink, now_utc_s: float) -> Text:
    if link.withdrawn_utc_s is not None:
        return _("withdrawn on {day}", day=day(link.withdrawn_utc_s))
    if not link.stands(now_utc_s):
        return _("over since {day}", day=day(link.until_utc_s))
    return _("made by {name}, until {day}", name=link.made_by, day=day(link.until_utc_s))


def _withdraw(link: FamilyLink, now_utc_s: float) -> Child:
    if not link.stands(now_utc_s):
        return None
    return form(f"/links/{link.id}/withdraw", submit(_("Withdraw"), "care"))


def _new(own: str) -> Node:
    options = [
        el("option", n_("{n} day", "{n} days", days), value=days, selected=days == _USUAL_DAYS)
        for days in LINK_DAYS
    ]
    choose = el("select", *options, id="days", name="days")
    label = el("label", _("A new link, for"), for_="days")
    return form(f"{own}/links", label, choose, submit(_("Make the link")), class_="line")


def _for_the_head_coach(own: str, name: str) -> tuple[Child, ...]:
    known = el("a", _("Everything that the club knows of {name}", name=name), href=f"{own}/export")
    read = el("a", _("Who read it"), href=f"/audit?player={own.rpartition('/')[2]}")
    about = _(
        "The name is taken out of every lesson here, and out of every court's computer as soon as "
        "it is heard. Balls stay, as those of a forgotten player. It cannot be undone."
    )
    sure = el(
        "input",
        id="sure",
        name="sure",
        type="text",
        required=True,
        autocomplete="off",
        maxlength=80,
    )
    forget = form(
        f"{own}/forget",
        el("p", about),
        el("label", _("To forget {name}, write the name here", name=name), for_="sure"),
        sure,
        submit(_("Forget this player"), "care"),
    )
    asked = section("asked", _("If somebody asks"), el("p", known), el("p", read))
    return asked, section("gone", p_("club", "Forget"), forget)


def record(desk: Desk, visit: Visit) -> Response:
    """The record, as the coach's own computer would show it; the reading is noted first."""
    name = _asked(desk, visit)
    with desk.store.writing() as connection:
        audit.note(connection, visit.now_utc_s, visit.by, Act.READ_RECORD, name)
    return _on_paper(record_html(_record(desk, name), visit.tongue))


def _record(desk: Desk, name: str) -> Record:
    try:
        return record_in_club(desk.store, name)
    except FeedscriptError as trouble:
        if trouble.diagnostic.slug != NO_SUCH_PLAYER.slug:
            raise
        raise RefusalError(
            404, _("There is no record yet"), _("No ball of this player's is in the club's store.")
        ) from None


def _on_paper(html: str) -> Response:
    """A page that stands alone, with its style in it."""
    return HTMLResponse(html, headers={"Content-Security-Policy": REVIEW_POLICY})


def make_link(desk: Desk, visit: Visit) -> Response:
    name = _asked(desk, visit)
    days = visit.told("days")
    if days not in map(str, LINK_DAYS):
        raise bad_form()
    until_utc_s = visit.now_utc_s + int(days) * DAY_S
    with desk.store.writing() as connection:
        token = families.make(connection, name, visit.by.id, visit.now_utc_s, until_utc_s)
        audit.note(connection, visit.now_utc_s, visit.by, Act.LINKED_FAMILY, name)
    return _page(desk, visit, name, f"{visit.base}/family/{token}")


def withdraw_link(desk: Desk, visit: Visit) -> Response:
    with desk.store.writing() as connection:
        link = families.link_of(connection, visit.path["link"])
        if link is None or not groups.may_read(connection, visit.by, link.player):
            raise not_there()
        families.withdraw(connection, link.id, visit.now_utc_s)
        audit.note(connection, visit.now_utc_s, visit.by, Act.WITHDREW_LINK, link.player)
    return see_other(f"/players/{desk.id_of(link.player)}")


def export(desk: Desk, visit: Visit) -> Response:
    """All that is known of a player; noted like any reading."""
    name = _asked(desk, visit)
    with desk.store.writing() as connection:
        audit.note(connection, visit.now_utc_s, visit.by, Act.EXPORTED, name)
    return download(of_player(desk.store, name, visit.now_utc_s), "player.json")


#: The family's page lies on the club's server, and says so.
_KEPT_HERE = _(
    "This page shows one player only. The notes are kept by the club; who opens this page is "
    "noted, by the link and not by name. The coach can withdraw the link, and the club delete the "
    "notes, at any time: please ask."
)


def family(desk: Desk, visit: Visit) -> Response:
    """One player's page for whoever has the link."""
    with desk.store.writing() as connection:
        link = families.opened(connection, visit.path["token"], visit.now_utc_s)
        if link is None:
            raise RefusalError(
                404,
                _("This link shows nothing"),
                _("Its time is over, or it was withdrawn. Ask the coach for a new one."),
            )
        who = "a family"
        audit.note(connection, visit.now_utc_s, who, Act.READ_FAMILY_PAGE, link.player, link.id)
    return _on_paper(family_html(_record(desk, link.player), visit.tongue, _KEPT_HERE))
