"""The set-up list says what this plan needs, and nothing that it does not."""

from __future__ import annotations

import msgspec
import pytest

from feedscript.plan.model import Repeat
from feedscript.plan.scene import Group, Player
from feedscript.safety.set_up import set_up
from tests.safety.plan_cases import BOTH, END, SHOW, TWO, bench, changed_court, send
from tests.safety.scenes import PROFILE, Wish, launcher, scene


def keys(plan, profiles=(PROFILE,)) -> set[str]:
    return {item.key for item in set_up(plan, profiles)}


ALWAYS = {"net", "place-0", "balls-0", "look-over", "emergency-stop", "nobody-in-front"}


def test_a_plain_lesson_for_one_has_the_short_list() -> None:
    plan = scene(group=Group(players=(Player(name="Ada"),), level="club"))
    assert keys(plan) == ALWAYS


def test_each_thing_declared_adds_its_item() -> None:
    plain = keys(scene())
    declared = {
        "roof": scene(court=changed_court(roof_m=9.0)),
        "fence": scene(court=changed_court(fence_height_m=3.0, fence_behind_baseline_m=6.0)),
        "neighbours": scene(court=changed_court(neighbours=("ad",), side_clearance_m=4.0)),
        "heat": scene(court=changed_court(air_c=33.0)),
        "wind": scene(court=changed_court(wind_mps=(0.0, -3.0))),
        "keep-out-0": scene(keep_outs=(bench(6.0),)),
    }
    for key, plan in declared.items():
        assert keys(plan) - plain == {key}


@pytest.mark.parametrize(
    ("wind_mps", "ways"),
    [
        ((0.0, 3.0), "3 m/s from the launcher to the receiver;"),
        ((0.0, -2.5), "2.5 m/s from the receiver to the launcher;"),
        ((1.5, 0.0), "1.5 m/s to the launcher's right;"),
        ((-1.0, 2.0), "2 m/s from the launcher to the receiver and 1 m/s to the launcher's left;"),
    ],
)
def test_the_wind_that_balls_are_aimed_into_is_measured(
    wind_mps: tuple[float, float], ways: str
) -> None:
    """Positive: to the right as the launcher looks, and to the receiver."""
    plan = scene(court=changed_court(wind_mps=wind_mps))
    (told,) = (item for item in set_up(plan, (PROFILE,)) if item.key == "wind")
    assert f"as the program says, {ways}" in told.words


def test_a_launcher_that_swings_by_itself_is_told_of_with_its_band() -> None:
    plan = scene()
    swinging = msgspec.structs.replace(plan.launchers[0], sweep_deg=(-9.0, 12.0))
    plan = msgspec.structs.replace(plan, launchers=(swinging,))
    assert keys(plan) - keys(scene()) == {"sweep-0"}
    (told,) = (item for item in set_up(plan, (PROFILE,)) if item.key == "sweep-0")
    assert "from -9 to 12 degrees" in told.words


def test_several_launchers_each_have_their_place_balls_and_a_stop() -> None:
    plan = scene(Wish(), launchers=TWO, profiles=BOTH)
    assert keys(plan, BOTH) >= {"place-0", "place-1", "balls-0", "balls-1", "stops"}


def test_balls_that_nobody_counted_are_counted_by_the_plan() -> None:
    steps = (SHOW, Repeat(times=20, body=(send(),), line=11), END)
    plan = scene(steps=steps, launchers=(launcher(load=None),))
    balls = next(item for item in set_up(plan, (PROFILE,)) if item.key == "balls-0")
    assert balls.words.startswith("21 balls are in:")


def test_words_name_profile_place_and_side() -> None:
    plan = scene(launchers=(launcher(mouth_m=(-1.5, -12.5, 1.1), heading_deg=4.0),))
    place = next(item for item in set_up(plan, (PROFILE,)) if item.key == "place-0")
    assert PROFILE.name in place.words
    assert "12.50 m from the net, 1.50 m to the left, turned 4 degrees" in place.words
    assert "1.10 m high" in place.words
