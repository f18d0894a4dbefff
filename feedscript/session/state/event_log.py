"""A lesson's events in the journal: written in their order, and read back.

Beside the event itself the journal keeps two tables for whoever looks at balls and results without
the events: an event and what follows from it in those tables are one transaction.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing

import msgspec

from feedscript.diagnostics import FeedscriptError
from feedscript.journal.store import BallIntent, BallOutcome, Journal, SessionStart, open_journal
from feedscript.plan.model import Plan
from feedscript.session.state import events as e
from feedscript.session.state.apply import replay
from feedscript.session.state.run_state import RunState, state_at_the_start
from feedscript.session.state.stored import EntryRow, see_rows, unbelievable
from feedscript.visible import HIDDEN

#: The most that a lesson is believed to have of a kind: days of balls and taps. Design values.
MOST: dict[str, tuple[int, str, tuple[str, ...]]] = {
    "balls": (20_000, "ball", ()),
    "results": (20_000, "result", ()),
    "requests and outcomes": (40_000, "entry", ("feed", "outcome")),
    "records": (40_000, "entry", ("result", "landing", "undone")),
    "decisions and calls": (
        20_000,
        "entry",
        ("decision", "jump", "ahead-forgotten", "said", "turn", "stations-ended"),
    ),
    "turns": (2_000, "entry", ("turn-given",)),
    "changes of the group": (500, "entry", ("roster",)),
    "commands and phases": (
        20_000,
        "entry",
        ("act", "happened", "confirmed", "resumed", "ended", "cause"),
    ),
}
#: What changes nothing is not read back.
_FOR_THE_RECORD = ("trouble", "event", "suspended", "roster-refused", "sync-tone")


def write_event(journal: Journal, session_id: int, utc_s: float, event: e.Event) -> None:
    """On the disk when it returns, with what it changes in the tables. Raises FeedscriptError."""
    with journal.together():
        kind, launcher = e.KIND_OF[type(event)], getattr(event, "launcher", None)
        journal.note(session_id, utc_s, kind, event, launcher)
        _write_tables(journal, session_id, utc_s, event)


def _write_tables(journal: Journal, session_id: int, utc_s: float, event: e.Event) -> None:
    match event:
        case e.FeedRequested():
            journal.intend(session_id, _intent(event, utc_s))
        case e.BallSettled():
            outcome = BallOutcome(outcome_utc_s=utc_s, **msgspec.structs.asdict(event))
            journal.settle(session_id, outcome)
        case e.ResultRecorded():
            journal.take_back(session_id, event.feed_id)
            journal.record(session_id, event.feed_id, event.result, event.tapped_utc_s)
        case e.LandingMarked():
            journal.mark_landing(session_id, event.feed_id, event.landing_m)
        case e.ResultUndone():
            journal.take_back(session_id, event.feed_id)
        case e.Ended():
            journal.end_session(session_id, event.phase, utc_s)
        case e.Resumed():
            journal.reopen_session(session_id)


def _intent(event: e.FeedRequested, utc_s: float) -> BallIntent:
    columns = msgspec.structs.asdict(event)
    del columns["leave_utc_s"]
    return BallIntent(intent_utc_s=utc_s, **columns)


def read_state(journal: Journal, session_id: int, plan: Plan) -> RunState:
    """The lesson as its events left it.

    Raises FeedscriptError for the first thing that no feedscript wrote: an event that is not as one
    is written or cannot come where the lesson stands, or a table that says otherwise.
    """
    _see_that_it_is_not_too_much(journal, session_id)
    written = list(_events(journal, session_id))
    try:
        state = replay(plan, state_at_the_start(plan), (event for _, event in written))
    except FeedscriptError as trouble:
        what = trouble.diagnostic.message
        raise unbelievable(journal.path, session_id, what) from trouble
    _see_that_tables_agree(journal, session_id, written)
    return state


def _see_that_it_is_not_too_much(journal: Journal, session_id: int) -> None:
    for what, (most, table, kinds) in MOST.items():
        which = f"kind IN {(*kinds, '')}" if kinds else "1"
        query = f"SELECT COUNT(*) FROM {table} WHERE session_id = ? AND {which}"
        count = journal.rows(query, (session_id,))[0][0]
        if count > most:
            told = f"it has {count} {what}, and no lesson has more than {most}"
            raise unbelievable(journal.path, session_id, told)


def _events(journal: Journal, session_id: int) -> Iterator[tuple[float, e.Event]]:
    """Each event that changes anything, with its moment."""
    rows = journal.rows(
        f"SELECT * FROM entry WHERE session_id = ? AND kind NOT IN {_FOR_THE_RECORD} ORDER BY id",
        (session_id,),
    )
    see_rows(journal.path, session_id, rows, EntryRow)
    for row in rows:
        try:
            event = msgspec.json.decode(row["data"], type=e.KINDS[row["kind"]])
        except (msgspec.MsgspecError, UnicodeError, RecursionError, KeyError) as trouble:
            told = f"a {row['kind']} is not as one is written: {trouble}"
            raise unbelievable(journal.path, session_id, told) from trouble
        for text in texts(msgspec.to_builtins(event)):
            if HIDDEN.search(text):
                told = f"a {row['kind']} holds a character that is not seen, in {text[:40]!r}"
                raise unbelievable(journal.path, session_id, told)
        yield row["utc_s"], event


def _see_that_tables_agree(
    journal: Journal, session_id: int, written: list[tuple[float, e.Event]]
) -> None:
    """Hold balls and results against those of a journal that these events are written to."""
    with closing(open_journal(None)) as again:
        other = again.begin_session(
            SessionStart(
                token=1, begun_utc_s=0.0, title="", source="", rehearsal=True, plan=b"",
                group_json="",
            )
        )  # fmt: skip
        with again.together():
            for utc_s, event in written:
                _write_tables(again, other, utc_s, event)
        for table in ("ball", "result"):
            _see_that_it_agrees(journal, session_id, again, other, table)


def _see_that_it_agrees(
    journal: Journal, session_id: int, again: Journal, other: int, table: str
) -> None:
    order = "feed_id" if table == "ball" else "id"
    query = f"SELECT * FROM {table} WHERE session_id = ? ORDER BY {order}"
    found, told = journal.rows(query, (session_id,)), again.rows(query, (other,))
    if len(found) != len(told):
        what = f"it has {len(found)} rows of {table}, and its events tell of {len(told)}"
        raise unbelievable(journal.path, session_id, what)
    for row, expected in zip(found, told, strict=True):
        for column, value in dict(row).items():
            told_here = expected[column]
            if value != told_here and column not in ("id", "session_id"):
                who = f"ball {expected['feed_id']}" + (" as recorded" if table == "result" else "")
                what = f"{who} has {column} {value!r}, and its events say {told_here!r}"
                raise unbelievable(journal.path, session_id, what)


def texts(value: object) -> Iterator[str]:
    """Every text in plain data."""
    stack = [value]
    while stack:
        one = stack.pop()
        if isinstance(one, str):
            yield one
        elif isinstance(one, dict):
            stack.extend([*one.keys(), *one.values()])
        elif isinstance(one, list | tuple):
            stack.extend(one)
