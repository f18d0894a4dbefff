"""The screen of a lesson at every size: the stop, the question and the call are always on it."""

from __future__ import annotations

import io

import msgspec
import pytest
from rich.console import Console
from rich.text import Text

from feedscript.session.operator.phase_words import without_link
from feedscript.session.operator.phases import NOT_NOW, Phase
from feedscript.session.operator.view import LessonView, news
from feedscript.terminal.key_reader import KeyReader
from feedscript.terminal.layout import Block, ScreenLayout, lines_shown
from feedscript.terminal.screen import render
from feedscript.terminal.terminal_state import TerminalState
from tests.session.operator.seen_views import NOW, a_state, aiming, at, in_exercise, stopping

SIZES = [(80, 24), (120, 40), (40, 20), (30, 12)]


def on_screen(picture: ScreenLayout, columns: int = 80, rows: int = 24) -> list[str]:
    console = Console(
        file=io.StringIO(), width=columns, height=rows, force_terminal=True, color_system=None
    )
    drawn = console.render_lines(picture, console.options.update(height=rows), pad=False)
    return ["".join(segment.text for segment in line) for line in drawn]


def words(lines: list[str]) -> str:
    return " ".join(" ".join(lines).split())


@pytest.mark.parametrize(("columns", "rows"), SIZES)
@pytest.mark.parametrize("phase", Phase)
def test_it_fits_and_the_stop_is_on_it(phase: Phase, columns: int, rows: int) -> None:
    lines = on_screen(render(at(phase), TerminalState()), columns, rows)
    assert len(lines) == rows
    assert max(len(line) for line in lines) <= columns
    assert "s STOP" in words(lines[-5:])
    assert at(phase).phase_words in lines[0]
    if at(phase).waits_for:
        assert at(phase).waits_for in words(lines)


def test_the_next_step_of_the_set_up_is_on_the_smallest_screen() -> None:
    lines = on_screen(render(at(Phase.SETTING_UP), TerminalState()), 30, 12)
    assert "Step 3 of 7" in words(lines)
    assert "Enter Done" in words(lines)


@pytest.mark.parametrize(("columns", "rows"), SIZES)
def test_what_to_do_by_hand_is_on_every_screen_until_it_has_stopped(
    columns: int, rows: int
) -> None:
    said = words(on_screen(render(stopping(Phase.STOPPED), TerminalState()), columns, rows))
    assert "Stopping" in said
    assert "press its own emergency stop" in said
    assert "Stopped" not in said


@pytest.mark.parametrize(("columns", "rows"), SIZES)
def test_how_long_a_hold_lasts_is_on_every_screen(columns: int, rows: int) -> None:
    state = msgspec.structs.replace(at(Phase.HELD), hold_s=43.2)
    said = words(on_screen(render(state, TerminalState()), columns, rows))
    assert "Becomes a stop in 0:43" in said


def test_a_break_counts_down_and_says_when_it_is_over() -> None:
    for left_s, told in ((95.0, "Break: 1:35 left"), (0.0, "The break is over")):
        state = msgspec.structs.replace(at(Phase.COLLECTING), break_s=left_s)
        assert told in words(on_screen(render(state, TerminalState()), 40, 12))


def test_the_exercise_that_is_on_stays_on_the_screen() -> None:
    said = words(on_screen(render(in_exercise(at(Phase.RUNNING)), TerminalState()), 80, 24))
    assert "2 of 5: Depth, crosscourt" in said
    assert "aim: past the service line" in said
    assert "watch: height over the net" in said
    assert "easier: from inside the baseline" in said
    assert "harder: past the cones" in said


def test_target_goals_rows_and_score_stay_on_the_screen() -> None:
    said = words(on_screen(render(aiming(at(Phase.RUNNING)), TerminalState()), 80, 30))
    assert "target: deep cross, four cones" in said
    assert "goal: 7 of 10 in deep cross Player number 1 met it, Player number 2 4" in said
    assert "Player number 1: 5 in a row" in said
    assert "score to 11: Player number 1 11:6 won, Player number 2 5:9" in said
    assert "score" not in words(on_screen(render(at(Phase.RUNNING), TerminalState()), 80, 30))


def test_a_lost_link_is_said_first() -> None:
    state = msgspec.structs.replace(a_state(), no_link=without_link(["main"]))
    shown = words(on_screen(render(state, TerminalState()), 40, 12))
    assert "No link to main. It stops by itself; use its own switch." in shown


def test_what_was_refused_and_what_is_typed_are_shown() -> None:
    refused = NOT_NOW.report("this cannot be done now", help="do that")
    shown = words(on_screen(render(a_state(), TerminalState(refused=refused)), 40, 20))
    assert "! this cannot be done now (do that)" in shown
    typing = TerminalState(reader=KeyReader(line=":rest Bö"))
    assert ":rest Bö▏" in words(on_screen(render(a_state(), typing)))


def test_help_tells_every_key_and_fits_twenty_lines_of_forty() -> None:
    lines = on_screen(render(at(Phase.RUNNING), TerminalState(help=True, pairs=True)), 40, 20)
    told = words(lines)
    for control in at(Phase.RUNNING).controls:
        assert not control.keys or control.label in told, control.name
    for word in ("space", "↑", "Page Down", "quiet", "join", "leave", "ACROSS ALONG", "p P"):
        assert word in told, word
    assert "Esc" not in told  # it stops on the page; a terminal cannot tell it
    assert "…" not in words(lines[2:])


def test_old_trouble_goes_while_the_lesson_runs_on() -> None:
    def told(state: LessonView) -> bool:
        return "jam: the gate" in words(on_screen(render(state, TerminalState())))

    assert not told(at(Phase.RUNNING))  # a minute old
    assert told(at(Phase.STOPPED))
    running = at(Phase.RUNNING)
    (trouble,) = running.troubles
    fresh = msgspec.structs.replace(trouble, until_utc_s=NOW + 1.0)
    assert news(msgspec.structs.replace(running, troubles=(fresh,))) == (fresh,)


def test_the_question_is_offered_to_the_coach() -> None:
    assert "Ask Ash, alone (net twice): PRIVATE QUESTION?" in words(
        on_screen(render(a_state(), TerminalState()))
    )


def test_a_screen_without_keys_names_none() -> None:
    shown = words(on_screen(render(at(Phase.HELD), TerminalState(keys=False))))
    assert "space" not in shown
    assert "Ctrl-C" in shown


def test_what_matters_most_gets_its_lines_first() -> None:
    def lines(count: int) -> list[Text]:
        return [Text(str(n)) for n in range(count)]

    shown = lines_shown([(2, lines(4)), (1, lines(3)), (3, lines(5))], 6)
    assert [[line.plain for line in block] for block in shown] == [
        ["0", "1", "…"],
        ["0", "1", "2"],
        [],
    ]


def test_items_are_packed_without_being_broken() -> None:
    items = tuple(Text(f"{n} key{n}") for n in range(6))
    lines = on_screen(ScreenLayout((Block(rank=0, lines=items, packed=True),)), 20, 4)
    assert lines == ["0 key0  1 key1", "2 key2  3 key3", "4 key4  5 key5", ""]
