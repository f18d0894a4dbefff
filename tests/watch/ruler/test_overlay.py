"""Which end is whose is written beside the net, not across it."""

from __future__ import annotations

import numpy as np
import pytest

from feedscript.court.lines import COURTS
from feedscript.watch.camera.geometry import project
from feedscript.watch.ruler.overlay import ends_shown
from tests.watch.fit.filmed import as_it_is
from tests.watch.scene.lens import PLACES, stood

FULL = COURTS["singles"]
#: Words are so high, and so wide to either side, for a picture 1280 wide.
HIGH_PX, HALF_PX = 20, 90


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("seed", range(4))
def test_both_ends_are_named_clear_of_the_net(place: str, seed: int) -> None:
    camera = as_it_is(stood(place, (1280, 720), np.random.default_rng(seed)))
    shown = ends_shown(camera, FULL)
    x = np.linspace(-FULL.net.support_x_m, FULL.net.support_x_m, 400)
    net = project(camera, np.column_stack([x, 0 * x, [FULL.net.height_m(each) for each in x]]))
    ground = project(camera, np.column_stack([x, 0 * x, 0 * x]))
    near = max(shown, key=lambda one: one[0].y_sign * camera.position_m[1])
    assert near[0].y_sign * camera.position_m[1] > 0
    for _end, (across, down) in shown:
        by = np.abs(net[:, 0] - across) < HALF_PX
        over = down < net[by, 1].min(initial=np.inf) - 1
        assert over or down - HIGH_PX > ground[by, 1].max(initial=-np.inf)
