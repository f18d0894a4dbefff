"""``feedscript mapped``: a file that describes a device, checked and explained."""

from __future__ import annotations

import importlib
import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from feedscript.cli import verbs
from feedscript.cli.setting_up import mapped
from feedscript.shipped import shipped_folder, shipped_mappings

GOOD = shipped_folder() / "launchers" / "mapped" / "chatty-lines.toml"
PROJECT = tomllib.loads((Path(__file__).parents[3] / "pyproject.toml").read_text("utf-8"))


@pytest.fixture(autouse=True)
def offered(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the project itself offers by name, whatever was installed before."""

    def tool(name: str) -> Any:
        module, what = PROJECT["project"]["entry-points"]["feedscript.tools"][name].split(":")
        return getattr(importlib.import_module(module), what)

    monkeypatch.setattr(mapped, "tool", tool)


def told(*words: str) -> Result:
    return CliRunner().invoke(verbs, ["mapped", *words])


def test_a_good_file_is_said_to_be_good() -> None:
    result = told("check", str(GOOD))
    assert result.exit_code == 0
    assert "Chatty lines (invented): a mapping that can be used" in result.stdout
    assert "  person-arms: Nobody arms it" in result.stdout
    assert "watchdog" not in result.stdout
    assert 'lacks = ["person-arms", "leaving-time"' in result.stdout


def test_every_mistake_is_told_with_its_place_and_what_is_allowed(tmp_path: Path) -> None:
    file = tmp_path / "device.toml"
    text = GOOD.read_text("utf-8").replace("baud", "bauds").replace('"sum8"', '"sum9"')
    file.write_text(text, encoding="utf-8")
    result = told("check", str(file))
    assert result.exit_code == 1
    assert "did you mean `baud`?" in result.stderr
    assert 'did you mean "sum8"?' in result.stderr
    assert "»bauds«" in result.stderr
    said = json.loads(told("check", str(file), "--format", "json").stdout)
    assert [one["slug"] for one in said["diagnostics"]] == ["mapping-file"] * 2
    assert all(one["line"] for one in said["diagnostics"])


def test_an_example_is_known_by_its_name_and_copied_once(tmp_path: Path) -> None:
    listed = told("examples").stdout.splitlines()
    assert [line.split()[0] for line in listed] == sorted(shipped_mappings())
    assert all("invented device" in line for line in listed)
    assert told("check", "chatty-lines").stdout == told("check", str(GOOD)).stdout
    assert told("examples", "--copy", "chatty-lines", "-o", str(tmp_path)).exit_code == 0
    copy = tmp_path / "chatty-lines.toml"
    first, _, rest = copy.read_bytes().partition(b"\n")
    assert (first, rest) == (b"#:schema ./mapping.schema.json", GOOD.read_bytes())
    assert told("check", str(copy)).exit_code == 0
    assert "Mapping" in json.loads((tmp_path / "mapping.schema.json").read_text())["$defs"]
    copy.write_text("mine", "utf-8")
    again = told("examples", "--copy", "chatty-lines", "-o", str(tmp_path))
    assert (again.exit_code, copy.read_text("utf-8")) == (2, "mine")
    strange = told("examples", "--copy", "nobodys")
    assert "no example is called 'nobodys'; there are: asked-only, " in strange.stderr


def test_keys_are_printed() -> None:
    assert "| `feed_lead_s` |" in told("keys").stdout
    assert "feed_lead_s" in json.loads(told("keys", "--format", "json").stdout)["page"]


def test_a_file_that_is_not_there_is_no_traceback(tmp_path: Path) -> None:
    result = told("check", str(tmp_path / "nothing.toml"))
    assert result.exit_code == 1
    assert "cannot be read" in result.stderr
