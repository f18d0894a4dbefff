"""Shots of an earlier run are neither looked for again nor lost."""

from __future__ import annotations

import numpy as np

from feedscript.court.lines import COURTS
from feedscript.watch.fit.measured import NotSeen, Why
from feedscript.watch.shots.ground import Ground
from feedscript.watch.shots.seen import NoShot, Shot, WhyNot
from feedscript.watch.shots.watcher import ShotWatcher
from tests.watch.fit.filmed import as_it_is, expected
from tests.watch.scene.practices import practice

GROUND = Ground(COURTS["singles"])
NOT_SEEN = NotSeen(number=0, why=Why.NOTHING_SEEN)


def test_only_shots_that_are_not_over_are_looked_for() -> None:
    made = practice(3, balls=2)
    feeds = expected(made, "noon")
    over: dict[int, Shot | NoShot] = {0: NoShot(number=0, why=WhyNot.LET_GO)}
    camera = as_it_is(made.scene.shooting.lens)
    still = np.zeros((camera.height_px, camera.width_px), np.uint8)
    begins_s = []
    for before in ({}, over, over | {1: NoShot(number=1, why=WhyNot.NO_SHOT)}):
        watcher = ShotWatcher({0: GROUND, 1: GROUND}, before)
        watcher.begin(camera, feeds, still)
        begins_s.append(watcher.begins_s)
        assert {n: one for n, one in watcher.found.items() if n in before} == before
    first_s, second_s, never_s = begins_s
    assert first_s < feeds[1].left_s < second_s < never_s == np.inf


def test_each_shot_is_told_of_as_soon_as_it_is_judged() -> None:
    made = practice(3, balls=1)
    feeds = expected(made, "noon")
    camera = as_it_is(made.scene.shooting.lens)
    told: list[Shot | NoShot] = []
    watcher = ShotWatcher({0: GROUND}, each=told.append)
    watcher.begin(camera, feeds, np.zeros((camera.height_px, camera.width_px), np.uint8))
    watcher.fed(camera, NOT_SEEN)
    watcher.rest()
    assert told == [watcher.found[0]] == [NoShot(number=0, why=WhyNot.FEED_UNSEEN)]
