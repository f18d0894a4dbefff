"""`rehearse` closes whatever it opened, also where it comes to nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.cli import verbs
from feedscript.journal.store import Journal

LESSON = """feedscript 1
court { surface hard }
balls { type 2 }
launcher { profile "garage"  stands on baseline, on centre line }
group { players "Ash" }
feed deep { land 2 m inside baseline, on centre line  speed 80 km/h }
lesson { show speed of deep  for each player { send deep after 5 s } }
"""


@pytest.mark.parametrize("fault", [(), ("--fault", "unheard-of=1")])
@pytest.mark.parametrize("kept", [True, False])
def test_a_rehearsal_leaves_no_journal_open(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: tuple[str, ...], kept: bool
) -> None:
    """Python 3.13 and newer warn of a database that nobody closed."""
    opened, closed = list[Journal](), list[Journal]()
    begin, end = Journal.__init__, Journal.close

    def opening(self: Journal, *parts: object, **named: object) -> None:
        opened.append(self)
        begin(self, *parts, **named)  # type: ignore[arg-type]

    def closing(self: Journal) -> None:
        closed.append(self)
        end(self)

    monkeypatch.setattr(Journal, "__init__", opening)
    monkeypatch.setattr(Journal, "close", closing)
    program = tmp_path / "lesson.feed"
    program.write_text(LESSON, "utf-8")
    journal = ("--journal", str(tmp_path / "j.sqlite")) if kept else ()
    done = CliRunner().invoke(verbs, ["rehearse", str(program), *journal, *fault])
    assert done.exit_code == (3 if fault else 0), done.output
    assert opened
    assert set(map(id, opened)) == set(map(id, closed))
