"""A slider's figure in the words: the feed has it, and nothing else has changed."""

from __future__ import annotations

import random

import msgspec
import pytest

from feedscript.editor.figures import Figure, FigureWanted, figured, sends_of
from feedscript.language.program import Program
from feedscript.units import UNITS
from tests.editor.test_moves import changed, meant, opened

TEXT = """feedscript 1
title "Figures"   # a remark
court {{ surface hard }}
balls {{ type 2  load 60 }}
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
group {{ 2 players  level club }}
let pace = 78 km/h   # in the spring
let turn = 600 rpm
let tempo = 5 s
feed other {{ land 2 m inside baseline, on centre line  speed pace  spin back turn }}
{feed}
pattern pair(gap: time = tempo, rest_s: time = 4 s) {{
    send one after gap   # the first
    send other after rest_s
}}
lesson {{
    show speed of one
    send one after {after}
    pair()
    pair(6 s)
}}
"""
OWN = "land 2 m inside baseline, 1 m inside ad sideline"
SETTLED = ("speed 70 km/h", "speed pace", "speed 40 mph", "speed pace + 2 km/h", "apex 3 m")
SPINS = (
    "",
    "spin top 900 rpm",
    "spin back turn",
    "spin top 800 rpm, side ad 200 rpm",
    "spin side deuce 150 rpm",
    "spin flat",
    "spin topspin 15 rev/s",
)
FEEDS = (
    "feed one {{ {own}  {settled}  {spin} }}",
    "feed one {{\n    {own}\n    {settled}   # fast\n    {spin}\n}}",
    "feed base {{ {own}  {settled}  {spin} }}\nfeed one = base with {{ within 1 m }}",
    "feed base {{ {own}  {settled}  {spin} }}\nfeed one = base",
    "feed base {{ {own}  {settled}  {spin} }}\nfeed one = mirror base",
)


def everything_else(program: Program) -> bytes:
    plain = msgspec.to_builtins(program)
    plain.pop("sources")
    for field in ("speed_mps", "apex_m", "top_rpm", "side_rpm"):
        plain["feeds"]["one"].pop(field)

    def bare(value: object) -> object:
        if isinstance(value, dict):
            return {k: bare(v) for k, v in value.items() if "span" not in k and k != "calls"}
        return [bare(one) for one in value] if isinstance(value, list | tuple) else value

    return msgspec.json.encode(bare(plain))


def some_figure(rng: random.Random) -> FigureWanted:
    figure = rng.choice((Figure.SPEED, Figure.TOP, Figure.SIDE))
    if figure is Figure.SPEED:
        unit = rng.choice(("km/h", "mph", "m/s"))
        value = round(rng.uniform(30, 110) / 3.6 / UNITS[unit].factor, 1)
    else:
        unit, value = "rpm", float(rng.randrange(-2000, 2001, 50))
    return FigureWanted(figure=figure, name="one", value=value, unit=unit)


def slide(rng: random.Random) -> None:
    """One random slider of a random feed, held to what the language says of the new words."""
    feed = rng.choice(FEEDS).format(
        own=OWN, settled=rng.choice(SETTLED), spin=rng.choice(SPINS)
    )  # fmt: skip
    text = TEXT.format(feed=feed, after="5 s")
    before, wanted = meant(text), some_figure(rng)
    for choice in figured(opened(text), wanted).choices:
        new = changed(text, choice)
        after = meant(new)
        one, was = after.feeds["one"], before.feeds["one"]
        value = wanted.value * UNITS[wanted.unit].factor
        found = {
            Figure.SPEED: one.speed_mps,
            Figure.TOP: one.top_rpm,
            Figure.SIDE: one.side_rpm,
        }
        assert found.pop(wanted.figure) == pytest.approx(value), (text, choice)
        # What was not slid stays: an apex alone gives way to a speed.
        stayed = {Figure.SPEED: was.speed_mps, Figure.TOP: was.top_rpm, Figure.SIDE: was.side_rpm}
        for figure, its in found.items():
            assert its == pytest.approx(stayed[figure]), (text, choice)
        if "wherever" not in choice.title:
            assert everything_else(after) == everything_else(before), (text, choice)
        touched = {text[: one.start].count("\n") for one in choice.changes}
        lines = [one for number, one in enumerate(text.splitlines()) if number not in touched]
        assert [one for one in new.splitlines() if one in lines] == lines


def test_random_sliders_mean_their_figure() -> None:
    rng = random.Random(11)
    for _ in range(150):
        slide(rng)


