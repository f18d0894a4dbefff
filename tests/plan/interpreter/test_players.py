"""Drawn players: as good as their skill, the same for the same seed, and no more than that."""

from __future__ import annotations

from feedscript.plan.interpreter.players import DrawnPlayer
from feedscript.plan.model import Result

SHOTS = 4000


def test_shots_are_in_court_and_in_the_target_by_skill() -> None:
    for seed in range(6):
        player = DrawnPlayer(seed, "Ana")
        shots = [player.shot(target=True) for _ in range(SHOTS)]
        good = [one for one in shots if one.good]
        # Within five standard deviations of a binomial.
        wide = 5 * (0.25 / SHOTS) ** 0.5
        assert abs(len(good) / SHOTS - player.skill) < wide
        hits = good.count(Result.TARGET)
        assert abs(hits / SHOTS - player.skill**2) < wide


def test_a_target_changes_nothing_but_which_good_shots_hit_it() -> None:
    with_one, without = DrawnPlayer(3), DrawnPlayer(3)
    for _ in range(300):
        one, other = with_one.shot(target=True), without.shot()
        assert other is not Result.TARGET
        assert one is other or (one, other) == (Result.TARGET, Result.IN)


def test_the_same_words_make_the_same_player() -> None:
    one, again, other = DrawnPlayer(1, "Ana"), DrawnPlayer(1, "Ana"), DrawnPlayer(1, "Ben")
    assert [one.shot() for _ in range(50)] == [again.shot() for _ in range(50)]
    assert one.skill != other.skill
