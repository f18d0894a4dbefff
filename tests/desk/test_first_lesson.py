"""A first lesson from a coach's answers: it passes, fits its minutes, and leaves nobody out."""

from __future__ import annotations

import itertools
import random
import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedscript.check.check_program import Verdict, check_program
from feedscript.check.hour import not_yet
from feedscript.desk.first_lesson import Answers, FirstLesson, choices, lay_out, search
from feedscript.desk.first_lesson.exercises import library
from feedscript.diagnostics import FeedscriptError
from feedscript.language.tools.formatter import format_text
from feedscript.own_library import VARIABLE
from feedscript.plan.interpreter.actions import SendBall
from feedscript.plan.interpreter.runs import run_through
from feedscript.plan.model import Exercise
from feedscript.shipped import shipped_folder

BESIDE = Path("first lesson.feed")
OFFERED = choices()
GARAGE = ("garage.toml",)
GRID = list(itertools.product((1, 2, 3, 5, 8, 11), OFFERED.who, (30, 60, 90)))


def answers(**said: object) -> Answers:
    """An hour for four of a club, but for what is said."""
    plain = {"players": 4, "who": "club", "minutes": 60, "balls": 75, "launchers": GARAGE}
    return Answers(**{**plain, **said})  # type: ignore[arg-type]


def held(asked: Answers) -> tuple[FirstLesson, Verdict]:
    """The lesson, after everything that holds of each was looked at."""
    lesson = lay_out(asked, BESIDE)
    verdict = check_program(BESIDE, text=lesson.words)
    assert verdict.ok, verdict.diagnostics
    assert verdict.as_expected
    assert verdict.plan is not None
    assert verdict.hour is not None
    assert 2 / 3 <= verdict.hour.whole_s / (60 * asked.minutes) <= 1
    assert all(part.takes_s <= (part.planned_s or 0) + 30 for part in verdict.hour.exercises)
    assert format_text(lesson.words, "first lesson")[0] == lesson.words, "as `tidy` writes it"
    assert everybody_plays(verdict) == asked.players
    exercises = [step for step in verdict.plan.steps if isinstance(step, Exercise)]
    assert exercises[-1].goals or exercises[-1].score, "the last one counts"
    assert lesson.words.count("break 3 min") == (asked.minutes > 40) + (asked.minutes > 80)
    return lesson, verdict


def everybody_plays(verdict: Verdict) -> int:
    """How many players have a name of their own, and balls."""
    assert verdict.plan is not None
    names = [player.name for player in verdict.plan.group.players]
    assert all(names)
    sent = [one for one in run_through(verdict.plan, not_yet) if isinstance(one, SendBall)]
    return len({names[one.player] for one in sent if one.player is not None})


@pytest.mark.parametrize(("players", "who", "minutes"), random.Random(5).sample(GRID, 5))
def test_a_lesson_for_any_group(players: int, who: str, minutes: int) -> None:
    held(answers(players=players, who=who, minutes=minutes))


@pytest.mark.long
@pytest.mark.parametrize(("players", "who", "minutes"), GRID)
def test_a_lesson_for_every_group(players: int, who: str, minutes: int) -> None:
    held(answers(players=players, who=who, minutes=minutes))


@pytest.mark.parametrize(("theme", "who"), [("slice", "county"), ("points", "green")])
def test_a_theme_that_suits_is_in_it(theme: str, who: str) -> None:
    lesson = lay_out(answers(who=who, theme=theme, minutes=30), BESIDE)
    used = [line.split('"')[1] for line in lesson.words.splitlines() if line.startswith("use ")]
    assert any(f'theme "{theme}"' in line or f', "{theme}"' in line for line in suits_of(used))


def suits_of(used: list[str]) -> list[str]:
    """What each file says that it suits."""
    texts = [(shipped_folder() / name).read_text("utf-8") for name in used]
    return [" ".join(text.partition("suits {")[2].partition("}")[0].split()) for text in texts]


@st.composite
def some_answers(draw: st.DrawFn) -> Answers:
    players = draw(st.integers(1, OFFERED.most_players))
    name = st.text(max_size=12) | st.sampled_from(['"', "\\", "}", "{", '"} lesson {', "Zoë 🎾"])
    return answers(
        players=players,
        names=tuple(draw(st.lists(name, max_size=players))),
        who=draw(st.sampled_from(OFFERED.who)),
        minutes=draw(st.integers(*OFFERED.minutes)),
        balls=draw(st.integers(20, 200)),
        theme=draw(st.sampled_from(("", *OFFERED.themes))),
        launchers=tuple(draw(st.lists(st.sampled_from(OFFERED.launchers), min_size=1, max_size=2))),
        has=tuple(draw(st.lists(st.sampled_from(OFFERED.needs), unique=True))),
    )


def passes_or_says_why(asked: Answers) -> None:
    try:
        lay_out(asked, BESIDE)
    except FeedscriptError as failed:
        refused = failed.diagnostic
    else:
        held(asked)
        return
    assert refused.slug == "no-first-lesson"
    assert refused.help


@given(asked=some_answers())
@settings(max_examples=2, derandomize=True)
def test_whatever_is_answered_a_lesson_passes_or_is_refused_with_a_mend(asked: Answers) -> None:
    passes_or_says_why(asked)


