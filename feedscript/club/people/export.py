"""All that the club knows of one person, as JSON: of a player, and of somebody with an account."""

from __future__ import annotations

from contextlib import closing
from typing import Any

from sqlalchemy import Connection

from feedscript.club.people.history import journal_of
from feedscript.club.store import programs
from feedscript.club.store.people import accounts, audit, families, groups
from feedscript.club.store.people.audit import Entry, player_key
from feedscript.club.store.store import Store
from feedscript.club.who import Person, Role
from feedscript.diagnostics import FeedscriptError
from feedscript.formats import headed
from feedscript.journal.queries import session_numbers
from feedscript.journal.redaction import player_names
from feedscript.journal.store import Journal
from feedscript.review.report.export import lessons_json
from feedscript.review.report.lesson import lessons_of_player, read_lesson
from feedscript.review.report.words import iso

#: More entries of the log than this are no log of one person. Design value.
MOST_ENTRIES = 100_000


def of_player(store: Store, player: str, now_utc_s: float) -> dict[str, Any]:
    """Lessons with every ball, without anybody else's name; groups, families' links and who read
    what."""
    journal, passed_over = journal_of(store, player)
    with closing(journal):
        lessons, named = _lessons(journal, player)
    with store.reading() as connection:
        plain = {
            "player": player,
            "told": iso(now_utc_s),
            "lessons": lessons,
            "named_in": named,
            "could_not_be_read": [one.message for one in passed_over],
            **_kept_beside(connection, player),
        }
    return headed("club-player", plain)


def _lessons(journal: Journal, player: str) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Those with a ball of the player's, and all in which the player is named."""
    lessons, named = [], []
    names = player_names(journal.rows)
    for number in session_numbers(journal):
        try:
            lesson = read_lesson(journal, number)
        except FeedscriptError as trouble:
            named.append({"begun": None, "could_not_be_read": trouble.diagnostic.message})
            continue
        named.append({"begun": iso(lesson.begun_utc_s)})
        if player_key(player) in [player_key(one) for one in lesson.players]:
            lessons += lessons_of_player([lesson], player, names)
    return lessons_json(lessons), named


def _kept_beside(connection: Connection, player: str) -> dict[str, Any]:
    key = player_key(player)
    everywhere = Person(id="", name="", role=Role.HEAD_COACH)
    return {
        "groups": [
            one.name
            for one in groups.groups_of(connection, everywhere)
            if key in map(player_key, one.players)
        ],
        "family_links": [
            {
                "made_by": one.made_by,
                "made": iso(one.made_utc_s),
                "until": iso(one.until_utc_s),
                "withdrawn": None if one.withdrawn_utc_s is None else iso(one.withdrawn_utc_s),
            }
            for one in families.links_of(connection, player)
        ],
        "readings": [
            _reading(one) for one in audit.entries(connection, MOST_ENTRIES, player=player)
        ],
    }


def _reading(entry: Entry) -> dict[str, Any]:
    return {
        "when": iso(entry.utc_s),
        "who": entry.who,
        "what": str(entry.act),
        "about": entry.about,
    }


def of_account(store: Store, person: str, now_utc_s: float) -> dict[str, Any] | None:
    """The account, its groups and what was done with it; None where there is none."""
    found = next((one for one in accounts.everyone(store) if one.person.id == person), None)
    if found is None:
        return None
    with store.reading() as connection:
        theirs = groups.groups_of(connection, found.person)
        entries = audit.entries(connection, MOST_ENTRIES, person=person)
        own = programs.programs_of(connection, person)
        handed = programs.handed_by(connection, person)
    plain = {
        "name": found.person.name,
        "sign_in_name": found.login,
        "role": str(found.person.role),
        "made": iso(found.made_utc_s),
        "withdrawn": None if found.withdrawn_utc_s is None else iso(found.withdrawn_utc_s),
        "told": iso(now_utc_s),
        "groups": [one.name for one in theirs],
        "programs": [{"name": one.name, "words": one.words} for one in own],
        "handed_to_courts": [
            {"name": one.name, "handed": iso(one.handed_utc_s), "words": one.words}
            for one in handed
        ],
        # Whose record was read is the player's, and is told to the player.
        "did": [{"when": iso(one.utc_s), "what": str(one.act)} for one in entries],
    }
    return headed("club-account", plain)
