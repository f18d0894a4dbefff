"""Words begun at the prompts of real shells, and Tab: what then stands on the screen."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.cli import verbs
from feedscript.cli.write.completion import SHELLS
from feedscript.shipped import shipped_programs
from tests.terminal.terminal_window import Window, window

#: How each is started without anybody's own files, and where it looks for what we give it.
STARTED = {
    "bash": ["bash", "--noprofile", "--rcfile", "{home}/rc", "-i"],
    "zsh": ["zsh", "-i"],
    "fish": ["fish", "-i"],
}
PUT = {
    "bash": "completions/feedscript",
    "zsh": "functions/_feedscript",
    "fish": ".config/fish/completions/feedscript.fish",
}
READY = "say>"
ITS_OWN = {
    "rc": f"PS1='{READY}'\n. {{home}}/completions/feedscript\n",
    ".zshrc": "fpath=({home}/functions $fpath)\nautoload -Uz compinit; compinit -u\n"
    f"PS1='{READY}'\n",
    ".config/fish/config.fish": f"function fish_prompt; echo -n '{READY}'; end\n"
    "set fish_greeting\n",
}
BEGUN = {
    "feedscript reh": "feedscript rehearse",
    "feedscript rehearse --see": "feedscript rehearse --seed",
    "feedscript check thursday-ju": "feedscript check thursday-juniors",
    "feedscript draw mine-o": "feedscript draw mine-own.feed",
    "feedscript profiles --copy three-w": "feedscript profiles --copy three-wheels",
}


def test_shells_are_those_that_can_be_typed_into() -> None:
    """PowerShell is in no Debian: what it asks and is told is tested by its words alone."""
    assert {*STARTED, "powershell"} == set(SHELLS)


@pytest.mark.parametrize("shell", STARTED)
def test_what_is_begun_is_completed(
    shell: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert shutil.which(shell), f"install {shell}: make install-debian"
    for name, text in ITS_OWN.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text.format(home=tmp_path), encoding="utf-8")
    put = tmp_path / PUT[shell]
    put.parent.mkdir(parents=True, exist_ok=True)
    put.write_text(CliRunner().invoke(verbs, ["completion", shell]).stdout, encoding="utf-8")
    shutil.copyfile(shipped_programs()["thursday-juniors"], tmp_path / "mine-own.feed")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("ZDOTDIR", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / ".config"))
    monkeypatch.setenv("PATH", f"{Path(sys.executable).parent}:/usr/bin:/bin")
    with window([word.format(home=tmp_path) for word in STARTED[shell]], columns=140) as terminal:
        terminal.see(READY)
        for begun, whole in BEGUN.items():
            terminal.press(begun)
            terminal.see(begun)
            terminal.press("\t")
            terminal.see(whole)
            terminal.press("\x15\x0c")  # the line thrown away, the screen cleared
            _see_an_empty_line(terminal)
        if shell != "bash":  # it has no place for words
            terminal.press("feedscript d\t")
            terminal.see("write programs and see them, in a browser")


def _see_an_empty_line(terminal: Window) -> None:
    terminal.see(READY)
    while "feedscript" in terminal.text:
        terminal.see(READY)
        terminal.read(0.05)
