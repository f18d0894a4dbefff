"""Each protection of the club's people taken out of its function: what it keeps out comes in.

An attack tells whether it got through. With every protection in its place none does; without the
one that is named it does, so that none stands there for show.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import pytest

from feedscript.club import answers
from feedscript.club.messages import EVENTS, INVITE
from feedscript.club.people import passwords, signing_in
from feedscript.club.people.pages import entering, player_pages
from feedscript.club.people.pages.answers import Routes
from feedscript.club.people.signing_in import COOKIE
from feedscript.club.store import hosts, log
from feedscript.club.store.people import accounts, audit, families, forgotten
from feedscript.club.store.people.audit import Act
from feedscript.club.store.store import Store
from feedscript.club.tombstones import FORGOTTEN
from tests.club.people.played import lesson
from tests.club.people.stage import PASSWORD, Stage, told_link
from tests.switched_off import Cut

NEW = "nine lemons on a ladder"


@pytest.fixture
def stage(store: Store) -> Stage:
    return Stage(store)


# --- attacks


def joins_twice(stage: Stage) -> bool:
    code = hosts.new_code(stage.store, stage.now_utc_s + 600)
    first = hosts.join(stage.store, code, "court two", stage.now_utc_s)
    assert first is not None
    return hosts.join(stage.store, code, "a stranger's", stage.now_utc_s) is not None


def joins_late(stage: Stage) -> bool:
    code = hosts.new_code(stage.store, stage.now_utc_s)
    return hosts.join(stage.store, code, "court two", stage.now_utc_s + 1) is not None


def sends_with_a_withdrawn_key(stage: Stage) -> bool:
    hosts.withdraw(stage.store, stage.court.host, stage.now_utc_s)
    bearer = {"Authorization": f"Bearer {stage.court.key}"}
    return stage.browser().get(EVENTS, headers=bearer).status_code == 200


def signs_in_without_the_password(stage: Stage) -> bool:
    sent = {"login": "kim@club.example", "password": "guessed"}
    stranger = stage.browser()
    stranger.post("/sign-in", data=sent)
    return stranger.get("/groups").status_code == 200


def guesses_on(stage: Stage) -> bool:
    stranger = stage.browser()
    for number in range(signing_in.MOST_BY_NAME + 1):
        sent = {"login": "kim@club.example", "password": f"guessed {number}"}
        assert stranger.post("/sign-in", data=sent).status_code == 403
    sent = {"login": "kim@club.example", "password": PASSWORD}
    return stranger.post("/sign-in", data=sent).status_code == 303


def invitation(stage: Stage) -> str:
    sent = {"name": "Max", "login": "max@club.example", "role": "coach"}
    return told_link(stage.browser(stage.head).post("/people", data=sent))


def takes_up(stage: Stage, link: str) -> bool:
    sent = {"password": NEW, "again": NEW}
    return stage.browser().post(link, data=sent).status_code == 303


def takes_up_an_invitation_twice(stage: Stage) -> bool:
    link = invitation(stage)
    assert takes_up(stage, link)
    return takes_up(stage, link)


def takes_up_an_invitation_late(stage: Stage) -> bool:
    link = invitation(stage)
    stage.now_utc_s += 8 * 86_400.0
    return takes_up(stage, link)


def stays_signed_in_for_ever(stage: Stage) -> bool:
    kim = stage.browser(stage.kim)
    stage.now_utc_s += 2 * signing_in.SIGN_IN_S
    return kim.get("/groups").status_code == 200


def replays_the_cookie_after_signing_out(stage: Stage) -> bool:
    kim = stage.browser(stage.kim)
    token = kim.cookies[COOKIE]
    kim.post("/sign-out")
    kim.cookies.clear()
    kim.cookies.set(COOKIE, token)
    return kim.get("/groups").status_code == 200


def stays_after_the_account_is_withdrawn(stage: Stage) -> bool:
    kim = stage.browser(stage.kim)
    with stage.store.writing() as connection:
        accounts.withdraw(connection, stage.kim.id, stage.now_utc_s)
    return kim.get("/groups").status_code == 200


def stays_after_the_password_was_changed(stage: Stage) -> bool:
    thief, kim = stage.browser(stage.kim), stage.browser(stage.kim)
    sent = {"password-now": PASSWORD, "password": NEW, "again": NEW}
    assert kim.post("/me/password", data=sent).status_code == 303
    return thief.get("/groups").status_code == 200


def another_page_posts_a_form(stage: Stage) -> bool:
    """As if the cookie came along: the browser is the head coach's."""
    there = {"Origin": "http://elsewhere.example"}
    sent = {"name": "Max", "login": "max@club.example", "role": "head-coach"}
    answer = stage.browser(stage.head).post("/people", data=sent, headers=there)
    return answer.status_code == 200


