"""Areas dragged in the picture: new words mean where they were dragged, and all else stays."""

from __future__ import annotations

import random
import re

import msgspec
import pytest

from feedscript.court.lines import COURTS
from feedscript.editor.moves import moved
from feedscript.editor.wanted import Choice, Moved, Thing, Wanted
from feedscript.language import read
from feedscript.language.program import (
    ExerciseStatement,
    Point,
    Program,
    TogetherStatement,
)
from tests.editor.test_moves import changed, meant, opened

Box = tuple[float, float, float, float]

TEXT = """feedscript 1
title "Areas"   # a remark
court {{ lines {court}  surface hard }}
balls {{ type 2  load 60 }}
launcher {{ profile "garage.toml"  stands 1 m behind centre mark }}
group {{
    players "Ann", "Bo"   player "Cy" {{ receiver {waits} }}
    level club  receiver 1 m behind baseline, on centre line
}}
let gap = 2 m   # two paces
coach {{ {coach} }}
keep out "bench" {{ {bench}   height 2 m }}
target "deep" {{
    {target}     # rope
    {second}
}}
feed one {{ land gap inside baseline, on centre line  speed 70 km/h }}
lesson {{
    show speed of one
    exercise "Depth" {{ target "deep"  goal 2 of 3 in target  repeat 3 {{ send one after 5 s }} }}
    exercise "Alone" {{
        together {{
            station "feet" {station} {{ work "shadow" for 30 s }}
        }}
    }}
}}
"""
NAMED = ("backcourt", "forecourt", "ad backcourt", "deuce half")
RELATIVE = ("backhand half", "forehand backcourt")
AROUND = ("deuce run-off", "run-off", "ad run-off", "deuce backcourt", "ad box")
CORNERS = (
    "on service line, on centre line and on baseline, on ad sideline",
    "1 m behind service line, 0.5 m inside deuce sideline and on baseline, on centre line",
    "gap inside baseline, on centre line and on baseline, on deuce sideline",
    "on T and 0.5 m inside baseline, 0.3 m inside ad sideline",
    "at -1 m, 7 m and at 1.5 m, 9 m",
    "6 ft from net, 4 ft inside deuce sideline and 1 m in front of service line, to ad",
    "2 m inside baseline, 0.2 m inside forehand sideline and on baseline, on centre line",
    "middle of ad box and on baseline, gap inside deuce sideline",
)
OUTSIDE = (
    "on service line, 1 m outside deuce sideline and on baseline, 3 m outside deuce sideline",
    "1 m behind baseline, gap outside ad sideline and 3 m behind baseline, on centre line",
)
POINTS = (
    "1 m behind baseline, 1 m outside ad sideline",
    "gap behind baseline, on centre line",
    "at 3 m, 12 m",
    "2 m inside baseline, 1 m inside forehand sideline",
)


def some_text(rng: random.Random) -> str:
    """A program with an area of each kind, said in one of the ways there are."""
    target = (*(f"area {one}" for one in (*NAMED, *RELATIVE)), *(f"between {o}" for o in CORNERS))
    clear = (
        *(f"area {one}" for one in (*NAMED, *AROUND)),
        *(f"between {one}" for one in (*CORNERS[:6], *OUTSIDE)),
    )
    return TEXT.format(
        court=rng.choice(("singles", "doubles", "red", "orange", "green")),
        waits=rng.choice(POINTS),
        coach=rng.choice(
            (*(f"walks {one}" for one in AROUND), *(f"stands {one}" for one in POINTS[:3]))
        ),
        bench=rng.choice(clear),
        target=rng.choice(target),
        second=rng.choice(("", f"between {rng.choice(CORNERS)}")),
        station="at " + rng.choice((*AROUND, *POINTS[:3])).removeprefix("at "),
    )