@pytest.mark.long
@given(asked=some_answers())
@settings(max_examples=150)
def test_whatever_is_answered_a_lesson_passes_or_is_refused_at_length(asked: Answers) -> None:
    passes_or_says_why(asked)


def test_hostile_names_stay_names() -> None:
    names = ('Ada" } lesson { send x', "B\\", "C{}", "🎾 Zoë", "# not a comment\n}")
    _, verdict = held(answers(players=6, names=names, minutes=30))
    assert verdict.plan is not None
    said = tuple(player.name for player in verdict.plan.group.players)
    assert said == (*names[:4], "# not a comment }", "Player 1")


def test_another_exercise_is_taken_where_one_does_not_pass() -> None:
    """The children's first warm-up is too fast for an orange court: it begins otherwise."""
    lesson, _ = held(answers(players=2, who="orange", minutes=30))
    assert "catch_in_front" not in lesson.words


@pytest.mark.parametrize(
    ("launcher", "spin"),
    [
        ("single-wheel.toml", "spin top"),
        pytest.param("air-barrel.toml", "spin flat", marks=pytest.mark.long),
        pytest.param("throwing-arm.toml", "spin back", marks=pytest.mark.long),
    ],
)
def test_a_launcher_that_cannot_choose_its_spin_feeds_with_the_one_it_has(
    launcher: str, spin: str
) -> None:
    lesson, _ = held(answers(launchers=(launcher,), minutes=30, players=2))
    assert lesson.words.count(spin) >= 2, lesson.words


@pytest.fixture
def own_library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A coach's own library with one exercise, under a theme that no other has."""
    monkeypatch.setenv(VARIABLE, str(tmp_path))
    shipped = (shipped_folder() / "library" / "depth_and_direction.feed").read_text("utf-8")
    own = shipped.replace("depth_and_direction", "lighthouse")
    own = own.replace('theme "depth", "direction"', 'theme "lighthouse"').replace(
        ' needs "cones"', ""
    )
    own = re.sub(r'exercise "[^"]*"', 'exercise "To the lighthouse"', own)
    (tmp_path / "harbour").mkdir()
    (tmp_path / "harbour" / "lighthouse.feed").write_text(own, "utf-8")
    return tmp_path


def test_the_coachs_own_exercises_are_among_those_looked_through(own_library: Path) -> None:
    assert "lighthouse" in choices().themes
    lesson, _ = held(answers(theme="lighthouse", minutes=30))
    assert 'use "my/harbour/lighthouse"' in lesson.words


def test_an_own_exercise_takes_the_place_of_one_that_is_called_the_same(own_library: Path) -> None:
    own = own_library / "harbour" / "lighthouse.feed"
    words = own.read_text("utf-8").replace("lighthouse(", "first_rally(")
    own.unlink()
    (own_library / "first_rally.feed").write_text(words, "utf-8")
    assert [one.file for one in library() if one.name == "first_rally"] == ["my/first_rally"]


@pytest.mark.parametrize(
    "words", [b"", b"\xff\xfe", b"pattern lighthouse( {", b"# " + b"x" * 600_000]
)
def test_what_is_no_exercise_in_an_own_library_is_passed_over(
    own_library: Path, words: bytes
) -> None:
    (own_library / "harbour" / "lighthouse.feed").write_bytes(words)
    assert [one for one in library() if one.file.startswith("my/")] == []


def test_a_coach_waits_for_so_many_tries_at_most(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(search, "MOST_TRIALS", 3)
    with pytest.raises(FeedscriptError, match="in 3 tries"):
        lay_out(answers(launchers=("air-barrel.toml",), who="county"), BESIDE)


def test_the_second_launcher_serves_where_the_first_cannot() -> None:
    lesson, _ = held(answers(launchers=("throwing-arm.toml", "garage.toml"), minutes=20, who="red"))
    assert 'profile "garage.toml"' in lesson.words
    assert "one launcher serves: garage.toml" in lesson.notes


@pytest.mark.parametrize(
    ("said", "cause", "mend"),
    [
        (
            {"launchers": ("throwing-arm.toml",), "who": "red"},
            "need a ball whose spin is chosen, and throwing-arm.toml has one",
            "garage.toml, stepping-head.toml, three-wheels.toml, turning-head.toml, "
            "unequal-wheels.toml",
        ),
        ({"balls": 20, "players": 11}, "20 balls are too few for 11 players", "more balls"),
        ({"theme": "coordination"}, "`coordination` suits", "another theme"),
        ({"theme": "juggling"}, "no exercise has the theme `juggling`", "depth"),
        ({"players": 0}, "0 players: there may be 1 to 15", "give more players"),
        ({"minutes": 600}, "600 minutes", "give fewer minutes"),
        ({"who": "giant"}, "`giant` is no stage", "club"),
        ({"launchers": ()}, "one launcher or two", "choose one"),
        ({"launchers": ("../x.toml",)}, "no profile is called", "garage.toml"),
        ({"names": ("A", "A ")}, "two players are called `A`", "tells them apart"),
        ({"players": 1, "names": ("A", "B")}, "2 names for 1 players", "take names out"),
    ],
)
def test_what_cannot_be_met_is_refused_with_cause_and_mend(
    said: dict[str, object], cause: str, mend: str
) -> None:
    with pytest.raises(FeedscriptError) as refused:
        lay_out(answers(**said), BESIDE)
    assert cause in refused.value.diagnostic.message
    assert mend in refused.value.diagnostic.help
