"""Every document's schema: as the types make it, and refusing what is not so."""

from __future__ import annotations

import copy
import json
import tomllib
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from feedscript.check.check_program import Options, check_program
from feedscript.cli import verbs
from feedscript.documents import made, refresh
from feedscript.documents.field_words import own_words
from feedscript.documents.shipped import schema, schema_names
from feedscript.documents.words import WORDS
from feedscript.formats import FORMATS
from feedscript.launcher.profile.read_profile import parse_profile
from feedscript.plan.canonical import canonical_bytes
from feedscript.shipped import shipped_folder, shipped_profiles, shipped_programs
from tests.documents.held import strays, wrong

PROGRAM = str(shipped_programs()["library/points_to_eleven"])
ROOT = Path(__file__).parents[2]
LAUNCHERS = shipped_folder() / "launchers"
MAPPINGS = sorted((LAUNCHERS / "mapped").glob("*.toml"))


# -- the schemas themselves


def test_schemas_and_pages_are_those_of_the_types() -> None:
    """After a change: python -m feedscript.documents.refresh"""
    wanted = refresh.files()
    assert {path for path, text in wanted.items() if path.read_text("utf-8") != text} == set()
    assert {*refresh.FOLDER.iterdir(), *refresh.PAGES.iterdir()} == set(wanted)


@pytest.mark.parametrize("name", schema_names())
def test_a_schema_is_one(name: str) -> None:
    jsonschema_rs.meta.validate(schema(name))
    assert wrong(name, []) != []
    own = schema(name)["$defs"][schema(name)["$ref"].rpartition("/")[2]]
    assert bool(wrong(name, {})) == bool(own.get("required"))


def test_every_document_has_its_number_and_its_type() -> None:
    assert set(FORMATS) == set(made.NAMED)
    for name, number in FORMATS.items():
        (own,) = (schema(name)["$defs"][schema(name)["$ref"].rpartition("/")[2]],)
        assert own["properties"]["document"]["const"] == name
        assert own["properties"]["format"]["const"] == number
        assert own["required"][:2] == ["document", "format"]


def test_no_two_schemas_are_made_from_types_of_one_name() -> None:
    assert len({schema(name)["$ref"] for name in schema_names()}) == len(schema_names())


def test_every_field_says_what_it_is() -> None:
    silent = [
        f"{name}: {title}.{field}"
        for name in schema_names()
        for title, definition in schema(name)["$defs"].items()
        for field, one in definition.get("properties", {}).items()
        if not one.get("description")
    ]
    assert silent == []


def test_no_words_are_kept_for_a_field_that_is_none() -> None:
    structs = {
        one
        for room in made.ROOMS
        for kind in made.types_of(room).values()
        for one in made.structs_in(kind).values()
    }
    silent = {
        (one.__name__, field)
        for one in structs
        for field in one.__struct_fields__
        if not own_words(one, field)
    }
    used = {key for one, field in silent for key in (f"{one}.{field}", field)}
    assert set(WORDS) - used == set()


# -- what commands say


def typed(*words: str, stdin: str = "") -> Result:
    return CliRunner().invoke(verbs, [*words, "--format", "json"], input=stdin)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("documents")


@pytest.fixture(scope="module")
def journal(folder: Path) -> str:
    path = str(folder / "kept.sqlite")
    done = typed("rehearse", PROGRAM, "--journal", path, "--results", "drawn")
    assert strays(json.loads(done.stdout)) == []
    return path


