"""What a court's journal has, its club has: each event once and in order, whatever the way there
does."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing
from pathlib import Path

import anyio
import httpx
import pytest
from starlette.applications import Starlette

from feedscript.club.intake import Intake
from feedscript.club.link.acknowledged import (
    Acknowledged,
    acknowledged_path,
    keep_acknowledged,
    keeper,
    read_acknowledged,
)
from feedscript.club.link.door import Door, NotHeardError, NotTakenError, at_the_door
from feedscript.club.link.outbox import Outbox
from feedscript.club.link.sender import Sender
from feedscript.club.store import hosts
from feedscript.club.store.store import open_store
from feedscript.journal.retention import delete_lessons, forget_player
from feedscript.journal.store import Journal, open_journal, read_journal
from tests.club.lessons import court
from tests.club.link.bad_network import ALL, BadNetwork
from tests.club.link.journals import begin, in_journal, in_log, write


class Club:
    """A club's store behind its real door, and a court with a journal that has joined it."""

    def __init__(self, folder: Path, seed: int = 0) -> None:
        self.folder = folder
        self.store = open_store(f"sqlite:///{folder / 'club.sqlite'}")
        self.joined: hosts.Joined = court(self.store)
        app = Starlette(routes=Intake(self.store, lambda: 9.0).routes())
        self.network = BadNetwork(app, random.Random(seed))
        self.path = folder / "journal.sqlite"
        self.journal: Journal = open_journal(self.path)

    def push(
        self,
        *,
        times: int = 1,
        between: Callable[[int], None] = lambda _: None,
        patient: bool = True,
    ) -> Outbox:
        """What one process of the court sends until nothing waits, beginning anew ``times``."""

        async def main() -> Outbox:
            for again in range(times):
                between(again)
                with closing(read_journal(self.path)) as journal:
                    known = read_acknowledged(self.path, self.joined.host)
                    outbox = Outbox(journal, known.held, known.elsewhere)
                    keep = keeper(self.path, known)
                    async with at_the_door(
                        "http://club.example", key=self.joined.key, transport=self.network
                    ) as client:
                        await self._send(Sender(Door(client), outbox, keep), patient)
            return outbox

        return anyio.run(main)

    async def _send(self, sender: Sender, patient: bool) -> None:
        while True:
            try:
                return await sender.send_what_waits()
            except NotHeardError:
                if self.network.cut or not patient:
                    raise

    def is_the_same(self) -> None:
        assert in_log(self.store, self.joined.host) == in_journal(self.path)


@pytest.fixture
def club(tmp_path: Path) -> Iterator[Club]:
    made = Club(tmp_path)
    yield made
    made.journal.close()
    made.store.close()


def test_a_week_offline_is_caught_up_with(club: Club) -> None:
    for token in range(1, 8):
        write(club.journal, begin(club.journal, token), 1500 if token == 3 else 40)
    club.network.cut = True
    with pytest.raises(NotHeardError):
        club.push()
    club.network.cut = False
    outbox = club.push()
    club.is_the_same()
    assert outbox.waiting == 0
    assert not outbox.aside
    assert read_acknowledged(club.path, club.joined.host).held == {
        name: len(events) for name, events in in_journal(club.path).items()
    }


def a_bad_day(folder: Path, seed: int) -> Counter[str]:
    """A court writes while it sends over a bad network, dies, and loses its own file at times."""
    draw, club = random.Random(seed), Club(folder, seed)
    club.network.trouble = 0.6
    lessons = [begin(club.journal, token) for token in (7, 8)]

    def more(again: int) -> None:
        if again == 3:
            lessons.append(begin(club.journal, 9))
        for lesson in lessons:
            write(club.journal, lesson, draw.randrange(30), seed=seed)
        if draw.random() < 0.3:
            acknowledged_path(club.path).unlink(missing_ok=True)

    club.push(times=8, between=more)
    club.is_the_same()
    club.journal.close()
    club.store.close()
    return club.network.met


def test_each_event_comes_once_and_in_order_over_a_bad_network(tmp_path: Path) -> None:
    met = bad_days(tmp_path, range(2))
    assert set(met) >= set(ALL)  # all of it happened


