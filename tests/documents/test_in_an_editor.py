"""A language server of TOML, which knows nothing of us, completes our files by their schemas."""

from __future__ import annotations

import json
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.metadata import files
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from feedscript.cli import verbs


class Server:
    """The far end of a language server's standard input and output."""

    def __init__(self, process: subprocess.Popen[bytes], folder: Path) -> None:
        self._process, self._folder, self._number = process, folder, 0
        folders = [{"uri": folder.as_uri(), "name": "launchers"}]
        known = {"textDocument": {"completion": {}}}
        self.ask("initialize", processId=None, capabilities=known, workspaceFolders=folders)
        self._send(method="initialized", params={})

    def opened(self, text: str) -> str:
        """A new file in the folder; its address."""
        uri = (self._folder / "new.toml").as_uri()
        (self._folder / "new.toml").write_text(text, encoding="utf-8")
        document = {"uri": uri, "languageId": "toml", "version": 1, "text": text}
        self._send(method="textDocument/didOpen", params={"textDocument": document})
        return uri

    def completed(self, begun: str, within_s: float = 0.0) -> dict[str, str]:
        """What it offers on the empty line after a beginning: each word, and what is said of it.

        A server reads files and schemas while it answers: it is asked again until it has.
        """
        document, until_s = {"uri": self.opened(f"{begun}\n\n")}, time.monotonic() + within_s
        place = {"line": begun.count("\n") + 1, "character": 0}
        while True:
            found = self.ask("textDocument/completion", textDocument=document, position=place)
            items = found["items"] if isinstance(found, dict) else found or ()
            if items or time.monotonic() > until_s:
                return {one["label"]: json.dumps(one.get("documentation")) for one in items}
            time.sleep(0.1)

    def ask(self, method: str, **params: Any) -> Any:
        """The answer to a request; its own requests are answered with nothing."""
        self._number += 1
        self._send(id=self._number, method=method, params=params)
        while True:
            heard = self._heard()
            if "method" not in heard and heard.get("id") == self._number:
                return heard["result"]
            if "method" in heard and "id" in heard:
                self._send(id=heard["id"], result=None)

    def _send(self, **message: Any) -> None:
        assert self._process.stdin is not None
        body = json.dumps({"jsonrpc": "2.0", **message}).encode()
        self._process.stdin.write(b"Content-Length: %d\r\n\r\n%b" % (len(body), body))
        self._process.stdin.flush()

    def _heard(self) -> dict[str, Any]:
        assert self._process.stdout is not None
        size = 0
        while line := self._process.stdout.readline().strip():
            name, _, value = line.partition(b":")
            size = int(value) if name.lower() == b"content-length" else size
        assert size, "the server has ended"
        heard: dict[str, Any] = json.loads(self._process.stdout.read(size))
        return heard


@contextmanager
def serving(folder: Path) -> Iterator[Server]:
    command = [_installed(), "lsp", "--offline"]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL}
    with subprocess.Popen(command, cwd=folder, **pipes) as process:  # type: ignore[call-overload]
        try:
            yield Server(process, folder)
        finally:
            process.kill()


def _installed() -> str:
    """Where the package has laid it."""
    (found,) = (one for one in files("tombi") or () if one.name in ("tombi", "tombi.exe"))
    return str(Path(str(found.locate())).resolve())


@pytest.mark.parametrize(
    ("name", "word", "said"),
    [
        ("settings-file", "units", "figures are told"),
        ("tolerances", "landing_sigmas", "so often the scatter"),
        ("faults", "always", "every one of them"),
        ("questions", "streak", "in a row"),
        ("bridge", "chunk_bytes", "takes at once"),
        ("board", "servo_least_us", "inside the stops"),
        ("build", "supply_v", "the battery, full"),
    ],
)
def test_every_other_file_is_completed_by_the_schema_beside_it(
    name: str, word: str, said: str, tmp_path: Path
) -> None:
    assert CliRunner().invoke(verbs, ["schema", name, "-o", str(tmp_path)]).exit_code == 0
    with serving(tmp_path) as server:
        offered = server.completed(f"#:schema ./{name}.schema.json", within_s=60)
        assert said in offered[word]


@pytest.mark.parametrize(
    ("copy", "begun", "word", "said"),
    [
        ("profiles --copy garage", "format = 1\n[guard]", "watchdog_s", "stops by itself"),
        ("profiles --copy garage", "format = 1", "mouth_height_m", "m above ground"),
        ("mapped examples --copy attic-lines", "[device]", "feed_lead_s", "leaving, s"),
    ],
)
def test_keys_are_offered_with_their_words(
    copy: str, begun: str, word: str, said: str, tmp_path: Path
) -> None:
    done = CliRunner().invoke(verbs, [*copy.split(), "-o", str(tmp_path)])
    assert done.exit_code == 0
    (schema,) = tmp_path.glob("*.schema.json")
    with serving(tmp_path) as server:
        assert said in server.completed(f"#:schema ./{schema.name}\n{begun}", within_s=60)[word]
        assert word not in server.completed(begun)
