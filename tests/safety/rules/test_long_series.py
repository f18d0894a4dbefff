"""How long one player plays without a break: the turns of others are breaks."""

from __future__ import annotations

import pytest

from feedscript.check.check_program import check_program
from feedscript.safety.rules.long_series import longest_s
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
    assert longest_s(plan) == pytest.approx(46.0)
    assert longest_s(plan, alone=True) == pytest.approx(46.0 * players)
