"""What a host decided in a capture, and where another capture first decides otherwise.

A decision is what moves a launcher: its arming, each ball with its setting and moment, hold, stop.
How often a host asks for the state, and when a lost line goes out again, is none.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest
from pathlib import Path

from msgspec import Struct

from feedscript.launcher.port import LauncherState
from feedscript_drivers.transports.replay import Timed, read_timed
from feedscript_drivers.wire.messages import Command, EventLine
from feedscript_drivers.wire.protocol import STATES, StopCharacter

#: Commands that move something. A session is opened by numbers drawn anew each time.
DECIDE = ("OPEN", "ARM", "CODE", "DISARM", "PREP", "FEED", "HOLD", "GO", "STOP")
#: A ball's moment may be apart by so much: clocks are measured anew. Design value.
APART_S = 0.05
_ARMED = STATES.index(LauncherState.ARMED)


class Decision(Struct, frozen=True):
    """One of them: in words, and a ball's moment by the launcher's clock, from its arming."""

    at_s: float
    words: str
    leaves_s: float | None = None

    def told(self) -> str:
        moment = "" if self.leaves_s is None else f", to leave {self.leaves_s:.3f} s after arming"
        return f"{self.words}{moment}"


class Parting(Struct, frozen=True):
    """Where two captures part: the decision's number, from 1, and what each of them decided.

    ``undecided``: why it says nothing of the host that the two are not the same; "" where it does.
    """

    number: int
    at_s: float
    then: str
    now: str
    undecided: str = ""


RACE = (
    "a ball was asked for at the very moment at which the launcher said that it feeds no more: "
    "chance decides which of the two comes first, and all that follows hangs on it"
)
HAND = "there was a hand: the capture does not say what the coach did, and nobody does it now"


def decides(said: object) -> bool:
    """Whether something that crossed is a decision."""
    return isinstance(said, StopCharacter) or (isinstance(said, Command) and said.word in DECIDE)


def decisions(crossed: list[Timed]) -> Iterator[Decision]:
    """In order; one that goes out again counts once."""
    known, armed_ms, before = set[int](), 0, ""
    for one in crossed:
        match one.said:
            case EventLine(word="STATE", numbers=(state, _), ms=ms) if state == _ARMED:
                armed_ms = ms
            case StopCharacter() as stop:
                words = f"the character for {stop.name.lower()}"
                if words != before:
                    yield Decision(one.at_s, words)
                before = words
            case Command() as command if decides(command) and command.sequence not in known:
                known.add(command.sequence)
                yield _decision(one.at_s, command, armed_ms)
                before = ""


def _decision(at_s: float, command: Command, armed_ms: int) -> Decision:
    if command.word == "OPEN":
        return Decision(at_s, "OPEN")
    if command.word != "FEED":
        return Decision(at_s, " ".join([command.word, *map(str, command.arguments)]))
    feed, leave, *fields = command.numbers()
    words = " ".join(map(str, ("FEED", feed, *fields)))
    return Decision(at_s, words, (leave - armed_ms) % 2**32 / 1000)


def first_parting(then: Path, now: Path, hands_known: bool = False) -> Parting | None:
    """The first decision of ``now`` that is not the one of ``then``; None where there is none.

    What was decided after the earlier capture ends is not held against anything. ``hands_known``:
    people do now what they did then. Raises LauncherError for a file that is no capture.
    """
    return parting_of(read_timed(then), read_timed(now), hands_known)


def parting_of(one: list[Timed], other: list[Timed], hands_known: bool = False) -> Parting | None:
    """The same of what crossed: then, and now."""
    end_s = one[-1].at_s if one else 0.0
    was_then = list(decisions(one))
    pairs = zip_longest(was_then, like(was_then, list(decisions(other))))
    for number, (was, is_now) in enumerate(pairs, start=1):
        if was is None and is_now.at_s >= end_s:
            return None
        if was is None or is_now is None or _apart(was, is_now):
            at_s = (was or is_now).at_s
            words = {
                "then": was.told() if was else "nothing more",
                "now": is_now.told() if is_now else "nothing more",
            }
            before = was_then[: number - 1]
            by_hand = not hands_known and (_by_hand(was, is_now) or any(map(_held, before)))
            raced = _raced(was, one) or _raced(is_now, other)
            why = RACE if raced else HAND if by_hand else ""
            return Parting(number, at_s, undecided=why, **words)
    return None


def _raced(ball: Decision | None, crossed: list[Timed]) -> bool:
    """Whether it is a ball that was asked for as the launcher told that it feeds no more."""
    if ball is None or ball.leaves_s is None:
        return False
    said = (one.said for one in crossed if round(one.at_s * 1000) == round(ball.at_s * 1000))
    return any(isinstance(one, EventLine) and _feeds_no_more(one) for one in said)


def _feeds_no_more(event: EventLine) -> bool:
    return event.word == "FAULT" or (event.word == "STATE" and event.numbers[0] != _ARMED)


def _held(decision: Decision) -> bool:
    """Whether it is a hold or its end: neither comes but by a hand."""
    return decision.words in ("the character for hold", "HOLD", "GO")


def _by_hand(was: Decision | None, is_now: Decision | None) -> bool:
    """Whether a hold, its end or a stop was decided then, and now nothing is at that moment."""
    if was is None or not was.words.startswith(("the character", "HOLD", "GO", "STOP")):
        return False
    return is_now is None or is_now.at_s > was.at_s + APART_S


def like(then: list[Decision], now: list[Decision]) -> list[Decision]:
    """``now`` with what was decided at one and the same moment in the order of ``then``: which of
    two tasks that were due together went first was chance."""
    now = list(now)
    for place, was in enumerate(then[: len(now)]):
        moment = round(now[place].at_s * 1000)
        for later in range(place, len(now)):
            if round(now[later].at_s * 1000) != moment:
                break
            if not _apart(was, now[later]):
                now.insert(place, now.pop(later))
                break
    return now


def _apart(was: Decision, is_now: Decision) -> bool:
    if was.words != is_now.words:
        return True
    if was.leaves_s is None or is_now.leaves_s is None:
        return False
    return abs(was.leaves_s - is_now.leaves_s) > APART_S
