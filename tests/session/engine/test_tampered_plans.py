"""A real engine refuses every tampered plan before it opens a launcher's gate."""

from __future__ import annotations

import pytest

from feedscript.session.engine.guards import CertifiedFences, at_pace
from tests.safety.scenes import PROFILE
from tests.safety.test_tampered import EDITS, certified, edited


@pytest.mark.parametrize("name", EDITS)
def test_the_engine_s_fence_refuses_a_plan_with_one_field_changed(name: str) -> None:
    assert CertifiedFences().refusals(edited(name), (PROFILE,)) != ()


def test_it_lets_the_untouched_plan_through() -> None:
    assert CertifiedFences().refusals(certified(), (PROFILE,)) == ()


def test_a_slower_lesson_would_pass_and_a_far_too_fast_one_would_not() -> None:
    fences = CertifiedFences()
    assert fences.would_pass(at_pace(certified(), 1.15), (PROFILE,)) == ()
    assert "too-soon" in {
        one.slug for one in fences.would_pass(at_pace(certified(), 0.2), (PROFILE,))
    }
