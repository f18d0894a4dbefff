"""The editor's parts that the desk serves are what their script builds, licences included."""

from __future__ import annotations

import importlib.util
import json
import re
from pathlib import Path
from types import ModuleType

import pytest

from feedscript.desk import app

HERE = Path(app.__file__).parent / "bundle"


@pytest.fixture(scope="module")
def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("bundle_build", HERE / "build.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_served_file_is_what_the_script_builds(script: ModuleType, tmp_path: Path) -> None:
    script.build(tmp_path)
    for name in (script.BUNDLE.name, script.LICENCES.name):
        assert (tmp_path / name).read_bytes() == (script.STATIC / name).read_bytes(), name


def test_every_part_is_held_to_a_hash_and_its_licence_allows_it(script: ModuleType) -> None:
    lock = json.loads((HERE / "package-lock.json").read_text("utf-8"))
    parts = {name: one for name, one in lock["packages"].items() if name}
    assert parts
    assert all(one["integrity"].startswith("sha512-") for one in parts.values())
    assert "resolved" not in str(lock)
    heads = re.findall(
        r"^(\S+) (\d\S+) \((\S+)\)$", script.LICENCES.read_text("utf-8"), re.MULTILINE
    )
    for name, version, licence in heads:
        assert parts[f"node_modules/{name}"]["version"] == version
        assert licence in {"MIT", "ISC", "BSD-3-Clause", "Apache-2.0"}
    assert {name for name, *_ in heads} >= {"@codemirror/state", "@codemirror/lsp-client"}
    assert "esbuild" not in {name for name, *_ in heads}, "it builds, and is not served"


def test_nothing_of_the_page_comes_from_elsewhere(script: ModuleType) -> None:
    for path in script.STATIC.iterdir():
        if path.suffix in {".js", ".html", ".css"} and path.name != script.BUNDLE.name:
            text = path.read_text("utf-8").replace("http://www.w3.org/2000/svg", "")
            assert not re.search(r"https?://(?!\$)", text), path.name
