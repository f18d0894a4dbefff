"""Dragged in the picture: new words mean the place, and nothing else has changed."""

from __future__ import annotations

import random
import re
from pathlib import Path

import msgspec
import pytest

from feedscript.check.check_program import Verdict
from feedscript.court.lines import COURTS
from feedscript.editor.document import Document, names_in
from feedscript.editor.moves import moved
from feedscript.editor.wanted import Choice, Thing, Wanted
from feedscript.language import read
from feedscript.language.program import Program

HEAD = """feedscript 1
title "Moves"   # a remark
court {{ lines {court}  surface hard }}
balls {{ type 2  load 60 }}
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
group {{ 2 players  level club  receiver 1 m behind baseline, on centre line }}
let gap = 2 m   # two paces
let out = 1.5 m
keep out "bench" {{
    between on service line, 1 m outside deuce sideline and on baseline, 3 m outside deuce sideline
    height 2 m
}}
feed other {{ land gap inside baseline, on centre line  speed 80 km/h }}
"""
TAIL = "\nlesson {{ show speed of one  send one after 5 s  send other after 5 s }}\n"
PLACES = (
    "2 m inside baseline, 1 m inside ad sideline",
    "1.25 m behind service line, 0.3 m to deuce of centre line",
    "on service line, on centre line",
    "6 ft from net, 4 ft inside deuce sideline",
    "gap inside baseline, out inside ad sideline",
    "gap + 1 m inside baseline, on centre line",
    "2 m inside baseline, 1 m inside forehand sideline",
    "2 m inside baseline, to ad",
    "middle of ad box",
    "on T",
    "0.5 m in front of t, 1 m inside ad sideline",
    "at 1.2 m, 8 m",
    "1 m inside ad sideline, 2 m inside baseline",
)
FEEDS = (
    "feed one {{ land {place}  speed 70 km/h }}",
    "feed one {{\n    land {place}\n    speed 70 km/h\n}}",
    "feed base {{ land {place}  speed 70 km/h }}\nfeed one = base with {{ speed 72 km/h }}",
    "feed base {{ land {place}  speed 70 km/h }}\nfeed one = base with {{\n    speed 71 km/h\n}}",
    "feed base {{ land {place}  speed 70 km/h }}\nfeed one = mirror base",
    "feed base {{ land {place}  speed 70 km/h }}\nfeed one = base",
)


def meant(text: str) -> Program:
    program, found = read(text, "/nowhere/x.feed")
    assert program is not None, [one.message for one in found]
    return program


def opened(text: str) -> Document:
    """A document as far as a move looks at it; nothing is aimed."""
    scope, _ = names_in(Path("/nowhere/x.feed"), text)
    return Document(Path("/nowhere/x.feed"), text, scope, Verdict((), meant(text)))


def changed(text: str, choice: Choice) -> str:
    for change in reversed(choice.changes):
        text = change.made(text)
    return text


#: Where words stand.
_WHERE = ("span", "spans", "calls")


def without_places(program: Program, *feeds: str) -> bytes:
    """All that a program means, but for where these feeds land and where its words stand."""
    plain = msgspec.to_builtins(program)
    for name in feeds:
        plain["feeds"][name].pop("land_m")
    plain.pop("sources")

    def bare(value: object) -> object:
        if isinstance(value, dict):
            return {key: bare(one) for key, one in value.items() if key not in _WHERE}
        return [bare(one) for one in value] if isinstance(value, list | tuple) else value

    return msgspec.json.encode(bare(plain))


def drag(rng: random.Random) -> bool:
    """One random drag of a random feed, held to what the language says of the new words; False
    where there was no such feed."""
    court = rng.choice(("singles", "doubles", "red", "orange", "green"))
    place = rng.choice(PLACES)
    text = HEAD.format(court=court) + rng.choice(FEEDS).format(place=place) + TAIL.format()
    before, _ = read(text, "/nowhere/x.feed")
    if before is None:
        return False  # a place that this court does not have
    lines = COURTS[court]
    to_m = (
        rng.uniform(-lines.half_width_m, lines.half_width_m) * 1.1,
        rng.uniform(0.2, lines.half_length_m * 1.05),
    )
    snapped = rng.random() < 0.5
    from_m = before.feeds["one"].land_m
    wanted = Wanted(thing=Thing.LANDING, name="one", from_m=from_m, to_m=to_m, snapped=snapped)
    answer = moved(opened(text), wanted)
    assert answer.choices, answer
    for choice in answer.choices:
        new = changed(text, choice)
        after = meant(new)
        x_m, y_m = after.feeds["one"].land_m
        # As it was dragged to the centimetre (half of it each way), or to the snap.
        allowed_m = 0.0051 if not snapped else 0.1501
        assert abs(x_m - to_m[0]) <= allowed_m, (text, choice)
        assert abs(y_m - to_m[1]) <= allowed_m, (text, choice)
        if "wherever" not in choice.title:
            moving = ("one", "base") if "base" in before.feeds else ("one",)
            assert without_places(after, *moving) == without_places(before, *moving)
            kept = [one for one in text.splitlines() if "land" not in one and "feed one" not in one]
            assert [line for line in new.splitlines() if line in kept] == kept
    if len(answer.choices) > 1:
        assert "gap" in place or "out" in place
    return True


