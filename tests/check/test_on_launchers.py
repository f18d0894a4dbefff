"""The table says of each program and launcher what a check of the two says."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedscript.check.check_program import Options, check_program
from feedscript.check.on_launchers import verdicts
from feedscript.diagnostics import Severity
from feedscript.shipped import profile_path, program_path
from tests.launcher.tuning.synthetic import profile_named

#: Of one launcher and of two, with a library behind it, refused for one thing or for several.
PROGRAMS = ("five-and-one-launcher", "launchers/three-wheels", "library/cut_it_off", "monday-one")
LAUNCHERS = ("garage", "single-wheel", "swinging-head")


def test_each_cell_is_the_verdict_of_check() -> None:
    rows = verdicts(
        {name: program_path(name) for name in PROGRAMS},
        {name: profile_named(name) for name in LAUNCHERS},
    )
    assert [row.program for row in rows] == list(PROGRAMS)
    for row in rows:
        assert [cell.launcher for cell in row.cells] == list(LAUNCHERS)
        for cell in row.cells:
            options = Options(launcher=profile_path(cell.launcher))
            verdict = check_program(program_path(row.program), options)
            errors = [one for one in verdict.diagnostics if one.severity is Severity.ERROR]
            assert cell.ok == verdict.ok, (row.program, cell.launcher)
            assert [slug for slug, _ in cell.errors] == list(dict.fromkeys(x.slug for x in errors))
            assert set(cell.errors) <= {(one.slug, str(one.message)) for one in errors}
    assert {cell.ok for row in rows for cell in row.cells} == {True, False}


@pytest.mark.parametrize(
    ("name", "content", "slug"),
    [
        ("none.feed", None, "unreadable-file"),
        ("latin.feed", b"\xe9", "unreadable-file"),
        ("wrong.feed", b"feedscript 1\nlesson { sned deep }\n", None),
        ("weeks.feed", None, "season-file"),
    ],
)
def test_what_is_no_program_has_no_cells_and_says_why(
    tmp_path: Path, name: str, content: bytes | None, slug: str | None
) -> None:
    path = tmp_path / name
    if slug == "season-file":
        content = Path(program_path("programs/autumn-juniors.season")).read_bytes()
    if content is not None:
        path.write_bytes(content)
    (row,) = verdicts({"it": path}, {"garage": profile_named("garage")})
    assert (row.program, row.cells, row.playable) == ("it", (), False)
    slugs = [one.slug for one in row.wrong if one.severity is Severity.ERROR]
    assert slugs
    assert slug in (None, slugs[0])