def outlines(program: Program, wanted: Wanted) -> tuple[Point, ...]:
    """Where a thing lies, as the language reads it."""
    if wanted.thing is Thing.TARGET:
        exercise = program.lesson[1]
        assert isinstance(exercise, ExerciseStatement)
        assert exercise.target is not None
        return exercise.target.outlines_m[wanted.part]
    if wanted.thing is Thing.STATION:
        exercise = program.lesson[2]
        assert isinstance(exercise, ExerciseStatement)
        (together,) = exercise.body
        assert isinstance(together, TogetherStatement)
        return together.stations[0].at_m
    if wanted.thing is Thing.PLAYER:
        (own,) = program.group.own
        assert own.receiver_m is not None
        return (own.receiver_m,)
    called = "coach" if wanted.thing is Thing.COACH else wanted.name
    (kept,) = [one for one in program.keep_outs if one.name == called]
    return kept.outline_m


def box(outline: tuple[Point, ...]) -> Box:
    xs, ys = zip(*outline, strict=True)
    return min(xs), max(xs), min(ys), max(ys)


def middle(of: Box) -> Point:
    return (of[0] + of[1]) / 2, (of[2] + of[3]) / 2


def everything_else(program: Program, wanted: Wanted) -> bytes:
    """All that a program means but for this thing, and for where words stand."""
    plain = msgspec.to_builtins(program)
    plain.pop("sources")
    if wanted.thing is Thing.TARGET:
        target = plain["lesson"][1]["target"]
        target["outlines_m"] = [*target["outlines_m"]]
        target["outlines_m"].pop(wanted.part)
    elif wanted.thing is Thing.STATION:
        plain["lesson"][2]["body"][0]["stations"][0].pop("at_m")
    elif wanted.thing is Thing.PLAYER:
        plain["group"]["own"][0].pop("receiver_m")
    else:
        called = "coach" if wanted.thing is Thing.COACH else wanted.name
        for one in plain["keep_outs"]:
            if one["name"] == called:
                one.pop("outline_m")

    def bare(value: object) -> object:
        if isinstance(value, dict):
            return {k: bare(v) for k, v in value.items() if "span" not in k and k != "calls"}
        return [bare(one) for one in value] if isinstance(value, list | tuple) else value

    return msgspec.json.encode(bare(plain))


def some_thing(rng: random.Random, text: str) -> Wanted:
    """One of the areas, held somewhere and dragged anywhere."""
    thing = rng.choice(
        (Thing.TARGET, Thing.TARGET, Thing.KEEP_OUT, Thing.COACH, Thing.STATION, Thing.PLAYER)
    )
    names = {Thing.TARGET: "deep", Thing.KEEP_OUT: "bench", Thing.STATION: "feet"}
    found = re.search(r"coach \{ (\w+)", text)
    assert found is not None
    name = {Thing.COACH: found[1], Thing.PLAYER: "Cy"}.get(thing) or names[thing]
    several = thing is Thing.TARGET and len(re.findall(r"\n    (?:between|area)", text)) > 1
    resizable = thing in (Thing.TARGET, Thing.KEEP_OUT)
    grips = [(x, y) for x in (-1, 0, 1) for y in (-1, 0, 1)] if resizable else [(0, 0)]
    far = 6.0 if thing is Thing.TARGET else 12.0
    x_m, y_m = rng.uniform(-6, 6), rng.uniform(0.3, far) * (-1 if thing is Thing.TARGET else 1)
    return Wanted(
        thing=thing,
        name=name,
        part=rng.randrange(2) if several else 0,
        grip=rng.choice(grips),
        to_m=(x_m, y_m),
        snapped=rng.random() < 0.5,
    )


