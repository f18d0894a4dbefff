"""The extension is one small file that an editor can install, with all licences of its parts."""

from __future__ import annotations

import json
import re
import subprocess
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import pytest

import feedscript
from feedscript.bundled import beside_python
from feedscript.editor.extension import build
from tests.conftest import ROOT

MOST_BYTES = 300_000
SCHEMA = "{http://schemas.microsoft.com/developer/vsx-schema/2011}"


@pytest.fixture(scope="module")
def vsix(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    file = tmp_path_factory.mktemp("vsix") / "feedscript.vsix"
    build.build(file)
    assert file.stat().st_size < MOST_BYTES
    return zipfile.ZipFile(file)


def text(vsix: zipfile.ZipFile, name: str) -> str:
    return vsix.read(name).decode()


def test_every_file_that_is_named_in_it_is_in_it(vsix: zipfile.ZipFile) -> None:
    names = set(vsix.namelist())
    manifest = ElementTree.fromstring(text(vsix, "extension.vsixmanifest"))
    assets = [one.get("Path") for one in manifest.iter(f"{SCHEMA}Asset")]
    assert "extension/package.json" in assets
    assert set(assets) <= names
    identity = next(manifest.iter(f"{SCHEMA}Identity"))
    package = json.loads(text(vsix, "extension/package.json"))
    told = [identity.get(key) for key in ("Id", "Publisher", "Version")]
    assert told == [package["name"], package["publisher"], feedscript.__version__]
    assert package["version"] == feedscript.__version__
    contributed = package["contributes"]
    used = [package["main"], contributed["languages"][0]["configuration"]]
    used += [grammar["path"] for grammar in contributed["grammars"]]
    assert {f"extension/{path.removeprefix('./')}" for path in used} <= names
    types = re.findall(r'Extension="(\w+)"', text(vsix, "[Content_Types].xml"))
    assert {name.rpartition(".")[2] for name in names if name != "[Content_Types].xml"} <= set(
        types
    )


def test_it_stands_alone(vsix: zipfile.ZipFile, tmp_path: Path) -> None:
    """Node reads it as an editor does; all that it asks for is the editor, and node's own."""
    script = text(vsix, "extension/extension.js")
    (tmp_path / "extension.js").write_text(script, encoding="utf-8")
    node = beside_python("node")
    asked = set(re.findall(r'require\("([^"]+)"\)', script))
    builtin = subprocess.run(
        [node, "-p", "require('module').builtinModules.join(' ')"], capture_output=True, text=True
    ).stdout.split()
    assert asked - {f"node:{name}" for name in builtin} - set(builtin) == {"vscode"}
    checked = subprocess.run([node, "--check", str(tmp_path / "extension.js")])
    assert checked.returncode == 0
    assert "language-server" in script


def test_every_part_is_held_to_a_hash_and_its_licence_is_told(vsix: zipfile.ZipFile) -> None:
    lock = json.loads((build.HERE / "package-lock.json").read_text("utf-8"))
    parts = {name: one for name, one in lock["packages"].items() if name}
    assert parts
    assert all(one["integrity"].startswith("sha512-") for one in parts.values())
    assert "resolved" not in str(lock)
    heads = re.findall(r"^(\S+) (\d\S+) \((\S+)\)$", text(vsix, "extension/LICENCES.txt"), re.M)
    assert {name for name, *_ in heads} >= {"vscode-languageclient", "vscode-jsonrpc", "semver"}
    for name, version, licence in heads:
        assert parts[f"node_modules/{name}"]["version"] == version
        assert licence in {"MIT", "ISC", "BlueOak-1.0.0"}
    assert text(vsix, "extension/LICENSE.txt") == (ROOT / "LICENSE").read_text("utf-8")


@pytest.mark.long
def test_it_is_the_same_file_each_time(vsix: zipfile.ZipFile, tmp_path: Path) -> None:
    build.build(tmp_path / "again.vsix")
    assert (tmp_path / "again.vsix").read_bytes() == Path(str(vsix.filename)).read_bytes()
