"""Each mistake is made on drawn landings and must be named; sound landings must pass unnamed."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
import numpy as np
import pytest

from feedscript.launcher.setting import Setting
from feedscript.launcher.tuning.fit import fit
from feedscript.launcher.tuning.mistakes import Mistake, mistakes
from feedscript.launcher.tuning.shots import BY_HAND, Shots
from tests.launcher.tuning.synthetic import AIR, changed, profile_named, thrown, usual_settings

GARAGE = profile_named("garage")


def turned_settings() -> list[Setting]:
    """A few settings a person would try, some of them to the sides."""
    return [
        msgspec.structs.replace(setting, pan_deg=(0.0, 8.0, -5.0)[index % 3])
        for index, setting in enumerate(usual_settings(GARAGE)[::4])
    ]


def named(shots: Shots) -> tuple[Mistake, ...]:
    return mistakes(GARAGE, shots, AIR, BY_HAND, fit(GARAGE, shots, AIR))


def drawn(seed: int) -> Shots:
    random = np.random.default_rng(seed)
    return thrown(changed(GARAGE, random), turned_settings(), 4, random, strays=1)


def with_seen(shots: Shots, change: Callable[[np.ndarray], np.ndarray]) -> Shots:
    return Shots(shots.settings, change(shots.seen.copy()), shots.lines)


def wheels_exchanged(shots: Shots) -> Shots:
    other = tuple(
        msgspec.structs.replace(one, drives=(one.drives[1], one.drives[0]))
        for one in shots.settings
    )
    return Shots(other, shots.seen, shots.lines)


def _columns_exchanged(seen: np.ndarray) -> np.ndarray:
    return seen[:, [1, 0, 2, 3]]


def moved(along: float, right: float) -> Callable[[Shots], Shots]:
    return lambda shots: with_seen(shots, lambda seen: seen + np.array([along, right, 0.0, 0.0]))


MISTAKES: dict[str, tuple[str, str, Callable[[Shots], Shots]]] = {
    "columns": ("swapped-columns", "exchange", lambda s: with_seen(s, _columns_exchanged)),
    "sides": ("mirrored-sides", "minus", lambda s: with_seen(s, lambda m: m * [1, -1, 1, 1])),
    "wheels": ("swapped-wheels", "cables", wheels_exchanged),
    "origin along": ("moved-origin", "to every along_m", moved(1.0, 0.0)),
    "origin across": ("moved-origin", "to every right_m", moved(0.0, -1.0)),
}


@pytest.mark.parametrize("made", ["columns", "sides", "wheels", "origin along"])
def test_a_mistake_is_named_with_its_mend(made: str) -> None:
    name, mend, make = MISTAKES[made]
    found = named(make(drawn(21)))
    assert [one.name for one in found] == [name]
    assert mend in found[0].mend


@pytest.mark.long
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("made", MISTAKES)
def test_a_mistake_is_named_on_every_launcher_drawn(made: str) -> None:
    name, _, make = MISTAKES[made]
    missed = [
        seed for seed in range(40, 60) if name not in {one.name for one in named(make(drawn(seed)))}
    ]
    assert not missed


def test_nothing_is_named_on_sound_landings() -> None:
    assert not any(named(drawn(seed)) for seed in range(4))


@pytest.mark.long
@pytest.mark.timeout(1800)
def test_nothing_is_named_on_a_hundred_sound_sets() -> None:
    assert not [seed for seed in range(200, 300) if named(drawn(seed))]


def test_wheels_that_turn_alike_are_not_said_to_be_exchanged() -> None:
    """With the same speed on both, exchanging them changes nothing and nothing can be told."""
    random = np.random.default_rng(3)
    alike = [
        msgspec.structs.replace(one, drives=(rpm, rpm))
        for one, rpm in zip(turned_settings(), (1500.0, 1800.0, 2100.0) * 4, strict=False)
    ]
    assert named(wheels_exchanged(thrown(GARAGE, alike, 3, random))) == ()
