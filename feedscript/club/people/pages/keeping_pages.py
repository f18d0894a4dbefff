"""What is kept and for how long, forgetting a player, and who read what. For the head coach."""

from __future__ import annotations

from starlette.responses import Response

from feedscript.club.people.pages.answers import Desk
from feedscript.club.people.pages.frame import alert, form, page, section, submit
from feedscript.club.people.pages.html import Child, Node, el
from feedscript.club.people.pages.visit import Visit, bad_form, not_there
from feedscript.club.store.people import audit, forgotten, players
from feedscript.club.store.people.audit import Act, Entry
from feedscript.club.store.people.retention import (
    AUDIT_DAYS,
    LESSONS_DAYS,
    keep_days,
    kept_days,
    throw_away_old,
)
from feedscript.journal.redaction import name_key
from feedscript.review.report.words import iso
from feedscript.tongues.text import Text, _, joined, listed, n_, p_

#: For how long things may be kept; 0 for always.
DAYS = (0, 30, 90, 365, 730, 1825)
#: So many lines of the log are on a page.
LINES = 100

ACTS = {
    Act.READ_RECORD: p_("log", "read the record of"),
    Act.READ_REVIEW: p_("log", "read the review of a lesson of"),
    Act.READ_FAMILY_PAGE: p_("log", "opened the family's page of"),
    Act.EXPORTED: p_("log", "exported all that is known of"),
    Act.FORGOT: p_("log", "had a player forgotten"),
    Act.OBEYED: p_("log", "has forgotten whom it was told of, up to number"),
    Act.THREW_AWAY: p_("log", "threw away what was old enough"),
    Act.LINKED_FAMILY: p_("log", "made a link for the family of"),
    Act.WITHDREW_LINK: p_("log", "withdrew a link of the family of"),
    Act.INVITED: p_("log", "invited"),
    Act.TOOK_UP: p_("log", "took up the invitation"),
    Act.WITHDREW: p_("log", "withdrew"),
    Act.CHANGED_GROUP: p_("log", "changed the group"),
    Act.SIGNED_IN: p_("log", "signed in"),
    Act.CHANGED_PASSWORD: p_("log", "changed the password"),
    Act.SET_RULE: p_("log", "set for how many days lessons and readings are kept:"),
    Act.LET_IN: p_("log", "made a code for a court's computer"),
    Act.READ_AUDIT: p_("log", "read this log"),
    Act.HANDED_PROGRAM: p_("log", "handed a program to a court:"),
}


def keeping(desk: Desk, visit: Visit) -> Response:
    return _page(desk, visit, None, None)


def _page(
    desk: Desk, visit: Visit, done: Text | None, wrong: Text | None, status: int = 200
) -> Response:
    with desk.store.reading() as connection:
        lessons, readings = kept_days(connection, LESSONS_DAYS), kept_days(connection, AUDIT_DAYS)
        waits = forgotten.not_heard(connection)
    rules = form(
        "/keeping",
        _days("lessons", _("Lessons and what was played in them"), lessons),
        _days("readings", _("The log of who read what"), readings),
        submit(_("Keep it so")),
    )
    said = el("p", done, role="status", class_="done") if done is not None else alert(wrong)
    body = (said, section("rules", _("For how long"), rules), _forget(waits))
    return page(visit, p_("club", "What is kept"), *body, status=status)


def _days(name: str, words: Text, now: int) -> Node:
    choices = sorted({*DAYS, now})
    options = [el("option", _for_days(one), value=one, selected=one == now) for one in choices]
    select = el("select", *options, id=name, name=name)
    return el("div", el("label", words, for_=name), select, class_="field")


def _for_days(days: int) -> Text:
    return n_("{n} day", "{n} days", days) if days else _("until somebody deletes it")


def _forget(waits: list[str]) -> Node:
    about = _(
        "The name is taken out of every lesson here, and out of every court's computer as soon as "
        "it is heard. Balls stay, as those of a forgotten player. It cannot be undone."
    )
    asks = form(
        "/keeping/forget",
        el("label", _("Name of the player"), for_="player"),
        el(
            "input",
            id="player",
            name="player",
            type="text",
            required=True,
            autocomplete="off",
            maxlength=80,
        ),
        submit(_("Forget this player"), "care"),
    )
    heard = (
        _("These courts have not been heard since: {courts}", courts=listed(waits))
        if waits
        else _("Every court has forgotten whom the club has.")
    )
    return section("forget", _("Forget a player"), el("p", about), asks, el("p", heard))


