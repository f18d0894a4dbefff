"""How long one player plays without a break: the turns of others are breaks."""

from __future__ import annotations

import pytest

from feedscript.check.check_program import check_program
from feedscript.safety.rules.long_series import longest_alone_s, longest_s
from feedscript.shipped import shipped_folder

TURNS = """feedscript 1
title "Turns (invented)"
court {{ surface hard }}
launcher {{ profile "launchers/garage.toml"  stands 1 m behind centre mark }}
group {{ {players} players  level club  receiver 1 m behind baseline, on centre line }}
feed deep {{ land 3 m inside baseline, on centre line  speed 80 km/h  spin top 900 rpm }}
lesson {{
    show speed of deep
    for each player {{ repeat 10 {{ send deep after 4 s }}  rest 6 s }}
}}
"""


@pytest.mark.parametrize("players", [2, 3, 4, 6])
def test_whoever_waits_for_a_turn_has_a_break(players: int) -> None:
    """Ten balls of 4 s and a rest of 6 s, which is no break: never more than one turn of it."""
    text = TURNS.format(players=players)
    plan = check_program(shipped_folder() / "turns.feed", text=text).plan
    assert plan is not None
    for player in range(players):
        assert longest_s(plan, player) == pytest.approx(46.0)
    assert longest_alone_s(plan) == pytest.approx(46.0 * players)


BY_NAME = TURNS.replace("{players} players", 'player "Ana" {own}  player "Ben"')
SERIES = "{ repeat 20 { send deep after 4 s } }"


def told(steps: str, own: str = "") -> tuple[list[str], list[str]]:
    """The message and the words that it points at, of every series that is too long."""
    start = BY_NAME.index("    for each player")
    text = BY_NAME[:start].format(own=own) + steps + "\n}\n"
    found = [
        one
        for one in check_program(shipped_folder() / "turns.feed", text=text).diagnostics
        if one.slug == "long-series"
    ]
    lines = text.splitlines()
    where = [lines[one.span.line - 1].strip() for one in found if one.span is not None]
    return [one.message for one in found], where


def test_the_turns_of_two_who_play_one_after_the_other_are_no_series() -> None:
    """80 s of each, who are named: 160 s are nobody's."""
    assert told(f'for "Ana" {SERIES} rest 5 s\nfor "Ben" {SERIES}') == ([], [])


def test_who_is_last_in_one_round_and_first_in_the_next_has_had_no_break() -> None:
    steps = f'for each player {SERIES}\nfor "Ben" {SERIES}'
    (message,), _ = told(steps)
    assert message == "Ben may play 160 s without a break; the guide is 120 s"
    assert told(f'for each player {SERIES}\nfor "Ana" {SERIES}') == ([], [])


def test_each_player_has_the_figure_of_their_own_stage() -> None:
    (message,), _ = told(f'for "Ana" {SERIES}\nfor "Ben" {SERIES}', own="{ stage red }")
    assert message == "Ana may play 80 s without a break; the guide is 60 s"
    assert told(f'for "Ben" {SERIES}', own="{ stage red }") == ([], [])


def test_outside_turns_whoever_it_is_takes_every_ball() -> None:
    (message,), where = told("repeat 40 { send deep after 4 s }")
    assert message == "somebody may play 160 s without a break; the guide is 120 s"
    assert where == ["repeat 40 { send deep after 4 s }"]
