"""The library: every exercise is documented, true to its expectations, and right for all it suits.

Each is tried alone, in the small lesson of its own file, for every stage and level that it says it
suits, with a right-hander and a left-hander: it passes the check and is rehearsed to its end.
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.check.check_program import Verdict, check_program
from feedscript.cli.prove.test import command as run_expectations
from feedscript.language import read
from feedscript.language.parse import tree
from feedscript.language.parse.source import Source
from feedscript.language.resolve.loading import load_beside
from feedscript.language.syntax import parse
from feedscript.language.tools import library_page
from feedscript.plan.model import Exercise
from feedscript.session.rehearsal.rehearse import rehearse
from feedscript.shipped import shipped_folder

FILES = sorted((shipped_folder() / "library").glob("*.feed"))
NAMES = [path.stem for path in FILES]
#: The stages with a court of their own.
STAGES = ("red", "orange", "green")
#: What may be said of an exercise of the library: these balls fly slower than any that were
#: measured, since no launcher need throw a red ball faster.
SLOWER_THAN_MEASURED = {"red"}
#: The exercises in which no ball is hit.
CAUGHT = {"catch_in_front"}
#: Who stands in each file's own lesson.
TWO = re.compile(r'players "Ada", "Ben"\s+left-handed "Ben"')


def always_every(nth: int) -> list[object]:
    """The files as cases of a test: each n-th always, the others where tests may take long."""
    return [
        path if number % nth == 0 else pytest.param(path, marks=pytest.mark.long)
        for number, path in enumerate(FILES)
    ]


def items(path: Path, kind: type) -> list:
    parsed = parse(Source(path.name, path.read_text(encoding="utf-8")))
    return [item for item in parsed.tree.items if isinstance(item, kind)]


def suited(path: Path) -> tuple[str, ...]:
    return library_page.exercise_of(path).suits.stages


def lesson_for(path: Path, who: str) -> str:
    """The file's own small lesson, with court, balls and group as this stage or level has them."""
    text = path.read_text(encoding="utf-8")
    if who in STAGES:
        text = re.sub(r"court \{( lines \w+)?", f"court {{ lines {who}", text)
        text = re.sub(r"balls \{ (stage|type) \w+", f"balls {{ stage {who}", text)
        text = re.sub(r"\n(group [^}]*?)(?:stage|level) \w+", rf"\n\1stage {who}", text)
    else:
        text = re.sub(r"court \{ lines (red|orange|green)", "court {", text)
        text = re.sub(r"balls \{ (stage|type) \w+", "balls { type 2", text)
        word = "stage" if who == "yellow" else "level"
        text = re.sub(r"\n(group [^}]*?)(?:stage|level) \w+", rf"\n\1{word} {who}", text)
    if who in ("county", "touring"):
        head, lesson = text.split("\nlesson {")
        for name in re.findall(r"^feed (\w+)_quick\b", text, re.MULTILINE):
            lesson = re.sub(rf"\b{name}\b(?=\n|\))", f"{name}_quick", lesson, count=2)
        text = f"{head}\nlesson {{{lesson.split('expect {')[0]}"
    return text


def passes(path: Path, who: str) -> Verdict:
    verdict = check_program(path, text=lesson_for(path, who))
    said = {one.slug for one in verdict.diagnostics}
    allowed = {"beyond-model"} if who in SLOWER_THAN_MEASURED else set()
    assert verdict.ok, (path.stem, who, verdict.diagnostics)
    assert said <= allowed, (path.stem, who, verdict.diagnostics)
    assert {player.left_handed for player in verdict.plan.group.players} == {True, False}
    return verdict


def is_played(path: Path, who: str) -> None:
    verdict = passes(path, who)
    run = rehearse(verdict.plan, verdict.profiles, path.stem)
    assert run.ending.finished, (path.stem, who, run.ending.diagnostics)
    (exercise,) = (step for step in verdict.plan.steps if isinstance(step, Exercise))
    assert exercise.title in {one.text for one in run.said}
    least, most = verdict.plan.bounds.balls
    assert least <= len(run.balls) <= most
    each = Counter(ball.player for ball in run.balls if not ball.shown)
    for goal in exercise.goals:  # whoever hits with every ball has met it
        assert goal.at_least <= (goal.of or goal.at_least) <= min(each.values())


