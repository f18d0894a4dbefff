"""A text is judged beside the server as in it, and one whose check does not end is not taken."""

from __future__ import annotations

import pytest

from feedscript.club.library import judging
from feedscript.club.library.judging import judged_apart
from feedscript.club.library.shelf import NotDoneError, judged_here
from feedscript.diagnostics import has_errors
from tests.club.desks.stage import program


@pytest.mark.parametrize("text", [program(), "feedscript 1\n", "\ufeff\x00 nonsense {"])
def test_what_is_found_beside_the_server_is_what_is_found_in_it(text: str) -> None:
    apart, here = judged_apart("deep", text), judged_here("deep", text)
    assert apart.ok is here.ok is not has_errors(here.diagnostics)
    assert apart.from_club is here.from_club
    told = [(one.slug, one.severity, one.message) for one in apart.diagnostics]
    assert told == [(one.slug, one.severity, one.message) for one in here.diagnostics]


def test_a_check_that_does_not_end_is_a_refusal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(judging, "MOST_S", 0.01)
    with pytest.raises(NotDoneError) as refused:
        judged_apart("deep", program())
    assert "did not come to an end" in refused.value.diagnostic.message
