"""Shots looked for while a film runs by: beside the balls, and judged as soon as both are known."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from feedscript.watch.camera.camera import Camera
from feedscript.watch.fit.measured import Measured, NotSeen
from feedscript.watch.frames.video import Frame
from feedscript.watch.seek.background import Grey
from feedscript.watch.seek.expected import Expected
from feedscript.watch.shots.gather import Back, BackSeeker
from feedscript.watch.shots.ground import Ground
from feedscript.watch.shots.measure import measure_shot
from feedscript.watch.shots.seen import NoShot, Shot, WhyNot


class ShotWatcher:
    """Give it every picture, and every fed ball as it is measured; ``found`` fills by and by."""

    def __init__(
        self,
        grounds: Mapping[int, Ground],
        over: Mapping[int, Shot | NoShot] | None = None,
        each: Callable[[Shot | NoShot], None] | None = None,
    ) -> None:
        """``grounds``: of each ball whose shot is looked for, by its number; ``over``: shots that
        an earlier run judged; ``each`` is told of every other one as soon as it is judged."""
        over = over or {}
        self._grounds = {number: one for number, one in grounds.items() if number not in over}
        self._each = each
        self._seeker: BackSeeker | None = None
        self._fed: dict[int, tuple[Camera, Measured | NotSeen]] = {}
        self._waiting: dict[int, Back] = {}
        self.found: dict[int, Shot | NoShot] = {
            number: over.get(number, NoShot(number=number, why=WhyNot.NO_PICTURES))
            for number in grounds
        }

    def begin(self, camera: Camera, expected: Sequence[Expected], still: Grey) -> None:
        """Pictures of a camera that stands here follow, with these balls in them."""
        wanted = [one for one in expected if one.number in self._grounds]
        self._seeker = BackSeeker(camera, wanted, still)

    def take(self, frame: Frame) -> None:
        """The next picture."""
        if self._seeker is not None:
            self._over(self._seeker.take(frame))

    def fed(self, camera: Camera, one: Measured | NotSeen) -> None:
        """What became of a fed ball, and the camera by which that is known."""
        if one.number in self._grounds:
            self._fed[one.number] = (camera, one)
            self._judge(one.number)

    def rest(self) -> None:
        """The pictures of this camera ended."""
        if self._seeker is not None:
            self._over(self._seeker.rest())

    @property
    def begins_s(self) -> float:
        """From when on pictures are needed; infinite where none are."""
        return np.inf if self._seeker is None else self._seeker.begins_s

    @property
    def idle(self) -> bool:
        """Whether no picture is needed any more."""
        return self._seeker is None or self._seeker.idle

    def _over(self, backs: Sequence[Back]) -> None:
        for back in backs:
            self._waiting[back.expected.number] = back
            self._judge(back.expected.number)

    def _judge(self, number: int) -> None:
        if number in self._fed and number in self._waiting:
            camera, fed = self._fed.pop(number)
            back = self._waiting.pop(number)
            shot = measure_shot(camera, fed, back, self._grounds[number])
            self.found[number] = shot
            if self._each is not None:
                self._each(shot)
