"""Pictures as a player shows them: upright, with square pixels."""

from __future__ import annotations

from typing import Any

import av
import msgspec
import numpy as np
from av.sidedata.sidedata import Type
from numpy.typing import NDArray

Picture = NDArray[np.uint8]


class Turn(msgspec.Struct, frozen=True):
    """What is done to a stored picture: widened, its axes crossed, then flipped."""

    wider: float = 1.0
    crossed: bool = False
    flip_x: bool = False
    flip_y: bool = False

    def size(self, picture: av.VideoFrame) -> tuple[int, int]:
        """Width and height of what is seen of the picture, in pixels."""
        width, height = round(picture.width * self.wider), picture.height
        return (height, width) if self.crossed else (width, height)


def turn_of(picture: av.VideoFrame, wider: float) -> Turn:
    """From the picture's display matrix; ``wider`` is how wide a stored pixel is for its height.

    The matrix is that of ISO/IEC 14496-12, 8.3.2: x' = a x + c y, y' = b x + d y, stored by rows.
    Turns that are no quarter turns do not come from cameras; the nearest one is taken.
    """
    beside: Any = picture.side_data  # a mapping by Type, which its annotations do not say
    told = beside.get(Type.DISPLAYMATRIX)
    if told is None:
        return Turn(wider)
    a, b, _, c, d = (int(one) for one in np.frombuffer(bytes(told), np.int32)[:5])
    crossed = abs(b) > abs(a)
    return Turn(wider, crossed, (c if crossed else a) < 0, (b if crossed else d) < 0)


def upright(picture: av.VideoFrame, turn: Turn, form: str) -> Picture:
    """The picture's values as they are seen, in PyAV's ``form`` (``gray``, ``bgr24``)."""
    width = round(picture.width * turn.wider)
    values = picture.reformat(width=width, height=picture.height, format=form).to_ndarray()
    if turn.crossed:
        values = values.swapaxes(0, 1)
    values = values[:: -1 if turn.flip_y else 1, :: -1 if turn.flip_x else 1]
    return np.ascontiguousarray(values, np.uint8)
