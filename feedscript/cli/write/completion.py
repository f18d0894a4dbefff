"""``feedscript completion``: what a shell needs to complete commands, options and names."""

from __future__ import annotations

import glob
import os
import sys
from pathlib import Path

import click
from click.shell_completion import (
    BashComplete,
    CompletionItem,
    FishComplete,
    ShellComplete,
    ZshComplete,
    add_completion_class,
    split_arg_string,
)

from feedscript.cli.output import tell
from feedscript.override import override

#: What asks this program for completions instead of running it.
VARIABLE = "_FEEDSCRIPT_COMPLETE"

#: Register-ArgumentCompleter: Microsoft, PowerShell reference, 2024.
_POWERSHELL = """\
Register-ArgumentCompleter -Native -CommandName %(prog_name)s -ScriptBlock {
    param($wordToComplete, $commandAst, $cursorPosition)
    $env:%(complete_var)s = 'powershell_complete'
    $env:COMP_WORDS = $commandAst.ToString()
    $env:COMP_WORD = $wordToComplete
    %(prog_name)s | ForEach-Object {
        $value, $help = $_ -split "`t", 2
        if (-not $help) { $help = $value }
        $kind = 'ParameterValue'
        [System.Management.Automation.CompletionResult]::new($value, $value, $kind, $help)
    }
    Remove-Item Env:%(complete_var)s, Env:COMP_WORDS, Env:COMP_WORD
}
"""


def _paths(incomplete: str, *, folders: bool) -> list[CompletionItem]:
    """The paths that begin so; a folder's ends in a stroke."""
    found = sorted(glob.glob(f"{glob.escape(incomplete)}*"))
    shown = [f"{one}{os.sep}" if os.path.isdir(one) else one for one in found]
    return [CompletionItem(one) for one in shown if folders or not one.endswith(os.sep)]


class BashWithNames(BashComplete):
    """bash asks itself for paths only where nothing else is offered: beside names, files are
    offered with them."""

    @override
    def get_completions(self, args: list[str], incomplete: str) -> list[CompletionItem]:
        found = super().get_completions(args, incomplete)
        named = [one for one in found if one.type == "plain"]
        if not named or named == found:
            return found
        return [*named, *_paths(incomplete, folders=False)]


#: zsh reads the file as the body of a function and runs all of it at each Tab. click's own takes
#: the second Tab of a shell for its installation, and completes nothing then.
_ZSH = """\
#compdef %(prog_name)s

%(complete_func)s() {
    local found kind word says
    local -a told bare
    for found in ${(f)"$(env COMP_WORDS="${words[*]}" COMP_CWORD=$((CURRENT - 1)) \\
            %(complete_var)s=zsh_complete %(prog_name)s)"}; do
        IFS=$'\\t' read -r kind word says <<<"$found"
        case $kind in
            dir) _path_files -/ ;;
            file) _path_files -f ;;
            plain) [[ -n $says ]] && told+=("${word//:/\\:}:$says") || bare+=("$word") ;;
        esac
    done
    (( $#told )) && _describe -V unsorted told -U
    (( $#bare )) && compadd -U -V unsorted -a bare
}

if [[ $funcstack[1] == _%(prog_name)s ]]; then
    %(complete_func)s "$@"
else
    compdef %(complete_func)s %(prog_name)s
fi
"""


class ZshEveryTime(ZshComplete):
    """zsh, one line for each word."""

    source_template = _ZSH

    @override
    def format_completion(self, item: CompletionItem) -> str:
        return f"{item.type}\t{item.value}\t{item.help or ''}"


#: click's own cuts what it says of a word at the first comma.
_FISH = """\
function %(complete_func)s
    for found in (env %(complete_var)s=fish_complete COMP_WORDS=(commandline -cp) \\
            COMP_CWORD=(commandline -t) %(prog_name)s)
        set -l kind_and_word (string split --max 1 "," -- $found)
        switch $kind_and_word[1]
            case dir
                __fish_complete_directories $kind_and_word[2]
            case file
                __fish_complete_path $kind_and_word[2]
            case plain
                printf '%%s\\n' $kind_and_word[2]
        end
    end
end

complete --no-files --command %(prog_name)s --arguments "(%(complete_func)s)"
"""


class FishWithWords(FishComplete):
    """fish, with the whole of what is said of each word."""

    source_template = _FISH


class PowerShellComplete(ShellComplete):
    """PowerShell's way, which click does not know."""

    name = "powershell"
    source_template = _POWERSHELL

    @override
    def get_completion_args(self) -> tuple[list[str], str]:
        """What stands before the word, and the word as far as it is typed."""
        word = os.environ.get("COMP_WORD", "")
        words = split_arg_string(os.environ.get("COMP_WORDS", ""))[1:]
        return (words[:-1] if word and words and words[-1] == word else words), word

    @override
    def get_completions(self, args: list[str], incomplete: str) -> list[CompletionItem]:
        """PowerShell looks for paths itself only where a program offers nothing at all."""
        found = super().get_completions(args, incomplete)
        named = [one for one in found if one.type == "plain"]
        return named if named == found else [*named, *_paths(incomplete, folders=True)]

    @override
    def format_completion(self, item: CompletionItem) -> str:
        return f"{item.value}\t{item.help}" if item.help else str(item.value)


SHELLS: dict[str, type[ShellComplete]] = {
    "bash": BashWithNames,
    "zsh": ZshEveryTime,
    "fish": FishWithWords,
    "powershell": PowerShellComplete,
}
#: Where each looks for it.
_HINTS = {
    "bash": "~/.local/share/bash-completion/completions/feedscript",
    "zsh": "a folder of $fpath, as _feedscript",
    "fish": "~/.config/fish/completions/feedscript.fish",
    "powershell": "a file that your $PROFILE runs",
}


def know_our_shells() -> None:
    """Let click answer in the ways of this module."""
    for shell in SHELLS.values():
        add_completion_class(shell)


@click.command()
@click.argument("shell", type=click.Choice(list(SHELLS)), required=False)
def command(shell: str | None) -> None:
    """Print what SHELL needs to complete feedscript's commands, options and names.

    Without SHELL, for the one that runs. Put it where the shell looks: in bash
    ~/.local/share/bash-completion/completions/feedscript, in zsh a folder of $fpath as _feedscript,
    in fish ~/.config/fish/completions/feedscript.fish, in PowerShell a file that $PROFILE runs.
    """
    shell = shell or _running()
    root = click.get_current_context().find_root().command
    made = SHELLS[shell](root, {}, "feedscript", VARIABLE)
    # Not by its own source(): that asks a bash of this machine for its version.
    tell(made.source_template % made.source_vars())
    if sys.stdout.isatty():
        tell(f"put this into {_HINTS[shell]}", error=True)


def _running() -> str:
    shell = Path(os.environ.get("SHELL", "powershell" if sys.platform == "win32" else "")).stem
    if shell not in SHELLS:
        raise click.UsageError(f"say for which shell: {', '.join(SHELLS)}")
    return shell
