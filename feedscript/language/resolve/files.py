"""The files of a program: its own text and what it uses, each read once."""

from __future__ import annotations

import re
from pathlib import PurePosixPath

import msgspec

from feedscript.club_library import Pin
from feedscript.diagnostics import Page, Span
from feedscript.language.examples import program
from feedscript.language.parse import tree as t
from feedscript.language.parse.source import Source
from feedscript.language.parse.token import Token
from feedscript.language.resolve.findings import Findings
from feedscript.language.resolve.loading import Load, NotLoaded
from feedscript.language.resolve.properties import once, text_of
from feedscript.language.resolve.scope import Scope
from feedscript.language.resolve.values import MOST_LAYERS
from feedscript.language.syntax import parse
from feedscript.language.syntax_errors.hidden import hidden_in
from feedscript.memo import Memo

NO_VERSION = Page(
    slug="no-version",
    title="A program that does not say its version",
    why="""The first line says which version of the language a program is written in: `feedscript
1`. A later version may give a word another meaning; the line keeps old programs safe.""",
    wrong=program(
        head='title "One feed"\ncourt { surface hard }\nballs { type 2 }\n'
        "launcher { stands 1 m behind centre mark }"
    ),
    corrected=program(
        head='feedscript 1\ntitle "One feed"\ncourt { surface hard }\nballs { type 2 }\n'
        "launcher { stands 1 m behind centre mark }"
    ),
)

UNKNOWN_VERSION = Page(
    slug="unknown-version",
    title="A version that this feedscript does not know",
    why="""This feedscript reads version 1 of the language. A program of a later version may use
words that mean something else here.""",
    wrong=program(
        head='feedscript 2\ntitle "One feed"\ncourt { surface hard }\nballs { type 2 }\n'
        "launcher { stands 1 m behind centre mark }"
    ),
    corrected=program(
        head='feedscript 1\ntitle "One feed"\ncourt { surface hard }\nballs { type 2 }\n'
        "launcher { stands 1 m behind centre mark }"
    ),
)

CANNOT_USE = Page(
    slug="cannot-use",
    title="A file that cannot be used",
    why="""`use "file.feed"` brings the feeds, values and patterns of another file, which are then
named `file.name`. The file lies in the program's folder or below it, in your own library
(`use "my/file"`), in your club's (`use "club/file"`, as approved there last and signed), or in the
library that comes with feedscript; nothing outside is read. Its lesson and its declarations stay
behind.""",
    wrong=program(more='use "no_such_file.feed"'),
    corrected=program(),
)

USE_CIRCLE = Page(
    slug="use-circle",
    title="Files that use each other in a circle",
    why="""A file that uses itself, directly or through others, has no beginning. The circle is
shown and refused.""",
    wrong=program(more='use "one-feed.feed" as itself'),
    corrected=program(),
)

#: The most files of one program.
MOST_FILES = 50


class Files(msgspec.Struct):
    """Every file of a program, those that are used before those that use them."""

    load: Load
    findings: Findings
    memo: Memo = msgspec.field(default_factory=Memo)
    scopes: list[Scope] = []
    from_club: set[Pin] = set()
    _known: dict[str, Scope] = {}
    _open: dict[str, None] = {}

    def read(self, name: str, text: str, prefix: str = "") -> Scope:
        """Read a file and all that it uses."""
        source = Source(name, text)
        parsed = parse(source, self.memo)
        damage = parsed.damage.copied()
        scope = Scope(source, parsed.tree, parsed.tokens, damage, self.findings, prefix)
        self._known[name] = scope
        self._open[name] = None
        hidden = tuple(hidden_in(source))
        places = {found.span for found in hidden}  # one report each: the one that knows the cause
        self.findings.add(*hidden, *(one for one in parsed.diagnostics if one.span not in places))
        self._check_header(scope)
        scope.define_all()
        for use in scope.items(t.Use):
            self._use(scope, use)
        del self._open[name]
        self.scopes.append(scope)
        return scope

    def _check_header(self, scope: Scope) -> None:
        header = scope.tree.items[0] if scope.tree.items else None
        if isinstance(header, t.Header):
            if str(header.version) != "1":
                message = f"version {header.version} of the language is not known here"
                scope.report(UNKNOWN_VERSION, header.version, message, "write `feedscript 1`")
        elif not scope.damage.touches(0, header.start if header is not None else 0):
            start = header.start if isinstance(header, t.SyntaxNode) else 0
            word = re.match(r"\S*", scope.source.text[start:])
            span = scope.source.span(start, start + len(word[0] if word else ""))
            message = "the program does not say which version of the language it is written in"
            scope.report(NO_VERSION, span, message, "make `feedscript 1` its first line")

    def _use(self, scope: Scope, use: t.Use) -> None:
        path = text_of(use.path)
        name = self._name(scope, use, path)
        if name is None:
            return
        if name in scope.files:
            once(scope, use, self._first(scope, name), f"the name `{name}`")
            return
        found = self.load(scope.source.name, path)
        if isinstance(found, NotLoaded):
            message = f'"{path}" cannot be used: {found.reason}'
            help_text = 'write the path from the program\'s folder, such as `use "volleys.feed"`'
            scope.report(CANNOT_USE, use.path, message, help_text)
            scope.damage.words.add(name)
            return
        if found.source in self._open:
            circle = [*list(self._open)[list(self._open).index(found.source) :], found.source]
            shown = " -> ".join(PurePosixPath(part).name for part in circle)
            message = f"files use each other in a circle: {shown}"
            scope.report(USE_CIRCLE, use.path, message, "take one `use` out of the circle")
            scope.damage.words.add(name)
            return
        if found.pin is not None:
            self.from_club.add(found.pin)
        known = self._known.get(found.source)
        if known is None:
            if len(self._known) >= MOST_FILES or len(self._open) >= MOST_LAYERS:
                message = f"a program may use {MOST_FILES} files, {MOST_LAYERS} deep"
                scope.report(CANNOT_USE, use.path, message, "put some of them together")
                scope.damage.words.add(name)
                return
            known = self.read(found.source, found.text, f"{scope.prefix}{name}.")
        scope.files[name] = known

    def _name(self, scope: Scope, use: t.Use, path: str) -> str | None:
        if use.name is not None:
            return str(use.name)
        stem = PurePosixPath(path.replace("\\", "/")).stem
        if re.fullmatch(r"[^\W\d]\w*(?:-[^\W\d]\w*)*", stem):
            return stem
        message = f'"{path}" does not end in a name that can be used'
        scope.report(CANNOT_USE, use.path, message, f'write `use "{path}" as …`')
        return None

    def _first(self, scope: Scope, name: str) -> Span:
        for use in scope.items(t.Use):
            stem = PurePosixPath(text_of(use.path)).stem
            if name == (str(use.name) if isinstance(use.name, Token) else stem):
                return scope.span(use)
        return scope.span(scope.tree)