def expected(before: Box, wanted: Wanted, court: str) -> Box:
    """Where the area was dragged: its edges that are held, or all of it; a target within court."""
    x_m, y_m = wanted.to_m
    x_low, x_high, y_low, y_high = before
    if wanted.grip == (0, 0):
        by_x, by_y = x_m - middle(before)[0], y_m - middle(before)[1]
        x_low, x_high, y_low, y_high = x_low + by_x, x_high + by_x, y_low + by_y, y_high + by_y
    x_low, x_high = (
        x_m if wanted.grip[0] < 0 else x_low,
        x_m if wanted.grip[0] > 0 else x_high,
    )
    y_low, y_high = (
        y_m if wanted.grip[1] < 0 else y_low,
        y_m if wanted.grip[1] > 0 else y_high,
    )
    if wanted.thing is not Thing.TARGET:
        back = max(-y_low, 0.0) if wanted.grip == (0, 0) else 0.0
        return x_low, x_high, max(y_low + back, 0.0), y_high + back
    lines = COURTS[court]
    wide, deep = lines.half_width_m, lines.half_length_m
    if wanted.grip == (0, 0):
        by_x = max(-wide - x_low, 0.0) - max(x_high - wide, 0.0)
        by_y = max(-deep - y_low, 0.0) - max(y_high, 0.0)
        x_low, x_high, y_low, y_high = x_low + by_x, x_high + by_x, y_low + by_y, y_high + by_y
    return max(x_low, -wide), min(x_high, wide), max(y_low, -deep), min(y_high, 0.0)


def drag(rng: random.Random) -> str:
    """One random drag of a random area, held to what the language says of the new words; what was
    dragged, or nothing where there was no such place or it was refused."""
    text = some_text(rng)
    before, _ = read(text, "/nowhere/x.feed")
    if not isinstance(before, Program):
        return ""  # a place that this court does not have, or a target outside its lines
    wanted = some_thing(rng, text)
    was = outlines(before, wanted)
    if wanted.thing is Thing.PLAYER:
        wanted = msgspec.structs.replace(wanted, from_m=was[0])
    answer = moved(opened(text), wanted)
    if answer.refused:
        assert refused_rightly(box(was), wanted, before.court.lines), (text, wanted, answer)
        return ""
    for choice in answer.choices:
        _held_to(text, before, wanted, was, choice, answer)
    return wanted.thing.value


def refused_rightly(was: Box, wanted: Wanted, court: str) -> bool:
    """Only what would be too small an area, or one across the net."""
    x_low, x_high, y_low, y_high = expected(was, wanted, court)
    small = wanted.grip != (0, 0) and min(x_high - x_low, y_high - y_low) < 0.5
    return small or (y_low + y_high) * (-1 if wanted.thing is Thing.TARGET else 1) <= 0


def _held_to(
    text: str,
    before: Program,
    wanted: Wanted,
    was: tuple[Point, ...],
    choice: Choice,
    answer: Moved,
) -> None:
    new = changed(text, choice)
    after, _ = read(new, "/nowhere/x.feed")
    if "wherever" in choice.title and after is None:
        assert text.count("gap") > 3  # it means something else too, which it cannot be there
        return
    assert isinstance(after, Program), (text, wanted, choice)
    now = box(outlines(after, wanted))
    case = (text, wanted, choice, now)
    # As it was dragged to the centimetre (half of it each way), or to the snap.
    allowed_m = 0.1501 if wanted.snapped else 0.0051
    if choice.title.startswith("make it the"):
        assert now != box(was), case
        if wanted.thing in (Thing.TARGET, Thing.KEEP_OUT):  # only what is near, sides and all
            assert now == pytest.approx(expected(box(was), wanted, before.court.lines), abs=1), case
    elif stands(text, wanted) or choice.title in ("stand here", "put it here"):
        assert middle(now) == pytest.approx(wanted.to_m, abs=allowed_m), case
    else:
        wish = expected(box(was), wanted, before.court.lines)
        assert now == pytest.approx(wish, abs=allowed_m), case
    if "wherever" in choice.title:
        assert "gap" in text
        return
    assert everything_else(after, wanted) == everything_else(before, wanted), case
    touched = _touched(text, choice)
    kept = [line for line in text.splitlines() if line not in touched]
    assert [line for line in new.splitlines() if line in kept] == kept
    assert "# rope" in new
    if len(answer.choices) > 1:
        assert answer.asks