#: Lines that are quick, and the document that each says. `{folder}` and `{journal}` stand for ours.
LINES = {
    "programs": "programs",
    "profiles": "profiles",
    "settings": "settings",
    "schema": "schema-list",
    "schema plan": "schema-list",
    "tidy --check {program}": "tidy",
    "why": "why-list",
    "why too-soon": "why",
    "why no-such": None,
    "check {program} --certificate --sample 50": "check",
    "check {program} autumn-juniors": "check-several",
    "check autumn-juniors": "season",
    "check {folder}/none.feed": "check",
    "season autumn-juniors --journal {journal}": "season-held",
    "playable {program} --launcher garage --launcher air-barrel": "playable",
    "certify {program} -o {folder}/plan.json": "certify",
    "draw {program} -o {folder}/court.svg": "draw",
    "draw {folder}/none.feed -o {folder}/none.svg": "draw",
    "rehearse {folder}/none.feed": "refused",
    "test {program} --draws 20": "test",
    "compare {program} --against rehearsal --scatter-seed 2": "compare",
    "baseline keep {program} --kept {folder}/kept": "baseline-keep",
    "baseline hold {program} --kept {folder}/kept": "baseline-hold",
    "baseline hold {program} --launcher three-wheels --kept {folder}/kept": "baseline-hold",
    "baseline accept {program} --launcher three-wheels --kept {folder}/kept": "baseline-accept",
    "flight --speed 28m/s --elevation 6deg": "flight",
    "flight --speed 28m/s --elevation 95deg": "refused",
    "find --seconds 0": "find",
    "look-over": "look-over",
    "link-check --on serial:none": "refused",
    "mapped keys": "mapped-keys",
    "mapped examples": "mapped-examples",
    "mapped check {mapping}": "mapped-check",
    "parts": "parts",
    "run {folder}/none.feed --on sim: --yes-i-am-behind-the-launcher": "run",
    "journal list --journal {journal}": "journal-list",
    "journal back-up -o {folder}/copy.sqlite --journal {journal}": "journal-back-up",
    "journal export -o {folder}/lessons.json --journal {journal}": "journal-export",
    "journal tables -o {folder}/tables --journal {journal}": "journal-tables",
    "review --journal {journal}": "review",
    "review --record --player Ada --journal {journal}": "record",
    "review 99 --journal {journal}": "refused",
    "journal forget Ada --journal {folder}/copy.sqlite": "journal-forget",
    "journal delete 1 --journal {folder}/copy.sqlite --yes": "journal-delete",
    "tune garage --propose -o {folder}/marks.csv": "tune-propose",
    "bundle -o {folder}/report.zip --journal {journal}": "bundle",
}


@pytest.mark.parametrize("line", LINES)
def test_what_a_command_says_is_as_its_schema_says(line: str, folder: Path, journal: str) -> None:
    """So it is looked at in every test, too: ``told_as_the_schemas_say``."""
    own = {
        "program": PROGRAM,
        "mapping": str(LAUNCHERS / "mapped" / "attic-lines.toml"),
        "folder": str(folder),
        "journal": journal,
    }
    done = typed(*line.format(**own).split())
    if LINES[line] is None:
        assert done.stdout == ""
        return
    document = json.loads(done.stdout)
    assert strays(document) == []
    assert document["document"] == LINES[line]


#: What other tests print: launchers at their links, films, courts of a club, a page that is served.
ELSEWHERE = {
    "board-check", "club-export", "club-fetch", "club-invite", "club-join", "club-password",
    "club-push", "club-serve", "desk", "jog-line", "link-check", "pair", "set-up", "stand-in-line",
    "tune", "tune-compare", "tune-run", "watch", "watch-sound",
    "relive", "touched", "withstand",
}  # fmt: skip
#: What is written into files.
FILES = {"certificate", "lessons", "club-player", "club-account"}


def test_every_document_is_said_by_some_line() -> None:
    said = {*LINES.values(), "rehearse"} - {None}
    assert said | ELSEWHERE | FILES == set(FORMATS)


# -- files


@pytest.mark.parametrize("path", shipped_profiles().values(), ids=lambda path: path.stem)
def test_a_shipped_profile_is_as_its_schema_says(path: Path) -> None:
    assert wrong("profile", tomllib.loads(path.read_text("utf-8"))) == []


@pytest.mark.parametrize("path", MAPPINGS, ids=lambda path: path.stem)
def test_a_shipped_mapping_is_as_its_schema_says(path: Path) -> None:
    assert wrong("mapping", tomllib.loads(path.read_text("utf-8"))) == []


@pytest.mark.parametrize(
    ("name", "path"),
    [
        ("build", LAUNCHERS / "building" / "garage.toml"),
        ("faults", shipped_folder() / "faults.toml"),
        ("board", ROOT / "drivers" / "firmware" / "board-example.toml"),
    ],
)
def test_a_shipped_file_is_as_its_schema_says(name: str, path: Path) -> None:
    """What any test reads of such files is held to both, too: ``not_as_its_schema_says``."""
    assert wrong(name, tomllib.loads(path.read_text("utf-8"))) == []


