"""The one front door: every command that takes a program goes through ``examine``.

``check``, ``plan``, ``show``, ``rehearse``, ``test``, ``run`` and the editor all ask here and so
all see the same verdict: text, tree, plan, certificate and diagnostics.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from feedscript.diagnostics import Diagnostic, Page, has_errors
from feedscript.launcher.profile import Profile
from feedscript.plan.certificate import Certificate
from feedscript.plan.model import Plan

UNREADABLE = Page(
    slug="unreadable-file",
    title="The file cannot be read",
    why="A program is a file of UTF-8 text. Without it there is nothing to check.",
)


@dataclass(frozen=True, slots=True)
class Options:
    """What the command line or the editor adds to a program."""

    launcher: Path | None = None  # a profile that stands in for the one the program names
    seed: int | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """Everything the house knows of one program. ``plan`` is None unless it may be run."""

    diagnostics: tuple[Diagnostic, ...]
    plan: Plan | None = None
    draft: Plan | None = None  # aimed but not passed: for pictures of what is wrong, never to run
    certificate: Certificate | None = None
    profiles: tuple[Profile, ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict)

    @property
    def ok(self) -> bool:
        """Whether the program passed: no error, and a plan that carries its certificate."""
        return self.plan is not None and not has_errors(self.diagnostics)


def examine(path: Path, options: Options | None = None, *, text: str | None = None) -> Verdict:
    """The verdict on the program at ``path``; ``text`` stands for its unsaved content.

    Never raises for anything a file may hold: what is wrong comes back as diagnostics.
    """
    if text is None:
        read = _read(path)
        if isinstance(read, Diagnostic):
            return Verdict(diagnostics=(read,))
        text = read
    return _examine(path, text, options or Options())


def _read(path: Path) -> str | Diagnostic:
    try:
        return path.read_bytes().decode("utf-8-sig")
    except OSError as trouble:
        reason = trouble.strerror or str(trouble)
        return UNREADABLE.report(
            f"{path}: {reason}", help="give the path of a program file", device=str(path)
        )
    except UnicodeDecodeError as trouble:
        return UNREADABLE.report(
            f"{path} is not UTF-8 text (byte {trouble.start})",
            help="save the program as UTF-8 text",
            device=str(path),
        )


def _examine(path: Path, text: str, options: Options) -> Verdict:
    raise NotImplementedError
