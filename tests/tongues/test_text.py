"""A marked text is its English words, and can be told in another language."""

from __future__ import annotations

import msgspec
import pytest

from feedscript.tongues.text import Text, _, joined, listed, n_, p_, plain
from feedscript.tongues.tongue import Catalogue, Tongue
from feedscript.visible import visible

GERMAN = Tongue(
    Catalogue(
        language="de",
        name="Deutsch",
        comma=True,
        forms="10" + "1" * 198,
        words={
            "{name} joins": "{name} kommt dazu",
            "{n} ball": ["{n} Ball", "{n} Bälle"],
            "pad\x04Left": "Links",
            "{m:.1f} m of {what}": "{what}: {m:.1f} m",
            "net": "Netz",
            "{most} and {last}": "{most} und {last}",
            "wrong": "{nobody}",
        },
    )
)


def test_a_text_is_its_english_words() -> None:
    assert _("{name} joins", name="Ash") == "Ash joins"
    assert n_("{n} ball", "{n} balls", 1) == "1 ball"
    assert n_("{n} ball", "{n} balls", 3) == "3 balls"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (_("{name} joins", name="Ash"), "Ash kommt dazu"),
        (n_("{n} ball", "{n} balls", 1), "1 Ball"),
        (n_("{n} ball", "{n} balls", 0), "0 Bälle"),
        (n_("{n} ball", "{n} balls", 201), "201 Bälle"),
        (p_("pad", "Left"), "Links"),
        (_("Left"), "Left"),  # of another context
        (_("{m:.1f} m of {what}", m=1.25, what=_("net")), "Netz: 1,2 m"),
        (
            joined(". ", [_("net"), "", _("{name} joins", name="{m} {net}")]),
            "Netz. {m} {net} kommt dazu",
        ),
        (listed(["Ash", "Bay", "Cedar"]), "Ash, Bay und Cedar"),
        (listed(["Ash"]), "Ash"),
    ],
)
def test_a_text_is_told_in_another_language(text: str, told: str) -> None:
    assert GERMAN(text) == told


def test_a_catalogue_with_a_wrong_part_leaves_the_english() -> None:
    assert GERMAN(_("wrong")) == "wrong"


def test_a_text_stays_one_through_the_making_visible_unless_it_hides_something() -> None:
    assert GERMAN(visible(_("net"))) == "Netz"
    assert "\x07" not in visible(_("{name} joins", name="A\x07"))


def test_a_text_in_a_record_is_told_where_the_record_is_written() -> None:
    record = {"said": (_("net"), "as it is"), "n": 1}
    assert msgspec.to_builtins(record, enc_hook=GERMAN) == {"said": ("Netz", "as it is"), "n": 1}
    assert msgspec.to_builtins(record, enc_hook=plain)["said"] == ("net", "as it is")
    assert not isinstance(plain(_("net")), Text)


@pytest.mark.parametrize("tell", [GERMAN, plain])
def test_what_is_no_text_is_not_told(tell: object) -> None:
    with pytest.raises(NotImplementedError):
        msgspec.json.encode({"x": object()}, enc_hook=tell)
