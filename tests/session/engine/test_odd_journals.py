"""A journal that SQLite finds sound and that holds what no feedscript wrote: it is refused in
words, or the lesson in it goes on; nothing breaks or hangs, nothing in the file runs by itself."""

from __future__ import annotations

import json
import random
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import anyio
import pytest
import trio
import trio.testing
from click.testing import CliRunner
from feedscript_simulator.stand_in import build

from feedscript.cli import verbs
from feedscript.diagnostics import FeedscriptError
from feedscript.journal.retention import back_up
from feedscript.journal.store import open_journal, read_journal
from feedscript.plan.model import Result
from feedscript.review.report.lesson import read_lesson
from feedscript.session.engine.engine import Ending
from feedscript.session.engine.guards import CertifiedFences
from feedscript.session.engine.resume import find_broken
from feedscript.session.operator.commands import RosterChange
from feedscript.session.state.apply_balls import AHEAD
from feedscript.session.state.event_log import write_event
from feedscript.session.state.events import GroupChanged, LandingMarked, ResultRecorded
from tests.session.engine.test_resume_trouble import conduct, crash
from tests.session.rehearsing import GARAGE

Edit = Callable[[sqlite3.Connection], None]


async def _break_off(folder: Path) -> None:
    """A lesson of two launchers, stations among it, that breaks off; somebody tapped, and came."""
    path = folder / "first.sqlite"
    stand_ins = [build(GARAGE, seed=n, powered_s=anyio.current_time()) for n in range(2)]
    journal = open_journal(path)
    whole = folder / "whole.sqlite"
    await conduct(stand_ins, journal, (21.7, crash), lambda: back_up(path, whole))
    journal.close()
    journal = open_journal(whole)
    number = journal.rows("SELECT id FROM session")[0]["id"]
    begun = journal.rows("SELECT begun_utc_s FROM session")[0]["begun_utc_s"]
    ball = journal.rows("SELECT feed_id FROM ball WHERE outcome = 'left' AND shown = 0")[0]
    feed_id = ball["feed_id"]
    for event in (
        ResultRecorded(feed_id=feed_id, result=Result.NET, tapped_utc_s=begun + 20.0),
        LandingMarked(feed_id=feed_id, landing_m=(1.0, -8.0)),
        GroupChanged(change=RosterChange.JOIN, player="Ash", by="keys"),
    ):
        write_event(journal, number, begun + 20.0, event)
    journal.close()


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("broken")
    trio.run(_break_off, folder, clock=trio.testing.MockClock(autojump_threshold=0))
    return folder / "whole.sqlite"


def edited(whole: Path, folder: Path, edit: Edit) -> Path:
    path = Path(shutil.copy(whole, folder / "journal.sqlite"))
    with closing(sqlite3.connect(path)) as connection:
        edit(connection)
        connection.commit()
    return path