def test_there_are_at_least_thirty() -> None:
    assert len(FILES) >= 30


@pytest.mark.parametrize("path", FILES, ids=NAMES)
def test_each_is_one_exercise_with_all_that_a_coach_wants_to_know(path: Path) -> None:
    exercise = library_page.exercise_of(path)
    said = exercise.said
    assert all((said.title, said.aim, said.watch, said.easier, said.harder, exercise.trains))
    assert said.planned_s is not None
    assert sum(len(item.expectations) for item in items(path, tree.Expect)) >= 3
    text = path.read_text(encoding="utf-8")
    assert f'use "library/{path.name}"' in text
    pattern = next(p for p in items(path, tree.Pattern) if str(p.name) == path.stem)
    for param in pattern.params:
        assert re.search(rf"^# {param.name}\s", text, re.MULTILINE), param.name
        assert param.default is not None, "a coach can call it with nothing but its name"


@pytest.mark.parametrize("path", FILES, ids=NAMES)
def test_each_in_which_a_ball_is_hit_has_a_goal_or_a_score(path: Path) -> None:
    said = library_page.exercise_of(path).said
    assert bool(said.goals or said.score) is (path.stem not in CAUGHT)
    in_target = any(goal.in_target for goal in said.goals)
    assert in_target is (said.target is not None)


def test_no_two_have_one_title_and_so_any_can_stand_together() -> None:
    titles = [one.said.title for one in library_page.exercises()]
    assert len(set(titles)) == len(titles)


@pytest.mark.parametrize("path", always_every(2), ids=lambda path: path.stem)
def test_each_is_played_to_its_end_by_the_first_that_it_suits(path: Path) -> None:
    is_played(path, suited(path)[0])


@pytest.mark.long
@pytest.mark.parametrize("path", FILES, ids=NAMES)
def test_each_is_played_to_its_end_by_all_that_it_suits(path: Path) -> None:
    for who in suited(path)[1:]:
        is_played(path, who)


@pytest.mark.parametrize("path", always_every(4), ids=lambda path: path.stem)
def test_as_many_as_it_says_can_do_it_at_once(path: Path) -> None:
    players = library_page.exercise_of(path).suits.players
    assert players is not None
    text = path.read_text(encoding="utf-8")
    text = TWO.sub(f"{players[1]} players  left-handed 1", text)
    verdict = check_program(path, text=text.split("expect {")[0])
    assert verdict.ok, verdict.diagnostics
    assert len(verdict.plan.group.players) == players[1]


def test_together_they_suit_everybody() -> None:
    everybody = {who for path in FILES for who in suited(path)}
    assert everybody >= {*STAGES, "beginner", "improver", "club", "county", "touring"}


@pytest.mark.parametrize("mirror", ["", "mirror "])
def test_a_program_uses_them_all(tmp_path, mirror: str) -> None:
    uses = "".join(f'use "library/{name}.feed"\n' for name in NAMES)
    calls = "".join(f"    {mirror}{name}.{name}()\n" for name in NAMES)
    text = f"feedscript 1\n{uses}court {{ lines doubles  surface hard }}\n"
    text += "balls { type 2  load 60 }\nlauncher { stands 1 m behind centre mark }\n"
    text += f"group {{ 2 players }}\nlesson {{\n{calls}}}\n"
    program = tmp_path / "all.feed"
    made, diagnostics = read(text, str(program), load=load_beside(program, shipped_folder()))
    assert diagnostics == ()
    assert made is not None
    assert set(made.sources) == {str(program), *(str(path) for path in FILES)}


def test_every_expectation_of_the_library_holds() -> None:
    run = CliRunner().invoke(
        run_expectations, [*map(str, FILES), "--draws", "300", "--draw-seed", "3", "--jobs", "1"]
    )
    assert run.exit_code == 0, run.output


def test_the_page_of_the_library_is_todays() -> None:
    stored = library_page.FILE.read_text(encoding="utf-8")
    assert stored == library_page.as_markdown(), (
        "run python -m feedscript.language.tools.library_page"
    )
