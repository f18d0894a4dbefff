"""The pages of this floor: their wrong examples raise them, their corrected ones raise no error."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedscript.check.check_program import check_program
from feedscript.diagnostics import has_errors
from feedscript.plan import kept, step_pages
from feedscript.plan.aiming import between_steps, flying, out_of_reach, sweeping
from feedscript.plan.folds import size

PAGES = (
    out_of_reach.OUT_OF_REACH,
    between_steps.BETWEEN_STEPS,
    sweeping.NO_SINGLE_PLACE,
    sweeping.NO_SWEEP,
    flying.IMPOSSIBLE_AIR,
    flying.UNKNOWN_BOUNCE,
    step_pages.TURN_TOO_SHORT,
    step_pages.STATION_STEP,
    step_pages.TWO_PLACES,
    kept.KEPT_OTHERWISE,
    flying.IMPOSSIBLE_SURFACE,
    size.TOO_BIG,
)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.slug)
def test_the_wrong_example_raises_its_slug_and_the_corrected_one_no_error(page):
    wrong = check_program(Path("wrong.feed"), text=page.wrong).diagnostics
    assert [found.slug for found in wrong if found.is_error] == [page.slug]
    corrected = check_program(Path("corrected.feed"), text=page.corrected).diagnostics
    assert not has_errors(corrected), corrected
