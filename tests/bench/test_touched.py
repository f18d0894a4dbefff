"""What programs touch is counted from the code's own tables, and by what really happened."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner, Result
from feedscript_drivers.wire.protocol import COMMANDS, Code

from feedscript.bench.touched import Touched, by_checking, by_rehearsing, together
from feedscript.check.check_program import check_program
from feedscript.cli import verbs
from feedscript.safety.rules import RULES
from feedscript.session.operator.phases import TRANSITIONS, Phase
from tests.bench.trials.programs import LESSON, checked, trial


def kinds(found: tuple[Touched, ...]) -> dict[str, Touched]:
    return {one.kind: one for one in found}


def test_a_rehearsal_touches_what_happened_in_it() -> None:
    plain = kinds(by_rehearsing(checked(), "lesson.feed"))
    held = trial(where="person", what="holds", ball=3)
    with_hold = kinds(by_rehearsing(checked(), "lesson.feed", held))
    more = {kind: with_hold[kind].touched - plain[kind].touched for kind in plain}
    assert more["phases"] == {"held", "broken-off"}
    assert {"running: hold", "held: go-on"} <= more["transitions"]
    assert more["launcher's states"] == {"held"}
    assert "GO" in more["commands of the wire"]
    assert "collecting: collected" in plain["transitions"].touched
    assert plain["refusals of the wire"].touched == frozenset()
    both = kinds(together([tuple(plain.values()), tuple(with_hold.values())]))
    assert both["phases"].touched == plain["phases"].touched | with_hold["phases"].touched


def test_all_there_is_stands_in_the_codes_own_tables() -> None:
    found = kinds((*by_checking(checked()), *by_rehearsing(checked(), "lesson.feed")))
    assert found["rules that measured"].known == tuple(rule.slug for rule in RULES)
    assert found["phases"].known == tuple(Phase)
    assert len(set(found["transitions"].known)) == len(TRANSITIONS)
    assert found["commands of the wire"].known == tuple(COMMANDS)
    assert len(found["refusals of the wire"].known) == len(Code)
    for one in found.values():
        assert one.touched <= set(one.known), one.kind


def test_a_rule_that_objects_is_told_apart_from_one_that_measures() -> None:
    fast = LESSON.replace("speed 80 km/h", "speed 190 km/h")
    found = kinds(by_checking(check_program(Path("lesson.feed"), text=fast)))
    said = found["rules that objected"].touched | found["rules that measured"].touched
    assert found["rules that objected"].touched
    assert said <= {rule.slug for rule in RULES}
    assert not kinds(by_checking(checked()))["rules that objected"].touched


def touched(folder: Path, *words: str) -> Result:
    (folder / "lesson.feed").write_text(LESSON, encoding="utf-8")
    result = CliRunner().invoke(verbs, ["touched", str(folder / "lesson.feed"), *words])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


def test_the_command_tells_both_and_holds_to_a_share(tmp_path: Path) -> None:
    told = touched(tmp_path, "--least", "5", "--format", "json")
    assert told.exit_code == 1  # no refusal of the wire ever came
    by_kind = {one["kind"]: one for one in json.loads(told.stdout)["touched"]}
    assert by_kind["refusals of the wire"]["share"] == 0.0
    assert len(by_kind["commands of the wire"]["touched"]) > 5
    words = touched(tmp_path, "--named", "the coach holds")
    assert (words.exit_code, "commands of the wire" in words.output) == (0, True)
    (tmp_path / "empty").mkdir()
    empty = CliRunner().invoke(verbs, ["touched", str(tmp_path / "empty")])
    assert empty.exit_code == 2
