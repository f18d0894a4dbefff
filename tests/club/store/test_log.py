"""The log holds every event once, in order, and nobody who follows it misses one."""

from __future__ import annotations

from contextlib import closing, suppress

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import update

from feedscript.club.store.log import Logged, OutOfOrderError, Position, after, held, take_in, write
from feedscript.club.store.log_tables import EVENT
from feedscript.club.store.store import Store, open_store
from tests.club.conftest import BOTH, ON_POSTGRES
from tests.club.lessons import LESSON, court, event, part


def everything(store: Store, most: int = 7) -> list[Logged]:
    """The whole log, a few at a time."""
    position, found = Position(), []
    while True:
        read = after(store, position, most)
        if not read.events:
            return found
        found += read.events
        position = read.position


def numbers(store: Store) -> list[int]:
    return [one.event.number for one in everything(store)]


@BOTH
def test_what_is_sent_is_held_as_it_was(store: Store) -> None:
    host = court(store).host
    assert take_in(store, host, [part(1, 20)], 9.0) == {LESSON: 20}
    found = everything(store)
    assert [one.event for one in found] == list(part(1, 20).events)
    assert {(one.host, one.lesson, one.received_utc_s) for one in found} == {(host, LESSON, 9.0)}
    assert held(store, host) == {LESSON: 20}


@BOTH
def test_what_comes_again_is_kept_once(store: Store) -> None:
    host = court(store).host
    take_in(store, host, [part(1, 5)], 9.0)
    assert take_in(store, host, [part(1, 5)], 9.5) == {LESSON: 5}
    assert take_in(store, host, [part(3, 8, header=None)], 9.5) == {LESSON: 8}
    assert take_in(store, host, [part(2, 3)], 9.5) == {LESSON: 8}
    assert numbers(store) == list(range(1, 9))


@BOTH
def test_a_gap_is_refused_with_the_number_wanted_and_nothing_of_it_is_kept(store: Store) -> None:
    host = court(store).host
    take_in(store, host, [part(1, 5)], 9.0)
    with pytest.raises(OutOfOrderError) as refused:
        take_in(store, host, [part(1, 3, "0-0000beef"), part(7, 8)], 9.5)
    assert (refused.value.lesson, refused.value.wanted) == (LESSON, 6)
    assert held(store, host) == {LESSON: 5}
    assert numbers(store) == list(range(1, 6))


def test_events_in_another_order_are_refused(store: Store) -> None:
    host = court(store).host
    for wrong in ([2, 1], [1, 1], [1, 3]):
        events = tuple(event(number) for number in wrong)
        with pytest.raises(OutOfOrderError):
            take_in(store, host, [msgspec.structs.replace(part(1, 1), events=events)], 9.0)
    assert numbers(store) == []


def test_a_lesson_without_a_head_is_refused(store: Store) -> None:
    with pytest.raises(OutOfOrderError) as refused:
        take_in(store, court(store).host, [part(1, 5, header=None)], 9.0)
    assert refused.value.wanted == 1


def test_other_words_under_a_number_that_is_held_are_refused(store: Store) -> None:
    host = court(store).host
    take_in(store, host, [part(1, 5)], 9.0)
    forged = msgspec.structs.replace(part(1, 1), events=(event(4, "{}"), event(5), event(6)))
    with pytest.raises(OutOfOrderError, match="event 4 is held already"):
        take_in(store, host, [forged], 9.5)
    assert [one.event for one in everything(store)] == list(part(1, 5).events)


def test_two_courts_may_name_their_lessons_alike(store: Store) -> None:
    one, other = court(store).host, court(store, "court two").host
    take_in(store, one, [part(1, 3)], 9.0)
    take_in(store, other, [part(1, 2)], 9.0)
    assert held(store, one) == {LESSON: 3}
    assert held(store, other) == {LESSON: 2}


@settings(max_examples=10, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(sent=st.lists(st.tuples(st.integers(1, 9), st.integers(0, 4)), max_size=8))
def test_batches_that_come_twice_or_in_another_order_leave_the_log_as_it_was_written(
    store: Store, sent: list[tuple[int, int]]
) -> None:
    """A court that goes on from what is wanted gets everything through, whatever the way does."""
    host = court(store).host
    for first, more in sent:
        with suppress(OutOfOrderError):
            take_in(store, host, [part(first, first + more)], 9.0)
    wanted = held(store, host).get(LESSON, 0) + 1
    take_in(store, host, [part(wanted, 13)], 9.0)
    found = [one.event for one in everything(store, 500) if one.host == host]
    assert found == list(part(1, 13).events)


@ON_POSTGRES
def test_who_began_first_and_commits_last_is_not_missed(store: Store) -> None:
    """Two write at once; the one with the lower number is seen later, and must not be passed."""
    host, position = court(store).host, Position()
    with store.writing() as slow:
        write(slow, host, [part(1, 3, "1-0000beef")], 9.0)
        take_in(store, host, [part(1, 3, "2-0000beef")], 9.0)  # committed, and waits
        first = after(store, position, 100)
        assert first.soon  # the bell has rung, and rings no more when the slow one ends
    later = after(store, first.position, 100)
    assert not later.soon
    seen = [*first.events, *later.events]
    assert [(one.lesson, one.event.number) for one in seen] == [
        (lesson, number) for lesson in ("1-0000beef", "2-0000beef") for number in (1, 2, 3)
    ]


@ON_POSTGRES
def test_who_wrote_nothing_in_the_end_is_passed_over(store: Store) -> None:
    host = court(store).host
    with suppress(ZeroDivisionError), store.writing() as broken_off:
        write(broken_off, host, [part(1, 3, "1-0000beef")], 9.0)
        raise ZeroDivisionError
    take_in(store, host, [part(1, 3, "2-0000beef")], 9.0)
    assert [one.lesson for one in everything(store)] == ["2-0000beef"] * 3


@ON_POSTGRES
def test_a_log_restored_from_a_backup_of_another_server_is_read_whole(address: str) -> None:
    """Its transactions may have had far higher numbers than this server has come to."""
    with closing(open_store(address)) as store:
        take_in(store, court(store).host, [part(1, 3)], 9.0)
        with store.writing() as connection:
            connection.execute(update(EVENT).values(xact=2**40))
        assert numbers(store) == []
    with closing(open_store(address)) as store:
        assert numbers(store) == [1, 2, 3]
