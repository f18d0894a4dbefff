"""A flight model is called after how it was measured; its paper stands beside it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from feedscript.flight.models import MODELS


@pytest.mark.parametrize("name", MODELS)
def test_a_name_says_neither_who_nor_when(name: str) -> None:
    authors = re.findall(r"[A-Z][a-z]+", MODELS[name].source.split("20")[0].split("19")[0])
    assert not re.search(r"\d", name)
    assert not {author.lower() for author in authors} & set(name.split("-"))


def test_every_model_stands_in_the_chapter_with_its_paper(root: Path) -> None:
    chapter = (root / "feedscript" / "safety" / "README.md").read_text("utf-8")
    rows = dict(re.findall(r"^\| `([a-z-]+)` \| [^|]+ \| ([^|]*)\|", chapter, re.M))
    told = {name: rows[name].split() for name in MODELS}
    for name, words in told.items():
        years = re.findall(r"(?:19|20)\d\d", MODELS[name].source.split(";")[0])
        assert set(years[:1]) <= set(" ".join(words).replace(",", "").split()), name