def set_rules(desk: Desk, visit: Visit) -> Response:
    """From now on; what is too old by that goes at once."""
    days = {name: visit.told(name) for name in ("lessons", "readings")}
    if not all(one.isascii() and one.isdigit() and len(one) < 6 for one in days.values()):
        raise bad_form()
    told = f"{int(days['lessons'])} / {int(days['readings'])}"
    with desk.store.writing() as connection:
        keep_days(connection, LESSONS_DAYS, int(days["lessons"]))
        keep_days(connection, AUDIT_DAYS, int(days["readings"]))
        audit.note(connection, visit.now_utc_s, visit.by, Act.SET_RULE, about=told)
    gone = throw_away_old(desk.store, visit.now_utc_s)
    done = n_(
        "{n} lesson was old enough and is gone.",
        "{n} lessons were old enough and are gone.",
        gone["lessons"],
    )
    return _page(desk, visit, done, None)


def forget_by_name(desk: Desk, visit: Visit) -> Response:
    """A player of any name, whether the store has it or only a court."""
    return _forgets(desk, visit, visit.told("player"))


def forget_player(desk: Desk, visit: Visit) -> Response:
    """The player of a page, when the name was written there once more."""
    with desk.store.reading() as connection:
        known = players.known_players(connection).values()
    name = next((one for one in known if desk.id_of(one) == visit.path["player"]), None)
    if name is None:
        raise not_there()
    if name_key(visit.told("sure")) != name_key(name):
        wrong = _("The name that was written is another one. Nobody was forgotten.")
        return _page(desk, visit, None, wrong, 422)
    return _forgets(desk, visit, name)


def _forgets(desk: Desk, visit: Visit, name: str) -> Response:
    with desk.store.writing() as connection:
        audit.note(connection, visit.now_utc_s, visit.by, Act.FORGOT)
    try:
        changed = forgotten.forget(desk.store, name, visit.now_utc_s)
    except ValueError:
        wrong = _("A single letter is nobody's name in a whole club. Forget it on its court.")
        return _page(desk, visit, None, wrong, 422)
    done = n_(
        "Forgotten here: it stood in {n} place. Every court is told.",
        "Forgotten here: it stood in {n} places. Every court is told.",
        changed.total(),
    )
    named = forgotten.in_library(desk.store, name)
    if named:
        done = joined(" ", [done, _in_library(named)])
    return _page(desk, visit, done, None)


def _in_library(named: list[str]) -> Text:
    return _(
        "The name stands in these texts of the library: {texts}. Look whether this player is "
        "meant, and withdraw them there.",
        texts=listed(named),
    )


def readings(desk: Desk, visit: Visit) -> Response:
    """The log, the newest first; of one player, if one is named."""
    before = visit.query.get("before", "")
    if before and not (before.isascii() and before.isdigit() and len(before) < 16):
        raise bad_form()
    asked = visit.query.get("player")
    with desk.store.reading() as connection:
        known = players.known_players(connection).values()
    player = next((one for one in known if desk.id_of(one) == asked), None)
    if asked is not None and player is None:
        raise not_there()
    with desk.store.writing() as connection:
        found = audit.entries(connection, LINES, int(before) if before else None, player)
        audit.note(connection, visit.now_utc_s, visit.by, Act.READ_AUDIT, player)
    about = (
        _("Everybody who read a player's record, or changed who may.")
        if player is None
        else _("Everybody who read the record of {name}.", name=player)
    )
    lines = el("ol", *map(_line, found), class_="log") if found else el("p", _("Nothing yet."))
    return page(
        visit, _("Who read what"), el("p", about, class_="hint"), lines, _older(found, asked)
    )


def _line(entry: Entry) -> Node:
    words: list[Child] = [el("b", entry.who), " ", ACTS[entry.act]]
    if entry.player:
        words += [" ", el("b", entry.player)]
    if entry.about and entry.act not in (Act.READ_FAMILY_PAGE,):
        words += [" ", entry.about]
    when = iso(entry.utc_s)
    return el("li", el("time", when[:16].replace("T", " "), datetime=when), el("span", *words))


def _older(found: list[Entry], asked: str | None) -> Child:
    if len(found) < LINES:
        return None
    of = f"&player={asked}" if asked else ""
    return el("p", el("a", _("Older ones"), href=f"/audit?before={found[-1].seq}{of}"))