@pytest.mark.long
@pytest.mark.timeout(0)
def test_each_trouble_a_hundred_times_and_more(tmp_path: Path) -> None:
    met = bad_days(tmp_path, range(2, 42))
    print(met)
    assert min(met[one] for one in ALL) >= 100


def bad_days(folder: Path, seeds: Iterable[int]) -> Counter[str]:
    met = Counter[str]()
    for seed in seeds:
        (folder / str(seed)).mkdir()
        met += a_bad_day(folder / str(seed), seed)
    return met


def test_a_player_forgotten_after_a_lost_answer_is_sent_to_nobody_again(club: Club) -> None:
    lesson = begin(club.journal, 5)
    club.journal.note(lesson, 1.8e9, "roster", {"player": "Wren Ash"})
    club.network.planned = ["", "answer lost", "lost"]
    with pytest.raises(NotHeardError):
        club.push(patient=False)
    club.journal.close()
    forget_player(club.path, "Wren Ash")
    club.journal = open_journal(club.path)
    club.journal.note(lesson, 1.8e9 + 1, "call", {"text": "after"})
    outbox = club.push()
    assert not outbox.aside
    (events,) = in_log(club.store, club.joined.host).values()
    assert [event[0] for event in events] == [1, 2]
    first, second = [one.content for one in club.network.old if one.method == "POST"]
    assert b"Wren" in first
    assert b"Wren" not in second


def test_a_lesson_that_is_not_taken_keeps_no_other_waiting(club: Club) -> None:
    good, odd = begin(club.journal, 5), begin(club.journal, 6)
    write(club.journal, good, 3)
    club.journal.note(odd, 1.8e9, "call", {"text": "x" * 200_000})
    outbox = club.push()
    (name,) = outbox.aside
    assert name == f"{odd}-{6:08x}"
    assert outbox.aside[name].slug == "club-not-taken"
    assert set(in_log(club.store, club.joined.host)) == {f"{good}-{5:08x}"}
    write(club.journal, good, 3, seed=1)
    club.push()
    assert len(in_log(club.store, club.joined.host)[f"{good}-{5:08x}"]) == 6


def test_a_lesson_thrown_away_before_it_was_sent_is_not_sent(club: Club) -> None:
    kept, gone = begin(club.journal, 5), begin(club.journal, 6)
    for lesson in (kept, gone):
        write(club.journal, lesson, 3)
    club.journal.close()
    delete_lessons(club.path, [gone])
    club.journal = open_journal(club.path)
    club.push()
    assert set(in_log(club.store, club.joined.host)) == {f"{kept}-{5:08x}"}
    club.is_the_same()


def test_a_club_restored_from_an_older_copy_is_given_again_what_it_lost(club: Club) -> None:
    write(club.journal, begin(club.journal, 5), 30)
    club.push()
    with club.store.writing() as connection:
        connection.exec_driver_sql("DELETE FROM event WHERE number > 12")
        connection.exec_driver_sql("UPDATE lesson SET held = 12")
    write(club.journal, 1, 1, seed=4)
    club.push()
    club.is_the_same()


@pytest.fixture
def put_back(club: Club) -> Club:
    """The club has 30 events of the lesson and more; the journal, from an older copy, has 20."""
    write(club.journal, begin(club.journal, 5), 20)
    copy = club.folder / "copy.sqlite"
    club.journal.copy_to(copy)
    write(club.journal, 1, 10, seed=1)
    club.push()
    club.journal.close()
    for one in club.folder.glob("journal.sqlite-*"):
        if not one.name.endswith(".json"):
            one.unlink()
    copy.replace(club.path)
    club.journal = open_journal(club.path)
    return club


def test_a_journal_that_was_put_back_is_told_and_its_other_lessons_go_on(put_back: Club) -> None:
    before = in_log(put_back.store, put_back.joined.host)
    write(put_back.journal, begin(put_back.journal, 6), 5)
    write(put_back.journal, 1, 7, seed=2)
    outbox = put_back.push()
    assert {name: why.slug for name, why in outbox.aside.items()} == {
        "1-00000005": "club-journal-put-back"
    }
    assert "30 events" in outbox.aside["1-00000005"].message
    after = in_log(put_back.store, put_back.joined.host)
    assert after == before | {"2-00000006": in_journal(put_back.path)["2-00000006"]}


