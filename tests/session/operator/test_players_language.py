"""What is called to a player, and shown beside the name, is in that player's language."""

from __future__ import annotations

import msgspec

from feedscript.plan.model import Exercise, Goal, Plan, Result, ShowSpeed, Turns
from feedscript.plan.scene import Player
from feedscript.session.engine.engine import Engine
from feedscript.session.operator.commands import RecordResult
from feedscript.session.operator.view import LessonView
from feedscript.session.state.event_log import read_state
from feedscript.terminal.plain_lines import PlainLines
from feedscript.tongues.tongue import IN_ENGLISH, Tongues
from tests.plan.small_plans import send
from tests.session.coach import see_balls
from tests.session.rehearsing import Run, lesson_plan, rehearse
from tests.tongues import pseudo

ANA, BEN, CLEO = Player(name="Ana", language="de"), Player(name="Ben", language="es"), "Cleo"
GROUP = (ANA, BEN, Player(name=CLEO))
SCREENS = (IN_ENGLISH, Tongues().named("fr"), pseudo.tongue())


def of_turns() -> Plan:
    turns = Turns(slots=3, passes=1, body=(send(0, 4.0), send(0, 4.0)), line=2)
    goal = Goal(at_least=1, of=1, in_target=False)
    exercise = Exercise(title="Depth", repeats=0, body=(turns,), goals=(goal,), line=1)
    return lesson_plan(ShowSpeed(feed=0, line=1), exercise, players=GROUP)


def played() -> tuple[Run, list[LessonView]]:
    """Every ball of it is in; the views of the lesson."""
    seen: list[LessonView] = []

    async def coach(engine: Engine) -> None:
        for ball in range(2, 8):
            await see_balls(engine, ball)
            await engine.command(RecordResult(result=Result.IN))
            seen.append(engine.view)

    return rehearse(of_turns(), coach), seen


def test_calls_and_what_stands_beside_a_name_are_in_the_players_language() -> None:
    run, seen = played()
    for screen in SCREENS:
        assert screen is not None
        plain = [msgspec.to_builtins(view, enc_hook=screen) for view in seen]
        called = {call["text"]: call["language"] for view in plain for call in view["calls"]}
        assert called["Ana ist dran"] == "de"
        assert called["Le toca a Ben"] == "es"
        assert called["Ana: Vorgabe erreicht, 1 von 1 im Feld."] == "de"
        assert {language for text, language in called.items() if CLEO in text} == {""}
        stations = [one for view in plain for one in view["stations"]]
        beside = {one["on"]: one["on_words"] for one in stations if one["on"]}
        assert (beside["Ana"], beside["Ben"]) == ("Am Ball", "Juega")
        assert {one["next_words"] for one in stations if one["next_up"] == "Ana"} <= {"Danach"}
        (goal,) = plain[-1]["aims"]["goals"]
        told = {one["player"]: one["words"] for one in goal["players"]}
        assert told["Ana"] == "✓ Ana: Vorgabe erreicht"
        assert told["Ben"] == "✓ Ben: meta alcanzada"
    kept = run.engine.lesson
    assert read_state(run.journal, kept.session_id, kept.plan) == kept.state


def test_what_is_not_in_a_players_language_is_in_the_screens() -> None:
    _, seen = played()
    last = msgspec.to_builtins(seen[-1], enc_hook=pseudo.tongue())
    assert f"⟦{CLEO} is on⟧" in {call["text"] for call in last["calls"]}


def test_a_terminal_prints_the_same_call() -> None:
    _, seen = played()
    lines = PlainLines()
    printed = [line for view in seen for line in lines.new_in(view)]
    assert any(line.endswith("call: Ana ist dran") for line in printed)
    assert any(line.endswith(f"call: {CLEO} is on") for line in printed)


def test_players_of_several_languages_are_called_in_the_screens() -> None:
    run, _ = played()
    roster = run.engine.lesson.roster
    assert roster.speaks(["Ana"]) == "de"
    assert roster.speaks(["Ana", "Ben"]) == roster.speaks([CLEO]) == roster.speaks([]) == ""
    assert roster.speaks(["Ana", "Ana"]) == "de"
    assert roster.speaks(["nobody", None]) == ""
