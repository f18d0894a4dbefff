"""What somebody writes who never saw the language: it means what it says, or a line is offered.

Every line that a message offers is put in and checked: it passes.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from feedscript.check.check_program import Verdict, check_program

HEAD = """feedscript 1
court { lines singles  surface hard }
balls { type 2  load 70 }
launcher { profile "garage.toml"  stands 1 m behind centre mark }
group { players "Ana", "Ben" }
feed deep { land 3 m inside baseline, on centre line  speed 66 km/h  spin top 300 rpm }
feed lob { land 4 m inside baseline, on centre line  speed 66 km/h  spin top 300 rpm }
"""

#: Each means what it says.
ACCEPTED = (
    "repeat 3 times { send deep after 5 s }",
    "send deep after 5 seconds",
    "send deep after 1 minute",
    'for "Ana" { send deep after 5 s  rest 12 s }',
    'exercise "Depth" { repeat 6 { send deep after 5 s } }',
    "for 5 min { send deep after 5 s }",
    'break 3 min "water"',
    'wait for coach "look at the grip"',
    "send deep when coach taps, at most 12, not before 3 s",
    "send deep when coach taps not before 5 seconds at most 12 balls",
    'exercise "Depth" { target "deep cross" '
    "{ between 9 m from net, 1 m to ad and 11 m from net, 3 m to ad }  "
    "goal 2 of 3 in target  repeat 3 { send deep after 5 s } }",
    'exercise "Depth" { target "deep" { area backcourt }  until 2 in target, at most 3 '
    "{ send deep after 5 s } }",
    'exercise "Points" { score to 3 { in: 1  error: launcher 1 }  '
    "repeat 4 { send deep after 5 s } }",
    'together { station "serve" { say "Ten serves each."  rest 5 min } }',
)

#: Each is refused, and its message offers at least one line that passes.
REFUSED = (
    "send deep, lob",
    "send deep and lob",
    "send deep, lob after 5 s",
    "serve to deuce box",
    "serve to the ad box",
    "serve deep",
    "send deep",
    "for each player 5 balls",
    "for each player { 5 balls }",
    "exercise { send deep after 5 s }",
    "wait",
    "wait 5 s",
    "wait 20 seconds",
    'wait "look at the grip"',
    "wait for coach",
    "break",
    'break "water"',
    'station "shadow" { say "Ten each side." }',
    "send deep on tap",
    "send deep when coach taps",
    "send deep when coach taps, at most 12",
    "send deep when coach taps, not before 4 s",
    "send deep when I tap",
    "send deep when the coach taps, at most 12",
    "send deep after 4 s when coach taps",
    'target "deep cross" { between 9 m from net, 1 m to ad and 11 m from net, 3 m to ad }',
    'target "deep cross"',
    "goal 3 in",
    "goal 2 of 3 in target",
    "score to 5 { in: 1 }",
    'aim "past the service line"',
)


def checked(step: str, more: str = "") -> Verdict:
    text = (
        f"{HEAD}{more}\nlesson {{\n    show speed of deep\n    show speed of lob\n    {step}\n}}\n"
    )
    return check_program(Path("lesson.feed"), text=text)


def offered(verdict: Verdict) -> tuple[list[str], list[str]]:
    """The lines that the errors offer: of the lesson, and of what stands outside it."""
    helps = [one.help for one in verdict.diagnostics if one.is_error]
    lines = [line for text in helps for line in re.findall(r"`([^`]+ [^`]+)`", text)]
    outside = [line for line in lines if line.startswith("feed ")]
    return [line for line in lines if line not in outside], outside


@pytest.mark.parametrize("step", ACCEPTED)
def test_what_means_what_it_says_is_accepted(step: str) -> None:
    verdict = checked(step)
    assert verdict.ok, verdict.diagnostics


@pytest.mark.parametrize("step", REFUSED)
def test_what_is_refused_is_offered_a_line_that_passes(step: str) -> None:
    verdict = checked(step)
    assert not verdict.ok
    lines, outside = offered(verdict)
    assert lines, verdict.diagnostics
    for line in lines:
        tried = checked(line, "\n".join(outside))
        assert tried.ok, (line, tried.diagnostics)