def stands(text: str, wanted: Wanted) -> bool:
    """Whether it is somebody's place, with no corners of its own."""
    if wanted.thing is Thing.STATION:
        return not any(f"at {area} {{" in text for area in AROUND)
    return wanted.thing is Thing.PLAYER or wanted.name == "stands"


def _touched(text: str, choice: Choice) -> set[str]:
    return {
        line
        for change in choice.changes
        for line in [text[: change.start].rpartition("\n")[2] + text[change.start :].split("\n")[0]]
    }


@pytest.mark.parametrize(
    ("line", "wanted", "said"),
    [
        (
            "between on service line, on centre line and on baseline, on ad sideline",
            Wanted(thing=Thing.TARGET, name="deep", grip=(1, -1), to_m=(1.02, -10.9)),
            "between on service line, 1 m to deuce of centre line and 1 m inside baseline, "
            "on ad sideline",
        ),
        (
            "between on service line, gap inside deuce sideline and on baseline, on ad sideline",
            Wanted(thing=Thing.TARGET, name="deep", grip=(0, -1), to_m=(0.0, -15.0)),
            "between on service line, gap inside deuce sideline and on baseline, on ad sideline",
        ),
        (
            "area backhand half",
            Wanted(thing=Thing.TARGET, name="deep", to_m=(2.0, -6.0)),
            "area forehand half",
        ),
    ],
)
def test_words_of_an_area_are_a_coachs(line: str, wanted: Wanted, said: str) -> None:
    text = some_text(random.Random(1))
    text = re.sub(r"(?<=\n    )(?:between|area) [^\n]*?(?=     # rope)", line, text, count=1)
    text = re.sub(r"lines \w+", "lines singles", text)
    new = changed(text, moved(opened(text), wanted).choices[0])
    assert new == text.replace(line, said)
    meant(new)


def test_an_areas_distance_by_a_name_is_offered_both_ways() -> None:
    line = "between gap inside baseline, on centre line and on baseline, on deuce sideline"
    text = some_text(random.Random(1))
    text = re.sub(r"(?<=\n    )(?:between|area) [^\n]*?(?=     # rope)", line, text, count=1)
    text = re.sub(r"lines \w+", "lines singles", text)
    wanted = Wanted(thing=Thing.TARGET, name="deep", grip=(0, 1), to_m=(0.0, -8.9))
    here, everywhere = moved(opened(text), wanted).choices
    assert here.title == "write the number here"
    assert "between 3 m inside baseline" in changed(text, here)
    assert everywhere.title == "change gap wherever it is used"
    assert "let gap = 3 m   # two paces" in changed(text, everywhere)


def test_an_area_keeps_its_side_of_the_net_and_a_size() -> None:
    text = re.sub(r"lines \w+", "lines singles", some_text(random.Random(1)))
    across = Wanted(thing=Thing.TARGET, name="deep", to_m=(0.0, 3.0))
    assert moved(opened(text), across).refused == "its place is on the launcher's side of the net"
    elsewhere = Wanted(thing=Thing.TARGET, name="of another file", to_m=(0.0, -3.0))
    assert "another file" in moved(opened(text), elsewhere).refused


def test_random_drags_of_areas_mean_the_place() -> None:
    rng = random.Random(7)
    done = [drag(rng) for _ in range(120)]
    assert {*done} >= {"target", "keep out", "coach", "station", "player"}
    assert sum(map(bool, done)) > 50


@pytest.mark.long
@pytest.mark.timeout(3600)  # a busy machine takes its time
@pytest.mark.parametrize("seed", range(10))
def test_five_thousand_random_drags_of_areas_mean_the_place(seed: int) -> None:
    rng = random.Random(seed)
    found = 0
    while found < 500:
        found += bool(drag(rng))