def another_page_asks_for_a_courts_code(stage: Stage) -> bool:
    there = {"Origin": "http://elsewhere.example"}
    return stage.browser(stage.head).post(INVITE, json={}, headers=there).status_code == 200


def a_viewer_reads_the_list_of_people(stage: Stage) -> bool:
    return stage.browser(stage.wall).get("/people").status_code == 200


def a_coach_reads_anothers_player(stage: Stage) -> bool:
    return stage.browser(stage.lee).get(f"{stage.at('Ada')}/record").status_code == 200


def family_link(stage: Stage) -> str:
    sent = {"days": "30"}
    return told_link(stage.browser(stage.kim).post(f"{stage.at('Ada')}/links", data=sent))


def reads_by_a_link_that_is_over(stage: Stage) -> bool:
    link = family_link(stage)
    stage.now_utc_s += 31 * 86_400.0
    return stage.browser().get(link).status_code == 200


def reads_by_a_link_that_was_withdrawn(stage: Stage) -> bool:
    link = family_link(stage)
    with stage.store.writing() as connection:
        (made,) = families.links_of(connection, "Ada")
        families.withdraw(connection, made.id, stage.now_utc_s)
    return stage.browser().get(link).status_code == 200


def reads_by_a_guessed_link(stage: Stage) -> bool:
    family_link(stage)
    return stage.browser().get("/family/guessed").status_code == 200


def noted(stage: Stage, act: Act) -> bool:
    with stage.store.reading() as connection:
        return act in [one.act for one in audit.entries(connection, 99)]


def reads_a_record_unnoted(stage: Stage) -> bool:
    page = stage.browser(stage.kim).get(f"{stage.at('Ada')}/record")
    return page.status_code == 200 and not noted(stage, Act.READ_RECORD)


def exports_unnoted(stage: Stage) -> bool:
    page = stage.browser(stage.head).get(f"{stage.at('Ada')}/export")
    return page.status_code == 200 and not noted(stage, Act.EXPORTED)


def a_family_reads_unnoted(stage: Stage) -> bool:
    page = stage.browser().get(family_link(stage))
    return page.status_code == 200 and not noted(stage, Act.READ_FAMILY_PAGE)


def a_court_brings_a_forgotten_name_back(stage: Stage) -> bool:
    """It has not heard yet, and sends another lesson of the player's."""
    forgotten.forget(stage.store, "Ada", stage.now_utc_s)
    log.take_in(stage.store, stage.court.host, [lesson("Ada", name="3-0000beef")], 9.0)
    with stage.store.reading() as connection:
        told = connection.exec_driver_sql("SELECT group_json, plan FROM lesson").all()
    return "Ada" in str(told)


def a_court_obeys_what_nobody_told_it(stage: Stage) -> bool:
    """It would never be told to forget anybody after."""
    bearer = {"Authorization": f"Bearer {stage.court.key}"}
    sent = {"number": 1_000_000}
    said = stage.browser().post(FORGOTTEN, json=sent, headers=bearer)
    if said.status_code != 200:
        return False
    forgotten.forget(stage.store, "Ada", stage.now_utc_s)
    return stage.browser().get(FORGOTTEN, headers=bearer).json()["stones"] == []


class Protection(NamedTuple):
    """What is attacked, and what is taken out; several where each alone is enough."""

    attack: Callable[[Stage], bool]
    cuts: tuple[Cut, ...]


