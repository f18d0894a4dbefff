"""Keyed lines: what a stranger on the air can do, and what the paired host can."""

from __future__ import annotations

import pytest

from tests.firmware.plain_host import PlainHost, plain, tag

KEY = bytes(range(32))
NONCE = 4242


class KeyedHost:
    """The paired host beside the plain one, on the same cable."""

    def __init__(self, host: PlainHost) -> None:
        self.host = host
        words = host.must("HELLO 2 2")
        self.boot, self.counter = int(words[1]), int(words[2])
        self.nonce = 0
        self.sequence = 40_000
        self.lines: list[str] = []
        host.take = self.take  # type: ignore[method-assign]

    def take(self, line: str) -> None:
        """Keep keyed lines, checked; plain ones go to the plain host."""
        if "#" not in line:
            PlainHost.take(self.host, line)
            return
        body, seal = line.split("#")
        assert seal[8:] == tag(KEY, "L", self.boot, NONCE, int(seal[:8], 16), body)
        self.lines.append(body)
        if body.startswith("t "):
            self.host.clock = int(body.split(" ")[2])

    def line(self, body: str, *, counter: int | None = None, key: bytes = KEY) -> bytes:
        """A keyed line; each has a higher counter than the last unless one is given."""
        if counter is None:
            self.counter += 1
            counter = self.counter
        nonce = 0 if " OPEN " in body else self.nonce
        return f"{body}#{counter:08X}{tag(key, 'H', self.boot, nonce, counter, body)}\n".encode()

    def say(self, text: str) -> str:
        """A keyed command; its reply."""
        self.sequence += 1
        self.host.write(self.line(f"{self.sequence} {text}"))
        for _ in range(60):
            self.host.advance(10)
            found = [line for line in self.lines if line.startswith(f"{self.sequence} ")]
            if found:
                return found[-1].partition(" ")[2]
        return "nothing"

    def open(self) -> None:
        """Open a keyed session; the reply already carries the new nonce."""
        self.nonce = NONCE
        assert self.say(f"OPEN 9 {NONCE}").startswith("OK")

    def beat(self) -> None:
        """A keyed heartbeat."""
        self.host.write(self.line(f"T 5 {self.host.clock}"))


@pytest.fixture
def keyed(host: PlainHost) -> KeyedHost:
    host.must(f"PAIR {KEY.hex()}", wait=800)
    side = KeyedHost(host)
    side.open()
    return side


def counts(host: PlainHost) -> list[int]:
    """bad, stale, forged, long; asked in plain, which any link may."""
    return [int(word) for word in host.must("CNTS")]


def test_the_paired_host_arms_and_feeds(keyed: KeyedHost) -> None:
    host = keyed.host
    host.beats = False
    host.far.set("arm_switch", 0)
    host.run(60)
    assert keyed.say("ARM 3000 3000 0") == "OK"
    host.far.set("arm_switch", 1)
    keyed.beat()
    host.run(60)
    keyed.beat()
    host.run(30)
    due = host.clock + 5000
    assert keyed.say(f"FEED 1 {due} 2000 1500 0 0 1000 0") == "OK"
    for _ in range(60):
        keyed.beat()
        host.run(100)
    assert len(host.far.leaves()) == 1
    assert any(line.endswith("LEFT 1") for line in keyed.lines)


def test_a_stranger_can_read_and_stop_and_nothing_else(keyed: KeyedHost) -> None:
    host = keyed.host
    for text in ("STAT", "WHO", "GET 12", "HASH", "CNTS", "HELLO 2 2", "STOP 1"):
        assert host.command(text).startswith("OK"), text
    for text in (
        "ARM 3000 3000 0", "FEED 1 9000 0 0 0 0 0 0", "GO", "HOLD", "DISARM", "POSE", "HIST 1",
        "SET 12 40", f"PAIR {'00' * 32}", "UNPAIR", f"HASH {'00' * 32}",
    ):  # fmt: skip
        assert host.command(text) == "NO 13", text


def test_plain_lines_do_not_shift_the_keyed_sequence(keyed: KeyedHost) -> None:
    """A stranger's STAT with a number far ahead must not make the host's next one stale."""
    keyed.host.command("STAT", sequence=(keyed.sequence + 30_000) % 65536)
    assert keyed.say("STAT").startswith("OK")


def test_plain_heartbeats_keep_nothing_alive(keyed: KeyedHost) -> None:
    host = keyed.host
    host.far.set("arm_switch", 0)
    host.run(60)
    assert keyed.say("ARM 3000 3000 0") == "OK"
    host.run(1000)  # with plain heartbeats
    assert host.state() == 0


def test_replayed_reordered_and_forged_lines_are_refused_and_counted(keyed: KeyedHost) -> None:
    host = keyed.host
    before = counts(host)
    replay = keyed.line("40010 STAT")
    later = keyed.line("40011 STAT")
    host.write(replay)
    host.write(later)
    host.run(60)
    answered = len(keyed.lines)
    wrong_key = keyed.line("40012 DISARM", key=bytes(32))
    good = keyed.line("40012 DISARM")
    changed = good.replace(b"DISARM", b"HOLDIT")
    other_nonce = plain("40012 DISARM")[:-6] + b"#" + good[-25:]  # the tag of another line
    for line in (replay, later, keyed.line("40010 STAT", counter=1), wrong_key, changed):
        host.write(line)
        host.run(30)
    host.write(other_nonce if other_nonce != good else changed)
    host.run(30)
    assert counts(host)[2] - before[2] == 5 + (other_nonce == good)
    assert len(keyed.lines) <= answered + (other_nonce != good)


def test_lines_of_an_earlier_power_up_are_worth_nothing(keyed: KeyedHost) -> None:
    host = keyed.host
    line = keyed.line("40010 STAT")
    host.beats = False  # half a heartbeat heard while it starts would spoil the next line
    host.far.tell("reset")
    host.run(60)
    before = counts(host)[2]
    host.write(line)
    host.run(30)
    assert counts(host)[2] == before + 1


def test_the_key_survives_the_power_and_can_be_forgotten(keyed: KeyedHost) -> None:
    host = keyed.host
    host.beats = False  # half a heartbeat heard while it starts would spoil the next line
    host.far.tell("reset")
    host.run(60)
    again = KeyedHost(host)
    again.open()
    assert again.say("UNPAIR").startswith("OK")
    host.write(again.line("42000 STAT"))
    host.run(30)
    assert counts(host)[2] == 1
    assert host.command("OPEN 9 777") == "NO 13"  # the keyed session lasts until the power goes
    host.far.tell("reset")
    host.run(60)
    assert host.command("OPEN 9 777", wait=600).startswith("OK")


def test_a_port_with_a_radio_behind_it_takes_no_plain_command(host: PlainHost) -> None:
    host.must(f"PAIR {KEY.hex()}", wait=800)
    host.must("SET 20 1", wait=600)
    assert host.command("OPEN 5 5") == "NO 13"
    assert host.command("ARM 1 1 0") == "NO 13"
    assert host.command("STAT").startswith("OK")
    keyed = KeyedHost(host)
    keyed.open()
    assert keyed.say("SET 20 0") == "NO 14"