@pytest.mark.parametrize("more", [11, 30])
def test_what_a_put_back_journal_wrote_under_the_same_numbers_is_never_mixed_in(
    put_back: Club, more: int
) -> None:
    """It has gone on past what the club holds, so that only the events themselves tell."""
    before = in_log(put_back.store, put_back.joined.host)
    write(put_back.journal, 1, more, seed=2)
    for known in (True, False):
        if not known:
            acknowledged_path(put_back.path).unlink()
        outbox = put_back.push()
        assert "put back" in outbox.aside["1-00000005"].message
        assert in_log(put_back.store, put_back.joined.host) == before


def test_a_put_back_journal_that_lost_nothing_of_what_was_sent_goes_on(club: Club) -> None:
    write(club.journal, begin(club.journal, 5), 20)
    club.push()
    copy = club.folder / "copy.sqlite"
    club.journal.copy_to(copy)
    club.journal.close()
    copy.replace(club.path)
    club.journal = open_journal(club.path)
    write(club.journal, 1, 9, seed=2)
    assert not club.push().aside
    club.is_the_same()


def test_what_was_sent_before_somebody_was_forgotten_is_gone_on_from(club: Club) -> None:
    """Forgetting changes the words of the event before, and nothing by which it is known."""
    lesson = begin(club.journal, 5)
    club.journal.note(lesson, 1.8e9, "roster", {"player": "Wren Ash"})
    club.push()
    club.journal.close()
    forget_player(club.path, "Wren Ash")
    club.journal = open_journal(club.path)
    club.journal.note(lesson, 1.8e9 + 1, "call", {"text": "after"})
    assert not club.push().aside
    assert len(in_log(club.store, club.joined.host)["1-00000005"]) == 2


def test_a_key_that_was_withdrawn_is_said_to_be_so(club: Club) -> None:
    write(club.journal, begin(club.journal, 5), 3)
    hosts.withdraw(club.store, club.joined.host, 60.0)
    with pytest.raises(NotTakenError) as refused:
        club.push()
    assert "join" in refused.value.diagnostic.help


@pytest.mark.parametrize(
    "answer",
    [
        b"",
        b"<html>",
        b'{"held": 7}',
        b'{"held": {}}',
        b'{"held": {"1-00000005": 1}}',
        b"[" * 90_000,
    ],
)
def test_what_is_no_club_is_given_nothing_up_for(club: Club, answer: bytes) -> None:
    """Whoever answers there oddly has taken nothing: it stays in the queue."""
    write(club.journal, begin(club.journal, 5), 3)

    class Odd(httpx.AsyncBaseTransport):
        async def handle_async_request(self, request: httpx.Request) -> httpx.Response:
            return httpx.Response(200, content=answer)

    async def main() -> int:
        with closing(read_journal(club.path)) as journal:
            outbox = Outbox(journal, {})
            async with at_the_door("http://club.example", transport=Odd()) as client:
                with pytest.raises(NotHeardError):
                    await Sender(Door(client), outbox, lambda _: None).send_what_waits()
            return outbox.waiting

    assert anyio.run(main) >= 2


def test_what_is_held_of_another_club_counts_for_nothing(club: Club) -> None:
    keep_acknowledged(club.path, Acknowledged(host="another", held={"1-00000005": 3}))
    assert read_acknowledged(club.path, club.joined.host).held == {}
    assert oct(acknowledged_path(club.path).stat().st_mode)[-3:] == "600"
    acknowledged_path(club.path).write_text("{")
    assert read_acknowledged(club.path, "another").held == {}


def test_a_lesson_goes_to_one_club_under_one_key_alone(club: Club) -> None:
    """A computer that joins anew sends what comes from then on, and its history once."""
    write(club.journal, begin(club.journal, 5), 4)
    club.push()
    club.joined = court(club.store, "court one again")
    write(club.journal, begin(club.journal, 6), 3)
    write(club.journal, 1, 1, seed=2)
    club.push()
    assert set(in_log(club.store, club.joined.host)) == {"2-00000006"}
    club.joined = court(club.store, "court one once more")
    write(club.journal, begin(club.journal, 7), 2)
    club.push()
    assert set(in_log(club.store, club.joined.host)) == {"3-00000007"}
