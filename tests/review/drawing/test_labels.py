"""Labels find places of their own."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from feedscript.review.drawing.labels import Box, place_labels

FRAME = Box(50, 70, 1180, 560)
points = st.tuples(st.floats(80, 1150), st.floats(100, 530))


def no_two_overlap(boxes: list[Box]) -> bool:
    return all(a.overlap(b) == 0 for i, a in enumerate(boxes) for b in boxes[:i])


@given(st.lists(points, min_size=1, max_size=16))
def test_letters_of_up_to_sixteen_feeds_never_cover_each_other(anchors) -> None:
    boxes = place_labels(anchors, [(18.0, 18.0)] * len(anchors), FRAME)
    assert no_two_overlap(boxes)
    assert all(box.outside(FRAME) < 1e-6 for box in boxes)


@given(points, st.integers(2, 16))
def test_even_when_all_balls_land_on_one_spot(anchor, count) -> None:
    assert no_two_overlap(place_labels([anchor] * count, [(18.0, 18.0)] * count, FRAME))


def test_a_lone_letter_stands_near_its_mark() -> None:
    (box,) = place_labels([(500, 300)], [(18, 18)], FRAME)
    assert abs(box.centre[0] - 500) < 25
    assert abs(box.centre[1] - 300) < 25
    assert box.overlap(Box.around((500, 300), 11, 11)) == 0