def dump(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as connection:
        return list(connection.iterdump())


async def _go_on(path: Path) -> Ending | None:
    stand_ins = [build(GARAGE, seed=n, powered_s=anyio.current_time()) for n in range(2)]
    journal = open_journal(path)
    try:
        # What is odd may well need a person, who goes away after a while.
        return await conduct(stand_ins, journal, None, lambda: None, leaves_after_s=300.0)
    finally:
        journal.close()


def resumed(path: Path, *, look: bool = True) -> Ending | str:
    """How the lesson ended that went on, or the words that refuse it before anything is made of it
    and, where that is looked at, before anything in the file is changed."""
    before = dump(path) if look else []
    try:
        journal = open_journal(path)
        try:
            broken = find_broken(journal, 1)
        finally:
            journal.close()
    except FeedscriptError as refused:
        diagnostic = refused.diagnostic
        assert diagnostic.slug in ("journal-unusable", "nothing-to-resume")
        assert diagnostic.device == str(path)
        assert diagnostic.help
        assert not look or dump(path) == before
        return diagnostic.message
    CertifiedFences().refusals(broken.plan, broken.profiles)  # a value, whatever the plan is
    clock = trio.testing.MockClock(autojump_threshold=0)
    ended = trio.run(_go_on, path, clock=clock)
    assert ended is not None
    return ended


def run(*statements: str) -> Edit:
    def edit(connection: sqlite3.Connection) -> None:
        for statement in statements:
            connection.execute(statement)

    return edit


def entry(kind: str, data: Any) -> Edit:
    def edit(connection: sqlite3.Connection) -> None:
        connection.execute(
            "INSERT INTO entry (session_id, utc_s, kind, data) VALUES (1, 1e9, ?, ?)",
            (kind, data if isinstance(data, str) else json.dumps(data)),
        )

    return edit


def in_event(kind: str, path: str, value: Any) -> Edit:
    """The first event of this kind with another value at this place."""

    def edit(connection: sqlite3.Connection) -> None:
        connection.execute(
            "UPDATE entry SET data = json_set(data, ?, json(?)) WHERE id ="
            " (SELECT MIN(id) FROM entry WHERE kind = ?)",
            (path, json.dumps(value), kind),
        )

    return edit


#: Each is refused, and the words name what is odd.
REFUSED: dict[str, tuple[Edit, str]] = {
    # the head
    "text for a time": (run("UPDATE session SET begun_utc_s = 'soon'"), "begun_utc_s"),
    "a time without end": (run("UPDATE session SET begun_utc_s = 9e999"), "begun_utc_s"),
    "a token too large": (run("UPDATE session SET token = 1 << 40"), "token"),
    "bytes for a title": (run("UPDATE session SET title = x'00ff'"), "title"),
    "an ending of its own": (run("UPDATE session SET ending = 'exploded'"), "ending"),
    "a plan that is text": (run("UPDATE session SET plan = 'none'"), "plan"),
    "a plan that is nothing": (run("UPDATE session SET plan = x'7b7d'"), "cannot be read"),
    "a plan without end": (
        run("UPDATE session SET plan = CAST(replace(hex(zeroblob(50000)), '0', '[') AS BLOB)"),
        "cannot be read",
    ),
    # tables that are not what the events tell
    "a feed that is not there": (run("UPDATE ball SET feed_index = 99"), "feed_index 99"),
    "another launcher's feed": (
        run("UPDATE ball SET launcher = 1 - launcher WHERE feed_id = 1"), "launcher 1"),
    "a lane of its own": (run("UPDATE ball SET lane = 'x/y'"), "lane"),
    "an outcome of its own": (run("UPDATE ball SET outcome = 'flew'"), "flew"),
    "a ball number that is text": (run("UPDATE ball SET ball_no = 'one'"), "ball_no"),
    "a ball long ago": (run("UPDATE ball SET left_utc_s = -1e300"), "left_utc_s"),
    "a ball that nobody asked for": (
        run("UPDATE ball SET feed_id = 999 WHERE feed_id = 1"), "feed_id"),
    "a ball too few": (run("DELETE FROM ball WHERE feed_id = 1"), "balls, and its events"),
    "a name that moves the cursor": (
        run("UPDATE ball SET player = char(27) || '[2J'"), "player"),
    "a result of its own": (run("UPDATE result SET result = 'up'"), "up"),
    "a result of no ball": (run("UPDATE result SET feed_id = 999"), "feed_id 999"),
    "half a landing": (run("UPDATE result SET landing_y_m = NULL"), "landing_y_m"),
    # events that are not as one is written
    "an entry that is no JSON": (entry("decision", "{"), "decision"),
    "an event of its own": (entry("explosion", {}), "explosion"),
    "a decision without a place": (entry("decision", {"reply": True}), "decision"),
    "a decision that is a list": (entry("decision", [1]), "decision"),
    "a reply of its own": (entry("decision", {"lane": "", "number": 1, "reply": "up"}), "up"),
    "a call in no lane": (entry("said", {"lane": "north", "number": 1}), "lane"),
    "an entry without end": (entry("decision", "[" * 100_000), "decision"),
    "a change of its own": (
        entry("roster", {"change": "fly", "player": "Ash", "by": "keys"}), "fly"),
    "a launcher's name that moves the cursor": (in_event("feed", "$.feed", "\x1b[2J"), "not seen"),
    "half a landing marked": (in_event("landing", "$.landing_m", [1.0]), "landing"),
    "a landing on the moon": (in_event("landing", "$.landing_m", [4e8, 0.0]), "landing"),
    "a landing beyond the corner": (in_event("landing", "$.landing_m", [29.0, 29.0]), "landing"),
    # events that cannot come where they do
    "a feed of none": (in_event("feed", "$.feed_index", 99), "feed 99"),
    "a feed of another launcher": (in_event("feed", "$.launcher", 1), "of another"),
    "a number that was given before": (
        run("UPDATE entry SET data = json_set(data, '$.feed_id', 1) WHERE kind = 'feed'"),
        "asked for after ball 1"),
    "an outcome of no ball": (in_event("outcome", "$.feed_id", 999), "ball 999"),
    "an outcome of a ball that is settled": (
        entry("outcome", {"feed_id": 1, "outcome": "not-sent"}), "not open"),
    "a ball that left at no moment": (in_event("outcome", "$.left_utc_s", None), "when"),
    "a ball asked for without a go": (
        run("DELETE FROM entry WHERE kind = 'act' AND data LIKE '%go-on%'"), "does not lead"),
    "a phase that is not next": (
        entry("happened", {"happening": "disarmed", "phase": "finished"}), "does not lead"),
    "a command that leads elsewhere": (
        entry("act", {"act": "hold", "by": "keys", "phase": "ready"}), "not to ready"),
    "a step that is not on the list": (in_event("confirmed", "$.key", "magic"), "magic"),
    "a speed that nobody showed": (in_event("speed-seen", "$.feed", 3), "no ball showed it"),
    "a turn of nobody": (
        entry("turn-given", {"lane": "", "number": 900, "player": 9, "left_handed": False,
                             "station": 0, "slot": 0}), "player 9"),
    "an action that is answered twice": (
        run("INSERT INTO entry (session_id, utc_s, kind, data) SELECT session_id, utc_s, kind,"
            " json_remove(data, '$.feed') FROM entry WHERE kind = 'speed-seen' LIMIT 1",
            "UPDATE entry SET kind = 'decision', data = json_set(data, '$.reply', json('true'))"
            " WHERE id = (SELECT MAX(id) FROM entry)"), "answered already"),
    "a result of a ball that has not left": (in_event("result", "$.feed_id", 999), "ball 999"),
    "somebody leaves who is not here": (
        entry("roster", {"change": "leave", "player": "Nobody", "by": "keys"}), "Nobody"),
    "somebody whose name is not seen": (
        entry("roster", {"change": "join", "player": "\u202ehsA", "by": "keys"}), "not seen"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_no_feedscript_wrote_is_refused_by_name(
    name: str, whole: Path, tmp_path: Path
) -> None:
    edit, word = REFUSED[name]
    told = resumed(edited(whole, tmp_path, edit))
    assert isinstance(told, str), told
    assert word in told


def test_the_untouched_one_goes_on(whole: Path, tmp_path: Path) -> None:
    ended = resumed(edited(whole, tmp_path, run()))
    assert isinstance(ended, Ending)
    assert ended.finished


# -- too much ---------------------------------------------------------------------------------


def many(table: str, count: int, **columns: Any) -> Edit:
    """So many rows like the first one of the table, each with these columns (``n`` counts)."""

    def edit(connection: sqlite3.Connection) -> None:
        names = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
        kept = [name for name in names if name not in {"id", *columns}]
        new = ", ".join(columns.values())
        connection.execute(
            f"WITH RECURSIVE n(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM n WHERE n < {count})"
            f" INSERT INTO {table} ({', '.join([*kept, *columns])})"
            f" SELECT {', '.join(kept)}, {new} FROM n, (SELECT * FROM {table} LIMIT 1)"
        )

    return edit


DECISION = """json_object('lane', '', 'number', n, 'reply', json('true'))"""
TOO_MANY = {
    "balls": (many("ball", 50_000, feed_id="1000 + n", outcome="'left'"), "balls"),
    "results": (many("result", 50_000, feed_id="1"), "results"),
    "decisions": (many("entry", 50_000, kind="'decision'", data=DECISION), "decisions"),
    "changes": (many("entry", 50_000, kind="'roster'", data="'{}'"), "changes"),
}  # fmt: skip


@pytest.mark.parametrize("what", TOO_MANY)
@pytest.mark.timeout(20)
def test_more_than_any_lesson_has_is_refused_at_once(
    what: str, whole: Path, tmp_path: Path
) -> None:
    edit, word = TOO_MANY[what]
    told = resumed(edited(whole, tmp_path, edit), look=False)
    assert isinstance(told, str)
    assert word in told


@pytest.mark.timeout(60)
def test_many_balls_with_many_results_are_read_straight_on(whole: Path, tmp_path: Path) -> None:
    path = edited(whole, tmp_path, many("ball", 30_000, feed_id="1000 + n", outcome="'left'"))
    with closing(sqlite3.connect(path)) as connection:
        many("result", 30_000, feed_id="1000 + n")(connection)
        connection.commit()
    done = CliRunner().invoke(verbs, ["journal", "list", "--journal", str(path)])
    assert done.exit_code == 0, done.output
    assert "3" in done.output


def test_fifty_thousand_events_are_no_hindrance(whole: Path, tmp_path: Path) -> None:
    edit = many("entry", 50_000, kind="'event'", data="""'{"event":"x"}'""")
    ended = resumed(edited(whole, tmp_path, edit))
    assert isinstance(ended, Ending)
    assert ended.finished


def test_more_balls_than_a_launcher_is_asked_for_ahead_are_refused(
    whole: Path, tmp_path: Path
) -> None:
    more = many(
        "entry",
        AHEAD + 1,
        kind="'feed'",
        data="(SELECT json_set(data, '$.feed_id', 1000 + n, '$.number', 1000 + n) FROM entry"
        " WHERE kind = 'feed' ORDER BY id DESC LIMIT 1)",
    )
    told = resumed(edited(whole, tmp_path, more))
    assert isinstance(told, str)
    assert "under way" in told


def test_a_lesson_of_another_format_is_not_gone_on_with(whole: Path, tmp_path: Path) -> None:
    path = edited(whole, tmp_path, run("UPDATE session SET event_format = 0"))
    told = resumed(path)
    assert isinstance(told, str)
    assert "another version" in told
    journal = read_journal(path)
    assert len(read_lesson(journal, 1).balls) > 3
    journal.close()


# -- what is more than rows -----------------------------------------------------------------------

SPY = "CREATE TABLE spy (seen TEXT)"
FOREIGN = {
    "a trigger": [
        SPY, "CREATE TRIGGER t AFTER INSERT ON entry BEGIN INSERT INTO spy VALUES (1); END"],
    "a view": ["CREATE VIEW v AS SELECT 1"],
    "a view in a table's place": [
        "ALTER TABLE result RENAME TO kept", "CREATE VIEW result AS SELECT * FROM kept"],
    "a virtual table": ["CREATE VIRTUAL TABLE f USING fts5(words)"],
    "an index that reckons": ["CREATE INDEX i ON ball (upper(feed))"],
    "a table that reckons": [
        "ALTER TABLE entry ADD COLUMN more TEXT GENERATED ALWAYS AS (upper(kind))"],
    "a table with another check": [
        "DROP TABLE result",
        "CREATE TABLE result (id INTEGER PRIMARY KEY, session_id, feed_id, result, utc_s,"
        " taken_back, landing_x_m, landing_y_m CHECK (length(result) > 1))"],
    "an index the less": ["DROP INDEX result_of_session"],
}  # fmt: skip
VERBS = (
    ["journal", "list"],
    ["journal", "export", "-o", "{out}/all.json"],
    ["journal", "back-up", "-o", "{out}/copy.sqlite"],
    ["journal", "forget", "Ash"],
    ["journal", "delete", "1", "--yes"],
    ["review"],
    ["run", "--resume", "--on", "sim:", "--yes-i-am-behind-the-launcher"],
)


@pytest.mark.parametrize("what", FOREIGN)
def test_a_file_that_could_do_things_of_its_own_is_used_for_nothing(
    what: str, whole: Path, tmp_path: Path
) -> None:
    path = edited(whole, tmp_path, run(*FOREIGN[what]))
    before = path.read_bytes()
    for words in VERBS:
        given = [word.format(out=tmp_path) for word in words]
        done = CliRunner().invoke(verbs, [*given, "--journal", str(path)])
        assert done.exit_code in (1, 3), (words, done.output)
        assert "journal-unusable" in done.output + done.stderr, words
        assert isinstance(done.exception, SystemExit | None), done.exception
        assert path.read_bytes() == before, words


def test_a_plain_table_more_does_no_harm(whole: Path, tmp_path: Path) -> None:
    path = edited(whole, tmp_path, run("CREATE TABLE lost_and_found (root INTEGER, cells BLOB)"))
    read_journal(path).close()


def test_a_journal_is_opened_with_distrust(whole: Path, tmp_path: Path) -> None:
    path = edited(whole, tmp_path, run())
    for opened, only_read in ((read_journal, 1), (open_journal, 0)):
        journal = opened(path)
        try:
            assert journal.rows("PRAGMA trusted_schema")[0][0] == 0
            assert journal.rows("PRAGMA query_only")[0][0] == only_read
        finally:
            journal.close()


# -- edits by chance -----------------------------------------------------------------------------

ODD = [
    None, -1, 0, 1, 2, 3.7, -0.5, 2**31, 2**62, 1e300, "", "x", "left", "unknown", "net", "{}",
    "[]", "null", '{"lane": "", "number": 1, "reply": true}', '{"lane": "4/a", "number": 3}',
    b"", b"\xff", "\x1b[2J", "\u202e", "0/", "4/a", "A" * 5000, "9" * 400,
]  # fmt: skip


def by_chance(seed: int) -> Edit:
    """A few values changed, rows doubled or taken away, or parts of the JSON in them."""
    chance = random.Random(seed)

    def edit(connection: sqlite3.Connection) -> None:
        for _ in range(chance.choice([1, 1, 1, 3])):
            table = chance.choice(["session", "ball", "ball", "entry", "entry", "result"])
            names = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
            rows = [row[0] for row in connection.execute(f"SELECT rowid FROM {table}")]
            if not rows:
                continue
            row, column = chance.choice(rows), chance.choice(names)
            where = f"FROM {table} WHERE rowid = {row}"
            now = connection.execute(f"SELECT {column} {where}").fetchone()[0]
            value = mutated(now, chance)
            try:
                if chance.random() < 0.1:
                    connection.execute(f"DELETE {where}")
                else:
                    statement = f"UPDATE {table} SET {column} = ? WHERE rowid = {row}"
                    connection.execute(statement, (value,))
            except sqlite3.IntegrityError:
                continue

    return edit


def mutated(now: Any, chance: random.Random) -> Any:
    try:
        value = json.loads(now)
    except (TypeError, ValueError, UnicodeDecodeError):
        return chance.choice(ODD)
    if not isinstance(value, dict | list) or chance.random() < 0.2:
        return chance.choice(ODD)
    inside = value
    while isinstance(inside, dict | list) and inside:
        key = chance.choice(list(inside) if isinstance(inside, dict) else range(len(inside)))
        if isinstance(inside[key], dict | list) and inside[key] and chance.random() < 0.9:
            inside = inside[key]
            continue
        odd = [one for one in ODD if not isinstance(one, bytes)]
        if chance.random() < 0.2:
            del inside[key]
        else:
            inside[key] = chance.choice([*odd, [], {}, True, False])
        break
    written = json.dumps(value)
    return written.encode() if isinstance(now, bytes) else written


@pytest.mark.parametrize("seed", range(6))
def test_edits_by_chance_are_refused_or_do_no_harm(seed: int, whole: Path, tmp_path: Path) -> None:
    resumed(edited(whole, tmp_path, by_chance(seed)))


@pytest.mark.long
@pytest.mark.timeout(3000)
def test_a_thousand_edits(whole: Path, tmp_path: Path) -> None:
    for seed in range(100, 1100):
        for beside in tmp_path.glob("journal.sqlite*"):
            beside.unlink()
        try:
            resumed(edited(whole, tmp_path, by_chance(seed)))
        except BaseException as failed:
            raise AssertionError(f"seed {seed}") from failed


@pytest.mark.long
@pytest.mark.timeout(3000)
def test_a_thousand_edits_are_read_without_a_traceback(whole: Path, tmp_path: Path) -> None:
    for seed in range(2000, 3000):
        for beside in tmp_path.glob("journal.sqlite*"):
            beside.unlink()
        path = edited(whole, tmp_path, by_chance(seed))
        for words in VERBS[:2] + VERBS[5:6]:
            given = [word.format(out=tmp_path) for word in words]
            done = CliRunner().invoke(verbs, [*given, "--journal", str(path)])
            assert isinstance(done.exception, SystemExit | None), (seed, words, done.exception)
