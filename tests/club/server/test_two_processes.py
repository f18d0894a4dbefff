"""Two server processes on one PostgreSQL are one club: news and STOP pass between them."""

from __future__ import annotations

import time

import httpx
import pytest

from feedscript.club.messages import EVENTS, STOP
from tests.club.conftest import ON_POSTGRES
from tests.club.lessons import part
from tests.club.server.processes import next_of, say, serving
from tests.club.test_intake import body

pytestmark = [pytest.mark.long, ON_POSTGRES]


def test_a_stop_from_one_process_reaches_a_court_at_the_other(address: str) -> None:
    with serving(address) as one, serving(address) as other:
        host, key = one.join("court one")
        with one.court(key) as court, other.news() as page:
            order = other.post(STOP, {"host": host})["order"]
            assert next_of(court, "stop")["order"] == order
            say(court, "stop-heard", order=order)
            assert next_of(page, "stop", order=order, state="heard")
            say(court, "stop-ended", order=order, stopped=True)
            assert next_of(page, "stop", order=order, state="stopped")


def test_what_a_court_sends_to_one_is_told_by_the_other(address: str) -> None:
    with serving(address) as one, serving(address) as other:
        host, key = other.join("court one")
        with other.news() as page:
            bearer = {"Authorization": f"Bearer {key}"}
            sent = httpx.post(one.url + EVENTS, content=body(part(1, 3)), headers=bearer)
            assert sent.status_code == 200
            told = next_of(page, "happened", host=host)
    assert [event["number"] for event in told["events"]] == [1, 2, 3]


def test_a_court_whose_process_was_killed_is_unheard_soon_and_comes_back_at_the_other(
    address: str,
) -> None:
    with serving(address) as one, serving(address) as other:
        host, key = one.join("court one")
        with other.news() as page:
            with one.court(key) as court:
                say(court, "alive")
                heard_s = time.monotonic()
                next_of(page, "court", host=host, heard=True)
                one.process.kill()
            next_of(page, "court", host=host, heard=False)
            assert time.monotonic() - heard_s < 3.0
            with other.court(key) as court:
                say(court, "alive")
                assert next_of(page, "court", host=host, heard=True)
