"""A journal's tables, read back by libraries that did not write them."""

from __future__ import annotations

import csv
import io
import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import frictionless
import openpyxl
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedscript.journal.store import read_journal
from feedscript.review.report.lesson import read_lesson
from feedscript.review.tables import files
from feedscript.review.tables.files import WORKBOOK, files_of
from feedscript.review.tables.package import as_csv
from feedscript.review.tables.tables import Column, Table, tables_of
from tests.review.calendar import BALLS_EACH, PLAYERS
from tests.review.commands import keep, run

NOW = datetime(2026, 11, 29, 12, tzinfo=UTC)


def write(calendar: Path, folder: Path, *words: str) -> Path:
    keep("tables", "-o", folder, "--journal", calendar, *words)
    return folder


@pytest.fixture
def made(calendar: Path) -> tuple[Table, ...]:
    journal = read_journal(calendar)
    lessons = [read_lesson(journal, number) for number in (1, 2, 3, 4)]
    journal.close()
    return tables_of(lessons)


def rows_of(table: Table) -> list[dict[str, Any]]:
    names = [one.name for one in table.columns]
    return [dict(zip(names, row, strict=True)) for row in table.rows]


def test_the_package_is_valid_and_every_row_as_its_descriptor_says(
    calendar: Path, tmp_path: Path
) -> None:
    folder = write(calendar, tmp_path / "tables")
    package = frictionless.Package(str(folder / "datapackage.json"))
    report = package.validate()
    assert report.flatten(["type", "message"]) == []
    assert report.stats["tasks"] == 6


@pytest.mark.parametrize(
    ("file", "was", "now", "kind"),
    [
        ("balls.csv", ",false,", ",false,,", "extra-cell"),
        ("balls.csv", "true", "perhaps", "type-error"),
        ("lessons.csv", "\r\n1,", "\r\n9,", "foreign-key"),
        ("lessons.csv", "\r\n2,", "\r\n1,", "primary-key"),
    ],
)
def test_a_package_that_was_changed_is_not_valid(
    file: str, was: str, now: str, kind: str, calendar: Path, tmp_path: Path
) -> None:
    folder = write(calendar, tmp_path / "tables")
    text = (folder / file).read_bytes().decode()
    assert was in text
    (folder / file).write_bytes(text.replace(was, now, 1).encode())
    report = frictionless.Package(str(folder / "datapackage.json")).validate()
    assert kind in {one for (one,) in report.flatten(["type"])}


def test_csv_has_iso_8601_and_all_balls(
    calendar: Path, tmp_path: Path, made: tuple[Table, ...]
) -> None:
    folder = write(calendar, tmp_path / "tables")
    with (folder / "balls.csv").open(encoding="utf-8", newline="") as file:
        read = list(csv.DictReader(file))
    balls = rows_of(made[1])
    assert len(read) == len(balls) > BALLS_EACH * len(PLAYERS)
    for row, ball in zip(read, balls, strict=True):
        assert row["left"].endswith("Z")
        assert datetime.fromisoformat(row["left"]) == ball["left"]
        assert row["shown"] == str(ball["shown"]).lower()
    journal = read_journal(calendar)
    left = journal.rows("SELECT left_utc_s FROM ball ORDER BY session_id, feed_id")
    journal.close()
    for ball, row_left in zip(balls, left, strict=True):
        assert ball["left"].timestamp() == pytest.approx(row_left["left_utc_s"], abs=0.0005)


def test_players_figures_are_those_of_the_report(calendar: Path, made: tuple[Table, ...]) -> None:
    told = json.loads(run("4", "--journal", calendar, "--format", "json"))["players"]
    players = [row for row in rows_of(made[3]) if row["lesson"] == 4]
    assert [one["player"] for one in told] == [row["player"] for row in players]
    for one, row in zip(told, players, strict=True):
        for name in ("balls", "recorded", "in", "share_in", "net", "long", "errors_repeated"):
            assert row[name] == one[name], name
        assert [row["share_in_low"], row["share_in_high"]] == one["interval"]


def test_the_workbook_holds_the_same(
    calendar: Path, tmp_path: Path, made: tuple[Table, ...]
) -> None:
    folder = write(calendar, tmp_path / "tables", "--kind", "xlsx")
    book = openpyxl.load_workbook(folder / WORKBOOK)
    assert book.sheetnames == [*(table.name for table in made), "columns"]
    for table in made:
        head, *rows = book[table.name].iter_rows(values_only=True)
        assert list(head) == [one.name for one in table.columns]
        wanted = [
            tuple(one.replace(tzinfo=None) if isinstance(one, datetime) else one for one in row)
            for row in table.rows
        ]
        assert len(rows) == len(wanted)
        for row, other in zip(rows, wanted, strict=True):
            assert list(row) == [
                pytest.approx(one, abs=1e-9) if isinstance(one, float) else one for one in other
            ]
    assert book["balls"]["C2"].number_format == 'yyyy-mm-dd"T"hh:mm:ss.000"Z"'


def test_parquet_holds_the_same_with_kinds_and_words(
    calendar: Path, tmp_path: Path, made: tuple[Table, ...]
) -> None:
    folder = write(calendar, tmp_path / "tables", "--kind", "parquet")
    package = json.loads((folder / "datapackage.json").read_text("utf-8"))
    assert [one["path"] for one in package["resources"]] == [f"{one.name}.parquet" for one in made]
    for table in made:
        read = pq.read_table(folder / f"{table.name}.parquet")
        assert read.to_pylist() == rows_of(table)
        for field, column in zip(read.schema, table.columns, strict=True):
            assert field.metadata[b"description"].decode() == column.says
    assert (
        str(pq.read_schema(folder / "balls.parquet").field("left").type) == "timestamp[ms, tz=UTC]"
    )


def test_one_player_s_tables_name_nobody_else(calendar: Path, tmp_path: Path) -> None:
    folder = write(calendar, tmp_path / "tables", "--player", PLAYERS[0])
    text = "".join(path.read_text("utf-8") for path in folder.iterdir())
    assert PLAYERS[0] in text
    assert [one for one in PLAYERS[1:] if one in text] == []


@given(st.text(st.characters(exclude_categories=["C"]), min_size=1, max_size=20))
def test_no_text_is_taken_for_a_formula(text: str) -> None:
    table = Table(
        name="one",
        says="One cell.",
        columns=(Column("words", "string", "any"),),
        key=(),
        rows=((f"={text}",), ("\N{HYPHEN-MINUS}1+1",)),
    )
    assert b"\n=" not in as_csv(table)
    written = files_of((table,), "xlsx", NOW)[WORKBOOK]
    cell = openpyxl.load_workbook(io.BytesIO(written))["one"]["A2"]
    assert (cell.data_type, cell.value) == ("s", f"={text}")


@pytest.mark.parametrize(("kind", "extra"), [("xlsx", "tables"), ("parquet", "parquet")])
def test_what_is_not_installed_is_said_before_anything_is_read(
    kind: str, extra: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(files, "find_spec", lambda _name: None)
    words = (
        "tables",
        "-o",
        tmp_path / "tables",
        "--kind",
        kind,
        "--journal",
        tmp_path / "no.sqlite",
    )
    told = keep(*words, code=1)
    assert f"pip install 'feedscript[{extra}]'" in told
    assert not (tmp_path / "tables").exists()
