"""A lesson's events in the journal: written in their order, and read back.

Beside the event itself the journal keeps two tables for whoever looks at balls and results without
the events: an event and what follows from it in those tables are one transaction.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import closing

import msgspec

from feedscript.diagnostics import FeedscriptError
from feedscript.journal import queries
from feedscript.journal.store import BallIntent, BallOutcome, Journal, SessionStart, open_journal
from feedscript.journal.stored import BallRow, EntryRow, ResultRow, unbelievable
from feedscript.plan.model import Plan
from feedscript.session.state import events as e
from feedscript.session.state.apply import replay
from feedscript.session.state.run_state import RunState, state_at_the_start
from feedscript.visible import HIDDEN

#: The most that a lesson is believed to have of a kind: days of balls and taps. Design values.
MOST_BALLS = MOST_RESULTS = 20_000
MOST_ENTRIES: dict[str, tuple[int, tuple[str, ...]]] = {
    "requests and outcomes": (40_000, ("feed", "outcome")),
    "records": (40_000, ("result", "landing", "feed-landing", "undone")),
    "decisions and calls": (
        20_000,
        (
            *("decision", "jump", "ahead-forgotten", "said", "turn", "step", "stations-ended"),
            *("asked", "break", "exercise-began", "exercise-ended"),
        ),
    ),
    "turns": (2_000, ("turn-given",)),
    "changes of the group": (500, ("roster", "stands")),
    "commands and phases": (
        20_000,
        ("act", "happened", "confirmed", "resumed", "ended", "cause"),
    ),
}
#: What stands in the tables of balls and results too.
_CHANGING = ("feed", "outcome", "result", "landing", "undone", "ended", "resumed")
#: What changes nothing is not read back.
_FOR_THE_RECORD = ("trouble", "event", "suspended", "roster-refused", "tap-dropped", "sync-tone")


def write_event(journal: Journal, session_id: int, utc_s: float, event: e.Event) -> None:
    """On the disk when it returns, with what it changes in the tables. Raises FeedscriptError."""
    with journal.together():
        kind, launcher = e.KIND_OF[type(event)], getattr(event, "launcher", None)
        journal.note(session_id, utc_s, kind, event, launcher)
        _write_tables(journal, session_id, utc_s, event)


def write_entry(journal: Journal, session_id: int, entry: EntryRow) -> None:
    """Write an entry of another journal down here, byte for byte, with what it changes in the
    tables; within a transaction of the caller's. Raises FeedscriptError for one that no feedscript
    wrote."""
    row = {"session_id": session_id, **msgspec.structs.asdict(entry)}
    journal.write("entry", row)
    if entry.kind in _CHANGING:
        event = _event_of(entry, journal.path, session_id)
        _write_tables(journal, session_id, entry.utc_s, event)


def _event_of(row: EntryRow, path: str, session_id: int) -> e.Event:
    try:
        return msgspec.json.decode(row.data, type=e.KINDS[row.kind])
    except (msgspec.MsgspecError, UnicodeError, RecursionError, KeyError) as trouble:
        told = f"a {row.kind} is not as one is written: {trouble}"
        raise unbelievable(path, session_id, told) from trouble


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
    for only_there in ("leave_utc_s", "exercise", "play", "at_s"):
        del columns[only_there]
    return BallIntent(intent_utc_s=utc_s, **columns)


def read_state(journal: Journal, session_id: int, plan: Plan) -> RunState:
    """The lesson as its events left it.

    Raises FeedscriptError for the first thing that no feedscript wrote: an event that is not as one
    is written or cannot come where the lesson stands, or a table that says otherwise.
    """
    _see_that_it_is_not_too_much(journal, session_id)
    written = list(events_of(journal, session_id))
    try:
        state = replay(plan, state_at_the_start(plan), (event for _, event in written))
    except FeedscriptError as trouble:
        what = trouble.diagnostic.message
        raise unbelievable(journal.path, session_id, what) from trouble
    _see_that_tables_agree(journal, session_id, written)
    return state


def _see_that_it_is_not_too_much(journal: Journal, session_id: int) -> None:
    for what, most, count in (
        ("balls", MOST_BALLS, queries.count_balls(journal, session_id)),
        ("results", MOST_RESULTS, queries.count_results(journal, session_id)),
        *(
            (what, most, queries.count_entries(journal, session_id, *kinds))
            for what, (most, kinds) in MOST_ENTRIES.items()
        ),
    ):
        if count > most:
            told = f"it has {count} {what}, and no lesson has more than {most}"
            raise unbelievable(journal.path, session_id, told)


def events_of(journal: Journal, session_id: int) -> Iterator[tuple[float, e.Event]]:
    """Each event that changes anything, with its moment."""
    for row in queries.entries_but(journal, session_id, *_FOR_THE_RECORD):
        event = _event_of(row, journal.path, session_id)
        for text in texts(msgspec.to_builtins(event)):
            if HIDDEN.search(text):
                told = f"a {row.kind} holds a character that is not seen, in {text[:40]!r}"
                raise unbelievable(journal.path, session_id, told)
        yield row.utc_s, event


def serials_at_first(journal: Journal, session_id: int, launchers: int) -> tuple[str, ...]:
    """The serial number that each launcher gave when the lesson began; "" for none.

    Raises FeedscriptError for a report of a launcher that no feedscript wrote.
    """
    found: dict[int, str] = {}
    for row in queries.entries_of(journal, session_id, "event"):
        event = _event_of(row, journal.path, session_id)
        if isinstance(event, e.LauncherReported) and event.event == e.GREETING:
            found.setdefault(event.launcher, str(event.said.get("serial", "")))
    return tuple(found.get(number, "") for number in range(launchers))


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
        for what, read in (("balls", queries.balls_of), ("results", queries.results_of)):
            found, told = read(journal, session_id), read(again, other)
            if len(found) != len(told):
                how_many = f"it has {len(found)} {what}, and its events tell of {len(told)}"
                raise unbelievable(journal.path, session_id, how_many)
            _see_that_they_agree(journal, session_id, found, told)


def _see_that_they_agree(
    journal: Journal,
    session_id: int,
    found: Sequence[BallRow | ResultRow],
    told: Sequence[BallRow | ResultRow],
) -> None:
    for row, expected in zip(found, told, strict=True):
        for column in row.__struct_fields__:
            value, told_here = getattr(row, column), getattr(expected, column)
            if value != told_here:
                recorded = " as recorded" if isinstance(expected, ResultRow) else ""
                who = f"ball {expected.feed_id}{recorded}"
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