def test_random_drags_mean_the_place() -> None:
    rng = random.Random(5)
    assert sum(drag(rng) for _ in range(300)) > 200


@pytest.mark.long
@pytest.mark.timeout(3600)  # a busy machine takes its time
def test_five_thousand_random_drags_mean_the_place() -> None:
    rng = random.Random(6)
    assert sum(drag(rng) for _ in range(7000)) > 5000


def one_change(place: str, to_m: tuple[float, float], *, snapped: bool = True) -> str:
    """The words of the place after a drag."""
    text = HEAD.format(court="singles") + FEEDS[0].format(place=place) + TAIL.format()
    from_m = meant(text).feeds["one"].land_m
    wanted = Wanted(thing=Thing.LANDING, name="one", from_m=from_m, to_m=to_m, snapped=snapped)
    new = changed(text, moved(opened(text), wanted).choices[0])
    found = re.search(r"feed one \{ land (.*?)  speed", new)
    assert found is not None
    return found[1]


def test_words_are_a_coachs_and_stay_measured_from_the_same_line() -> None:
    place = "2 m inside baseline, 1 m inside ad sideline"
    assert one_change(place, (2.91, 9.38)) == "2.5 m inside baseline, 1.2 m inside ad sideline"
    assert one_change(place, (3.115, 6.5)) == "5.4 m inside baseline, 1 m inside ad sideline"
    assert one_change(place, (3.115, 11.8)) == "on baseline, 1 m inside ad sideline"
    assert one_change(place, (-3.0, 9.885)) == "2 m inside baseline, 1.1 m inside deuce sideline"
    assert one_change("6 ft from net, 4 ft inside deuce sideline", (-2.9, 3.05)).startswith(
        "9.84 ft from net"
    )
    hands = "2 m inside baseline, 1 m inside forehand sideline"
    assert one_change(hands, (2.0, 9.885)) == "2 m inside baseline, 2.1 m inside backhand sideline"


def test_only_what_moved_is_written_anew() -> None:
    place = "gap inside baseline, 1 m inside  ad sideline"
    assert one_change(place, (2.0, 9.887)) == "gap inside baseline, 2.1 m inside ad sideline"


def test_a_value_by_its_name_is_offered_both_ways() -> None:
    text = HEAD.format(court="singles") + FEEDS[0].format(place=PLACES[4]) + TAIL.format()
    wanted = Wanted(thing=Thing.LANDING, name="one", from_m=(2.615, 9.885), to_m=(2.615, 8.885))
    here, everywhere = moved(opened(text), wanted).choices
    assert here.title == "write the number here"
    assert everywhere.title == "change gap wherever it is used"
    new = changed(text, everywhere)
    assert "let gap = 3 m   # two paces" in new
    assert meant(new).feeds["other"].land_m[1] == pytest.approx(8.885, abs=0.01)


@pytest.mark.parametrize(
    ("wanted", "said"),
    [
        (
            Wanted(thing=Thing.LAUNCHER, to_m=(1.0, -13.0)),
            "stands 1.1 m behind baseline, 1 m to deuce of centre line",
        ),
        (
            Wanted(thing=Thing.RECEIVER, to_m=(0.0, 13.9)),
            "receiver 2 m behind baseline, on centre line",
        ),
        (
            Wanted(thing=Thing.KEEP_OUT, name="bench", grip=(1, 1), to_m=(-6.1, 10.9)),
            "deuce sideline and 1 m inside baseline, 3 m",
        ),
        (
            Wanted(thing=Thing.WAITS, name="one", to_m=(1.0, 12.9)),
            "{ receiver 1 m behind baseline, 1 m to ad of centre line  land",
        ),
    ],
)
def test_other_things_move_by_their_words_too(wanted: Wanted, said: str) -> None:
    text = HEAD.format(court="singles") + FEEDS[0].format(place=PLACES[0]) + TAIL.format()
    (choice,) = moved(opened(text), wanted).choices
    new = changed(text, choice)
    assert said in new
    meant(new)


def test_what_cannot_be_moved_says_why() -> None:
    text = HEAD.format(court="singles") + FEEDS[0].format(place=PLACES[0]) + TAIL.format()
    document = opened(text)
    across = Wanted(thing=Thing.LANDING, name="one", to_m=(0.0, -3.0))
    assert moved(document, across).refused == "its place is on the receiver's side of the net"
    elsewhere = Wanted(thing=Thing.LANDING, name="volleys.deep", to_m=(0.0, 3.0))
    assert "another file" in moved(document, elsewhere).refused
