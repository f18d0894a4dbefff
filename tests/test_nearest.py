"""What a misspelt name was most likely meant to be."""

from __future__ import annotations

import pytest

from feedscript.nearest import nearest

KNOWN = ("net-clearance", "too_soon", "Deep", "ad", "deuce", "deeper")


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("net-clearence", "net-clearance"),
        ("NET_CLEARANCE", "net-clearance"),
        ("too-soon", "too_soon"),
        ("deep", "Deep"),
        ("duece", "deuce"),
        ("aa", None),  # so short a word is like everything
        ("hopper", None),
        ("", None),
    ],
)
def test_the_name_that_was_meant(written: str, meant: str | None) -> None:
    assert nearest(written, KNOWN) == meant


def test_nothing_is_near_where_nothing_is_known() -> None:
    assert nearest("deep", ()) is None


def test_of_names_that_differ_in_capitals_only_the_first_is_meant() -> None:
    assert nearest("DEEP", ("Deep", "deep")) == "Deep"
