"""A refusal is told in words: shared/protocol.md, "Replies NO", says what each detail is."""

from __future__ import annotations

import pytest
from feedscript_drivers.wire.messages import Reply
from feedscript_drivers.wire.protocol import STATES, Code
from feedscript_drivers.wire.refused import fix, refusal
from hypothesis import given
from hypothesis import strategies as st


@pytest.mark.parametrize(
    ("code", "detail", "words", "help_"),
    [
        (Code.WRONG_STATE, ("0",), "wrong-state (it is safe)", "arm it first"),
        (Code.WRONG_STATE, ("5",), "wrong-state (it is stopped)", "release the emergency stop"),
        (Code.OUT_OF_LIMITS, ("5",), "out-of-limits (pan-most-cdeg)", "set-up"),
        (Code.ABOVE_CEILING, ("2",), "above-ceiling (drive 2)", "status"),
        (Code.TOO_SOON, ("1800",), "too-soon (the least interval is 1800 ms)", "status"),
        (Code.FAULT_PRESENT, ("1",), "fault-present (jam)", "fix the cause"),
        (Code.NOT_CONFIGURED, ("0",), "not-configured (no profile's hash is stored)", "set-up"),
        (Code.NOT_CONFIGURED, ("13",), "not-configured (gate-lead-ms is missing)", "set-up"),
        (Code.VERSION, ("1", "1"), "version (it speaks 1, and this feedscript 2)", "firmware"),
        (Code.KEY_NEEDED, (), "key-needed", "feedscript pair"),
    ],
)
def test_cause_detail_and_fix(code: Code, detail: tuple[str, ...], words: str, help_: str) -> None:
    reply = Reply(7, code, detail)
    assert refusal(reply) == words
    assert help_ in fix(reply)


def test_every_code_in_every_state_has_a_fix() -> None:
    for code in Code:
        for state in range(len(STATES)):
            assert fix(Reply(7, code, (str(state),)))


@given(st.integers(1, 99), st.lists(st.text(max_size=12), max_size=3))
def test_whatever_a_later_version_says_is_told_as_it_came(code: int, detail: list[str]) -> None:
    reply = Reply(7, code, tuple(detail))
    assert refusal(reply)
    assert fix(reply)
