"""Events come in order, each once, however the line shuffles, doubles and delays them."""

from __future__ import annotations

from feedscript_drivers.wire.event_order import EventOrder
from feedscript_drivers.wire.messages import EventLine
from hypothesis import given
from hypothesis import strategies as st

NUMBERS = 65536  # the wire's event numbers begin again after 65535
KEPT = 64  # so far apart may two events be that are under way at once


def event(number: int) -> EventLine:
    return EventLine(sequence=number % NUMBERS, ms=0, word="STATE", numbers=(2, 1))


def delivered(order: EventOrder, numbers: list[int]) -> list[int]:
    return [ready.sequence for number in numbers for ready in order.take(event(number))]


@given(
    st.integers(0, NUMBERS - 1), st.integers(1, KEPT), st.randoms(use_true_random=False), st.data()
)
def test_every_event_is_delivered_once_and_in_order(last, count, chance, data) -> None:
    coming = [last + k for k in range(1, count + 1)]
    before = [last - k for k in data.draw(st.lists(st.integers(0, KEPT), max_size=5))]
    again = data.draw(st.lists(st.sampled_from(coming), max_size=5))
    arriving = coming + before + again
    chance.shuffle(arriving)
    order = EventOrder(last)
    assert delivered(order, arriving) == [number % NUMBERS for number in coming]
    assert order.first_missing() is None


@given(st.integers(0, NUMBERS - 1), st.integers(0, NUMBERS // 2 - 1))
def test_nothing_of_before_is_ever_missing(last: int, ago: int) -> None:
    order = EventOrder(last)
    assert order.take(event(last - ago)) == []
    order.hear_of((last - ago) % NUMBERS)
    assert order.first_missing() is None


@given(st.integers(0, NUMBERS - 1), st.integers(1, KEPT))
def test_what_a_heartbeat_names_and_did_not_come_is_asked_for(last: int, ahead: int) -> None:
    order = EventOrder(last)
    order.hear_of((last + ahead) % NUMBERS)
    assert order.first_missing() == (last + 1) % NUMBERS