PROTECTIONS = {
    "a court's code works once": Protection(
        joins_twice, (Cut(hosts.join, " & JOIN_CODE.c.used_by.is_(None)"),)
    ),
    "a court's code grows old": Protection(
        joins_late, (Cut(hosts.join, " & (JOIN_CODE.c.until_utc_s >= now_utc_s)"),)
    ),
    "a court's key is withdrawn": Protection(
        sends_with_a_withdrawn_key, (Cut(hosts.host_of, ", HOST.c.withdrawn_utc_s.is_(None)"),)
    ),
    "Argon2 is asked": Protection(
        signs_in_without_the_password, (Cut(passwords.is_right, "return False", "return True"),)
    ),
    "guesses are counted": Protection(
        guesses_on, (Cut(signing_in.sign_in, "return TOO_MANY", "pass"),)
    ),
    "an invitation is spent": Protection(
        takes_up_an_invitation_twice,
        (
            Cut(
                accounts.take_up,
                "connection.execute(delete(INVITATION).where(INVITATION.c.person == person.id))",
                "pass",
            ),
        ),
    ),
    "an invitation grows old": Protection(
        takes_up_an_invitation_late,
        (Cut(accounts.invited, "INVITATION.c.until_utc_s >= now_utc_s,"),),
    ),
    "a sign-in ends": Protection(
        stays_signed_in_for_ever,
        (Cut(accounts.signed_in, "SIGN_IN.c.until_utc_s >= now_utc_s, "),),
    ),
    "signing out ends it": Protection(
        replays_the_cookie_after_signing_out,
        (Cut(entering.signs_out, 'accounts.end(desk.store, visit.cookies.get(COOKIE, ""))'),),
    ),
    "a withdrawn account is signed out, and stands no more": Protection(
        stays_after_the_account_is_withdrawn,
        (
            Cut(accounts.signed_in, ", _STANDS"),
            Cut(accounts.withdraw, "_sign_out_everywhere(connection, person)"),
        ),
    ),
    "a new password ends every sign-in": Protection(
        stays_after_the_password_was_changed,
        (Cut(accounts.set_password, "_sign_out_everywhere(connection, person)"),),
    ),
    "a form says from which page it comes": Protection(
        another_page_posts_a_form,
        (Cut(Routes._visit, "not same_origin(request.headers)", "False"),),
    ),
    "so does what pages ask": Protection(
        another_page_asks_for_a_courts_code,
        (Cut(answers.person_of, "not _of_our_page(asks)", "False"),),
    ),
    "a role may do what is its own": Protection(
        a_viewer_reads_the_list_of_people, (Cut(Routes._visit, "not may(person)", "False"),)
    ),
    "a player is the own group's": Protection(
        a_coach_reads_anothers_player,
        (Cut(player_pages._asked, " or not groups.may_read(connection, visit.by, found)"),),
    ),
    "a family's link is over": Protection(
        reads_by_a_link_that_is_over,
        (Cut(families.FamilyLink.stands, " and self.until_utc_s >= now_utc_s"),),
    ),
    "a family's link is withdrawn": Protection(
        reads_by_a_link_that_was_withdrawn,
        (Cut(families.FamilyLink.stands, "self.withdrawn_utc_s is None and "),),
    ),
    "a family's link is looked up": Protection(
        reads_by_a_guessed_link,
        (
            Cut(
                families.opened,
                "_LINKS.where(FAMILY_LINK.c.token_sha256 == hash_of(token))",
                "_LINKS",
            ),
        ),
    ),
    "a record's reading is noted": Protection(
        reads_a_record_unnoted,
        (
            Cut(
                player_pages.record,
                "audit.note(connection, visit.now_utc_s, visit.by, Act.READ_RECORD, name)",
                "pass",
            ),
        ),
    ),
    "an export is noted": Protection(
        exports_unnoted,
        (
            Cut(
                player_pages.export,
                "audit.note(connection, visit.now_utc_s, visit.by, Act.EXPORTED, name)",
                "pass",
            ),
        ),
    ),
    "a family's reading is noted": Protection(
        a_family_reads_unnoted,
        (
            Cut(
                player_pages.family,
                "audit.note(connection, visit.now_utc_s, who, Act.READ_FAMILY_PAGE, "
                "link.player, link.id)",
                "pass",
            ),
        ),
    ),
    "a tombstone stands before what still comes": Protection(
        a_court_brings_a_forgotten_name_back,
        (Cut(log.write, "redacted(connection, part, stones)", "part"),),
    ),
    "a court obeys what it was told": Protection(
        a_court_obeys_what_nobody_told_it,
        (Cut(forgotten.obey, "number > (most or 0)", "False"),),
    ),
}


@pytest.mark.parametrize("name", PROTECTIONS)
def test_it_is_kept_out(stage: Stage, name: str) -> None:
    assert not PROTECTIONS[name].attack(stage)


@pytest.mark.parametrize("name", PROTECTIONS)
def test_it_comes_in_without_the_protection(
    stage: Stage, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    for cut in PROTECTIONS[name].cuts:
        cut.make(monkeypatch)
    assert PROTECTIONS[name].attack(stage)


@pytest.mark.parametrize("off", [False, True])
def test_over_https_the_cookie_goes_over_nothing_else(
    stage: Stage, monkeypatch: pytest.MonkeyPatch, off: bool
) -> None:
    if off:
        Cut(entering.let_in_browser, "secure=visit.secure,").make(monkeypatch)
    sent = {"login": "kim@club.example", "password": PASSWORD}
    safe = {"Origin": "https://testserver"}
    done = stage.browser().post("/sign-in", data=sent, headers=safe)
    flags = [set(one.split("; ")) for one in done.headers.get_list("set-cookie")]
    assert len(flags) == 2
    assert [("Secure" in one) for one in flags] == [not off, not off]


@pytest.mark.parametrize("kept", [0, 1])
def test_either_of_two_is_enough(stage: Stage, monkeypatch: pytest.MonkeyPatch, kept: int) -> None:
    attack, cuts = PROTECTIONS["a withdrawn account is signed out, and stands no more"]
    cuts[1 - kept].make(monkeypatch)
    assert not attack(stage)
