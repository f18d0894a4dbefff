"""Whatever the club does, the lesson goes on, and its coach is told once."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from socket import socket

import anyio
import msgspec
import pytest

from feedscript.club.link import beside
from feedscript.club.link.beside import OfLesson, beside_lesson
from feedscript.club.link.listener import Stopped
from feedscript.club.link.membership import Membership
from feedscript.journal.store import open_journal
from feedscript.session.operator.commands import SimpleCommand
from feedscript.session.operator.phases import NOT_NOW, Act, Phase
from feedscript.session.operator.view import LauncherView, LessonView, Still
from tests.club.link.journals import begin, write
from tests.console.lesson import RememberingLesson
from tests.session.operator.seen_views import a_state


@contextmanager
def answering(answer: Callable[[socket], None] | None) -> Iterator[str]:
    """What listens there and answers so; the address of nobody for None."""
    with socket() as listening:
        listening.bind(("127.0.0.1", 0))
        address = f"http://127.0.0.1:{listening.getsockname()[1]}"
        if answer is None:
            yield address
            return
        listening.listen()
        listening.settimeout(0.05)
        ended = threading.Event()

        def take() -> None:
            kept = []
            while not ended.is_set():
                try:
                    kept.append(listening.accept()[0])
                    answer(kept[-1])
                except OSError:
                    continue
            for one in kept:
                one.close()

        thread = threading.Thread(target=take)
        thread.start()
        yield address
        ended.set()
        thread.join()


def closes(peer: socket) -> None:
    peer.close()


def talks_nonsense(peer: socket) -> None:
    peer.sendall(b"220 mail.example\r\n" * 100)
    peer.close()


def knows_nobody(peer: socket) -> None:
    peer.recv(1000)
    peer.sendall(b"HTTP/1.1 401 Unauthorized\r\nContent-Length: 2\r\nConnection: close\r\n\r\n{}")
    peer.close()


@pytest.mark.parametrize(
    ("answer", "slug"),
    [
        (None, "club-not-heard"),
        (closes, "club-not-heard"),
        (talks_nonsense, "club-not-heard"),
        (lambda _: None, "club-not-heard"),
        (knows_nobody, "club-not-taken"),
    ],
    ids=["nobody", "closes", "nonsense", "silent", "key unknown"],
)
def test_a_club_that_is_not_heard_is_told_once_and_stops_nothing(
    answer: Callable[[socket], None] | None,
    slug: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for name, value in (("TOLD_AFTER_S", 0.1), ("AGAIN_S", 0.01), ("LAST_S", 0.1)):
        monkeypatch.setattr(beside, name, value)
    monkeypatch.setattr("feedscript.club.link.door.PATIENCE_S", 0.2)
    monkeypatch.setattr("feedscript.club.link.listener.OPENS_S", 0.2)
    monkeypatch.setattr("feedscript.club.link.listener.AGAIN_S", 0.01)
    lesson = RememberingLesson()
    path = tmp_path / "journal.sqlite"

    async def main(address: str) -> None:
        of = OfLesson(journal=path, session_id=1)
        member = Membership(url=address, host="h", key="k", name="one")
        async with beside_lesson(lesson, of, member):
            with anyio.fail_after(20):
                while not lesson.noticed:
                    await anyio.sleep(0.01)
            await asyncio.sleep(0.3)

    with closing(open_journal(path)) as journal, answering(answer) as address:
        write(journal, begin(journal, 5), 3)
        anyio.run(main, address)
    assert {one.slug for one in lesson.noticed} == {slug}
    assert len(lesson.noticed) == 1
    assert not lesson.told


def test_a_fault_of_our_own_is_told_and_stops_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The rim of the thread: nothing of it comes into the lesson's loop."""
    monkeypatch.setattr(beside, "Outbox", lambda *_: 1 / 0)
    lesson = RememberingLesson()
    path = tmp_path / "journal.sqlite"

    async def main() -> None:
        member = Membership(url="http://127.0.0.1:9", host="h", key="k", name="one")
        async with beside_lesson(lesson, OfLesson(journal=path, session_id=1), member):
            with anyio.fail_after(20):
                while not lesson.noticed:
                    await anyio.sleep(0.01)

    with closing(open_journal(path)):
        anyio.run(main)
    (told,) = lesson.noticed
    assert told.slug == "club-not-heard"
    assert "ZeroDivisionError" in told.message


def launcher(name: str, still: Still | None, words: str) -> LauncherView:
    (any_one,) = a_state().launchers
    return msgspec.structs.replace(any_one, name=name, still=still, state_words=words)


def test_a_stop_that_only_one_of_two_launchers_confirmed_is_told_of_each_as_it_is() -> None:
    view = msgspec.structs.replace(
        a_state(),
        phase=Phase.STOPPED,
        launchers=(
            launcher("left", Still.CONFIRMED, "stopping, confirmed"),
            launcher("right", Still.WATCHDOG, "not confirmed; its time is over"),
        ),
    )
    told = anyio.run(beside.stop, RememberingLesson(view), "the coach")
    assert told == Stopped(
        True, "left: stopping, confirmed; right: not confirmed; its time is over"
    )


@pytest.mark.parametrize(
    ("no_link", "still", "known"),
    [
        ("", False, Stopped(False, "the lesson has ended")),
        ("", True, Stopped(True)),
        ("No link to the launcher.", True, None),
        ("No link to the launcher.", False, None),
    ],
    ids=["still before", "acknowledges", "watchdog", "no watchdog"],
)
def test_a_lesson_that_has_ended_has_nothing_to_stop_only_where_its_launchers_are_still(
    no_link: str, still: bool, known: Stopped | None
) -> None:
    """A launcher whose link is lost ends its lesson at once, and may feed for another second."""
    moves = known != Stopped(False, "the lesson has ended")
    view = msgspec.structs.replace(
        a_state(),
        phase=Phase.BROKEN_OFF,
        stopping=moves,
        no_link=no_link,
        launchers=(launcher("", Still.CONFIRMED, "stopping"),),
    )
    over = msgspec.structs.replace(view, stopping=not still, no_link="", ending="broken-off")

    class Ending(RememberingLesson):
        async def views(self) -> AsyncIterator[LessonView]:
            yield self.view
            self.change(over)
            yield self.view

    lesson = Ending(view)
    lesson.refuses = NOT_NOW.report("'stop' does not belong to the phase 'broken-off'")
    assert anyio.run(beside.stop, lesson, "the coach") == known
    assert [command for command, _ in lesson.told] == [SimpleCommand(act=Act.STOP)]
