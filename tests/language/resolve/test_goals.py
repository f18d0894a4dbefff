"""Targets, goals and scores: what is read of them, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedscript.language import program as p
from feedscript.language.resolve.loading import load_beside
from feedscript.language.resolve.read_program import read_program
from feedscript.memo import Memo

HEAD = """feedscript 1
court { surface hard }
balls { type 2 }
launcher { profile "garage.toml" }
group { 2 players }
feed deep { land 2 m inside baseline, on centre line  speed 70 km/h }
"""
HERE = Path(__file__).parent
SEND = "send deep after 5 s"
CROSS = (
    'target "cross" { between 2 m inside baseline, on centre line and on baseline, on ad sideline '
    'marked "cones" }'
)
#: Half a singles court: ITF Rules of Tennis, Rule 1: 78 ft by 27 ft.
BACK_M, SIDE_M = 39 * 0.3048, 13.5 * 0.3048


def read(lesson: str, more: str = "", folder: Path = HERE):
    text = f"{HEAD}{more}\nlesson {{ show speed of deep\n{lesson} }}\n"
    place = folder / "lesson.feed"
    return read_program(text, str(place), load_beside(place, folder), Memo())


def exercise(head: str, more: str = "", body: str = SEND) -> p.ExerciseStatement:
    program, found = read(f'exercise "E" {{ {head} {body} }}', more)
    assert program is not None, found
    return next(step for step in program.lesson if isinstance(step, p.ExerciseStatement))


def slugs(head: str, more: str = "", body: str = SEND) -> list[tuple[str, str]]:
    _, found = read(f'exercise "E" {{ {head} {body} }}', more)
    return [(one.slug, f"{one.message} {one.help}") for one in found]


def box(target: p.TargetDecl) -> tuple[float, ...]:
    xs = [x for x, _ in target.outlines_m[0]]
    ys = [y for _, y in target.outlines_m[0]]
    return min(xs), max(xs), min(ys), max(ys)


def test_a_target_lies_on_the_launchers_side_as_seen_from_there() -> None:
    target = exercise('target "cross"', CROSS).target
    assert target is not None
    assert (target.name, target.marked, target.relative) == ("cross", "cones", False)
    # Ad of somebody who stands at the launcher's end and faces the net is towards -x.
    assert box(target) == pytest.approx((-SIDE_M, 0.0, -BACK_M, 2 - BACK_M))


def test_it_may_be_of_several_areas_and_stand_at_the_head_itself() -> None:
    target = exercise('target "boxes" { area ad box  area deuce box }').target
    assert target is not None
    assert len(target.outlines_m) == 2


def test_goals_and_score_name_the_target_too() -> None:
    for head in ('goal 1 of 2 in "cross"', 'score { in "cross": 1 }', 'target "cross" goal 1 in'):
        assert exercise(head, CROSS).target is not None
    assert exercise("goal 1 in court").target is None


def test_a_mirrored_call_mirrors_the_target() -> None:
    pattern = f'{CROSS}\npattern depth() {{ exercise "E" {{ goal 1 in "cross" {SEND} }} }}'
    boxes = []
    for call in ("depth()", "mirror depth()"):
        program, found = read(call, pattern)
        assert program is not None, found
        (one,) = [step for step in program.lesson if isinstance(step, p.ExerciseStatement)]
        boxes.append(box(one.target))
    right, left = boxes
    assert left == pytest.approx((-right[1], -right[0], right[2], right[3]))


def test_sides_of_the_players_make_it_their_own() -> None:
    assert exercise('target "a" { area forehand box }').target.relative
    assert not exercise('target "a" { area deuce box }').target.relative


def test_a_file_that_is_used_brings_its_targets_along(tmp_path: Path) -> None:
    library = (
        f"feedscript 1\n{CROSS}\nfeed own {{ land 2 m inside baseline, on centre line  apex 3 m }}"
    )
    pattern = 'pattern depth() { exercise "E" { goal 1 in "cross" send own after 5 s } }'
    (tmp_path / "lib.feed").write_text(f"{library}\n{pattern}\n")
    program, found = read("lib.depth()", 'use "lib.feed"', tmp_path)
    assert program is not None, found
    _, found = read(f'exercise "E" {{ goal 1 in "cross" {SEND} }}', 'use "lib.feed"', tmp_path)
    assert [one.slug for one in found] == ["no-target"]


@pytest.mark.parametrize(
    ("head", "at_least", "of", "in_target", "row"),
    [
        ("goal 7 of 10 in target", 7, 10, True, False),
        ('goal 5 in a row in "cross"', 5, 5, True, True),
        ("goal 5 in target in a row", 5, 5, True, True),
        ("goal 5 in a row", 5, 5, False, True),
        ("goal 70 % in of last 20", 14, 20, False, False),
        ("goal 1 % in target of last 20", 1, 20, True, False),
        ("goal 12 in", 12, None, False, False),
        ("goal 3 in court", 3, None, False, False),
    ],
)
def test_a_goal_is_so_many_of_so_many(head, at_least, of, in_target, row) -> None:
    (goal,) = exercise(f'target "cross" {head}', CROSS).goals
    assert (goal.at_least, goal.of, goal.in_target, goal.in_a_row) == (at_least, of, in_target, row)


def test_a_score_gives_each_result_its_points_the_narrower_line_first() -> None:
    score = exercise(
        'target "cross" score to 11 in pairs '
        "{ error: launcher 1  in: 1  in target: 2  net: launcher 3 }",
        CROSS,
    ).score
    assert score is not None
    assert (score.to, score.pairs) == (11, True)
    r = p.Recorded
    assert score.points == {r.TARGET: 2, r.IN: 1}
    assert score.against == {r.NET: 3, r.LONG: 1, r.LEFT: 1, r.RIGHT: 1}
    # Without a line of its own, the target counts as in court.
    assert exercise("score { in: 1 }").score.points == {r.TARGET: 1, r.IN: 1}


def test_until_and_when_ask_for_the_target_of_their_exercise() -> None:
    body = f"until 2 in target, at most 3 {{ {SEND} }} when 1 in  target {{ {SEND} }}"
    until, when = exercise('target "cross"', CROSS, body).body
    assert until.condition.outcome is when.condition.outcome is p.Recorded.TARGET
    assert slugs("", body=body)[0][0] == "no-target"
    _, found = read(body)
    assert [one.slug for one in found] == ["no-target", "no-target"]


def test_a_pattern_may_ask_for_the_target_of_whoever_calls_it() -> None:
    pattern = f"{CROSS}\npattern some() {{ until 2 in target, at most 3 {{ {SEND} }} }}"
    program, found = read('exercise "E" { target "cross" some() }', pattern)
    assert program is not None, found
    _, found = read('exercise "E" { some() } exercise "F" { target "cross" some() }', pattern)
    assert [one.slug for one in found] == ["no-target"]


@pytest.mark.parametrize(
    ("head", "slug", "words"),
    [
        ('target "x" { area run-off }', "target-place", "behind the baseline"),
        ('target "x" { area ad alley }', "target-place", "1.37 m outside the sideline"),
        ('target "x" { between at 1 m, 1 m and at -1 m, -4 m }', "target-place", "past the net"),
        ('target "x" { between on baseline, on centre line and on baseline, on ad sideline }',
         "target-place", "0.00 m deep"),
        ('target " " { area forecourt }', "target-place", "no name"),
        ('target "x" { marked "cones" }', "idle-fact", "nowhere"),
        ('target "x" { area forecourt  marked "a"  marked "b" }', "said-twice", "marked"),
        ('target "x" { area centre line }', "unknown-place", ""),
        ('goal 1 in "cros"', "no-target", 'did you mean "cross"?'),
        ("goal 1 in target", "no-target", 'target "deep" { area backcourt }'),
        ('target "cross" goal 1 in "other"', "no-target", "one target"),
        ("goal 0 in", "out-of-range", ""),
        ("goal 11 of 10 in", "out-of-range", ""),
        ("goal 101 % in of last 10", "out-of-range", "100 %"),
        ("score to 3 { error: launcher 1 }", "score", "nothing"),
        ("score { }", "score", "nothing"),
        ("score { in: 1  in: 2 }", "said-twice", "`in`"),
        ("score { in: 1 } score { in: 2 }", "said-twice", "the score"),
        ("score { in: 101 }", "out-of-range", ""),
    ],
)  # fmt: skip
def test_what_is_wrong_with_it_is_said(head: str, slug: str, words: str) -> None:
    more = CROSS + '\ntarget "other" { area forecourt }' if "cros" in head else ""
    found = [one for one in slugs(head, more) if one[0] != "idle-fact" or slug == "idle-fact"]
    assert [one[0] for one in found] == [slug]
    assert words in found[0][1]


def test_a_target_that_no_exercise_speaks_of_is_an_idle_fact() -> None:
    assert slugs("", CROSS)[0][0] == "idle-fact"
    assert slugs('target "cross"', CROSS) == []


def test_two_targets_of_a_name_are_one_too_many() -> None:
    assert slugs('target "cross"', f"{CROSS}\n{CROSS}")[0][0] == "said-twice"