@pytest.mark.long
@pytest.mark.timeout(3600)  # a busy machine takes its time
@pytest.mark.parametrize("seed", range(10))
def test_five_thousand_random_sliders_mean_their_figure(seed: int) -> None:
    rng = random.Random(seed)
    for _ in range(500):
        slide(rng)


def words_after(feed: str, wanted: FigureWanted) -> str:
    text = TEXT.format(feed=feed, after="5 s")
    new = changed(text, figured(opened(text), wanted).choices[0])
    start = text.index(feed)
    return new[start : new.index("\npattern")]


def of(figure: Figure, value: float, unit: str) -> FigureWanted:
    return FigureWanted(figure=figure, name="one", value=value, unit=unit)


@pytest.mark.parametrize(
    ("feed", "wanted", "said"),
    [
        (
            f"feed one {{ {OWN}  speed 70 km/h }}",
            of(Figure.SPEED, 82, "km/h"),
            f"feed one {{ {OWN}  speed 82 km/h }}",
        ),
        (
            f"feed one {{ {OWN}  apex 3 m }}",
            of(Figure.SPEED, 82, "km/h"),
            f"feed one {{ {OWN}  speed 82 km/h }}",
        ),
        (
            f"feed one {{\n    {OWN}\n    speed 70 km/h  # fast\n}}",
            of(Figure.TOP, -400, "rpm"),
            f"feed one {{\n    {OWN}\n    speed 70 km/h  # fast\n    spin back 400 rpm\n}}",
        ),
        (
            "feed one = other",
            of(Figure.SPEED, 60, "km/h"),
            "feed one = other with { speed 60 km/h }",
        ),
        (
            "feed one = other with { within 1 m }",
            of(Figure.SIDE, 200, "rpm"),
            "feed one = other with { within 1 m  spin side ad 200 rpm, back 600 rpm }",
        ),
        (
            f"feed one {{ {OWN}  speed 70 km/h  spin top 300 rpm, side ad 100 rpm }}",
            of(Figure.SIDE, -150, "rpm"),
            f"feed one {{ {OWN}  speed 70 km/h  spin top 300 rpm, side deuce 150 rpm }}",
        ),
    ],
)
def test_only_the_words_of_the_figure_change(feed: str, wanted: FigureWanted, said: str) -> None:
    assert words_after(feed, wanted) == said


def gaps(text: str, part: int) -> dict[str, str]:
    """What each way to a gap of 7 s writes, by its title."""
    wanted = FigureWanted(figure=Figure.GAP, name="one", part=part, value=7, unit="s")
    choices = figured(opened(text), wanted).choices
    for choice in choices:
        meant(changed(text, choice))
    return {choice.title: changed(text, choice) for choice in choices}


def test_a_gap_by_a_parameter_is_offered_all_ways() -> None:
    feed = FEEDS[0].format(own=OWN, settled=SETTLED[0], spin="")
    text = TEXT.format(feed=feed, after="5 s")
    assert len(sends_of(opened(text), "one")) == 2
    first = gaps(text, 0)
    assert first["write the number here, for gap"] == text.replace("one after gap", "one after 7 s")
    line = text[: text.index("pair(6 s)")].count("\n") + 1
    assert first[f"change it in the call on line {line}"] == text.replace("pair(6 s)", "pair(7 s)")
    assert first["change tempo wherever it is used"] == text.replace("tempo = 5 s", "tempo = 7 s")
    default = first["change gap wherever pair is called without it"]
    assert default == text.replace("time = tempo", "time = 7 s")
    assert gaps(text, 1) == {"move it": text.replace("one after 5 s", "one after 7 s")}
    assert "tempo" in str([*gaps(TEXT.format(feed=feed, after="tempo"), 1)])


def test_what_no_slider_can_change_says_why() -> None:
    document = opened(TEXT.format(feed=f"feed one {{ {OWN}  apex 3 m }}", after="5 s"))
    elsewhere = FigureWanted(figure=Figure.SPEED, name="drills.deep", value=70, unit="km/h")
    assert "another file" in figured(document, elsewhere).refused
    assert "no unit of a speed" in figured(document, of(Figure.SPEED, 70, "rpm")).refused
    assert "is none" in figured(document, of(Figure.SPEED, -3, "km/h")).refused
    nobody = FigureWanted(figure=Figure.GAP, name="one", part=9, value=7, unit="s")
    assert "no step here sends one" in figured(document, nobody).refused