@pytest.mark.parametrize("name", ["steady-improver", "seven-at-three-stations"])
def test_plan_and_certificate_are_as_their_schemas_say(name: str, tmp_path: Path) -> None:
    _see_plan(shipped_programs()[name], tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("name", shipped_programs())
def test_every_plan_and_certificate_is_as_its_schema_says(name: str, tmp_path: Path) -> None:
    _see_plan(shipped_programs()[name], tmp_path)


def _see_plan(path: Path, tmp_path: Path) -> None:
    verdict = check_program(path, Options())
    assert verdict.plan is not None
    assert wrong("plan", json.loads(canonical_bytes(verdict.plan))) == []
    out = tmp_path / "certificate.json"
    typed("check", str(path), "-o", str(out))
    assert strays(json.loads(out.read_text("utf-8"))) == []


def test_kept_and_exported_files_are_as_their_schemas_say(folder: Path, journal: str) -> None:
    typed("baseline", "keep", PROGRAM, "--kept", str(folder / "files"))
    (kept,) = (folder / "files").glob("*.json")
    assert wrong("baseline", json.loads(kept.read_text("utf-8"))) == []
    out = folder / "every.json"
    typed("journal", "export", "-o", str(out), "--journal", journal)
    document = json.loads(out.read_text("utf-8"))
    assert document["lessons"][0]["every_ball"]
    assert strays(document) == []


# -- what is not so is refused

PROFILE = tomllib.loads(shipped_profiles()["garage.toml"].read_text("utf-8"))


def _places(table: dict[str, Any], path: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    found = []
    for key, value in table.items():
        found.append((*path, key))
        if isinstance(value, dict):
            found += _places(value, (*path, key))
    return found


def _changed(document: Any, path: tuple[str, ...], value: Any) -> Any:
    """The document with another value there; with none, where it is ``...``."""
    other = copy.deepcopy(document)
    inner = other
    for key in path[:-1]:
        inner = inner[key]
    if value is ...:
        del inner[path[-1]]
    else:
        inner[path[-1]] = value
    return other


@given(st.sampled_from(_places(PROFILE)), st.sampled_from([..., None, "?", -1e9, [], {"no": 1}]))
def test_a_profile_that_is_changed_is_refused_by_schema_and_reader_alike(
    path: tuple[str, ...], value: Any
) -> None:
    changed = _changed(PROFILE, path, value)
    if path in {("name",), ("serial",), ("note",)} and value == "?":
        assert wrong("profile", changed) == []
        return
    assert wrong("profile", changed) != []
    if value is not None:  # TOML has none
        assert parse_profile(_toml(changed), "changed.toml").profile is None


def _toml(table: dict[str, Any], under: str = "") -> str:
    """Enough of TOML for a profile."""
    plain = [f"{key} = {_value(one)}" for key, one in table.items() if not isinstance(one, dict)]
    text = "\n".join([f"[{under}]" if under else "", *plain]) + "\n"
    for key, one in table.items():
        if isinstance(one, dict):
            text += _toml(one, f"{under}.{key}".strip("."))
    return text


def _value(one: Any) -> str:
    return json.dumps(one) if not isinstance(one, float) else repr(one)


@pytest.fixture(scope="module")
def said(folder: Path, journal: str) -> dict[str, Any]:
    lines = {
        "check": ("check", PROGRAM, "--certificate"),
        "review": ("review", "--journal", journal),
        "season": ("season", "autumn-juniors"),
    }
    return {name: json.loads(typed(*line).stdout) for name, line in lines.items()}


@given(st.data())
def test_a_document_that_lacks_a_field_or_has_another_kind_is_refused(
    said: dict[str, Any], data: st.DataObject
) -> None:
    name = data.draw(st.sampled_from(sorted(said)))
    document = said[name]
    required = schema(name)["$defs"][schema(name)["$ref"].rpartition("/")[2]]["required"]
    field = data.draw(st.sampled_from(required))
    assert wrong(name, document) == []
    for value in (..., "?", -1.5, {"no": [1]}):
        if type(value) is not type(document[field]) or value is ...:
            assert wrong(name, _changed(document, (field,), value)) != [], field
    assert wrong(name, {**document, "another": 1}) != []
