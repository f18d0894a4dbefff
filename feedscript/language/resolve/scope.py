"""One file's definitions, and what its names stand for."""

from __future__ import annotations

from typing import Any, TypeAlias, TypeVar

import msgspec

from feedscript.diagnostics import Page, Related, Span
from feedscript.language.examples import program
from feedscript.language.parse import tree as t
from feedscript.language.parse.source import Source
from feedscript.language.parse.token import Token
from feedscript.language.resolve.findings import Findings
from feedscript.language.syntax_errors.damage import Damage
from feedscript.language.syntax_errors.pages import BAD_NAME
from feedscript.language.words import is_place_word
from feedscript.nearest import nearest

NAME_TAKEN = Page(
    slug="name-taken",
    title="A name given twice",
    why="""Feeds, patterns, values and launchers share one set of names in a file, so that a name
means one thing wherever it stands. The second definition is refused and the first is shown.""",
    wrong=program(more="let deep = 4 s"),
    corrected=program(more="let gap = 4 s", steps="show speed of deep send deep after gap"),
)

UNKNOWN_NAME = Page(
    slug="unknown-name",
    title="A name that nothing defines",
    why="""A name stands for a `let`, a feed, a pattern, a parameter, a launcher, or something of a
file that the program uses (`file.name`). Order does not matter: a definition may follow its use.
Capital and small letters are different in names.""",
    wrong=program(steps="show speed of deep   send depe after 4 s"),
    corrected=program(steps="show speed of deep   send deep after 4 s"),
)

WRONG_KIND = Page(
    slug="wrong-kind",
    title="A name of another kind",
    why="""The name is defined, but as something else: a feed cannot stand where a value belongs, a
pattern cannot be sent, a value cannot be called.""",
    wrong=program(
        more="pattern pair() { send deep after 4 s }",
        steps="show speed of deep send pair after 4 s",
    ),
    corrected=program(
        more="pattern pair() { send deep after 4 s }", steps="show speed of deep   pair()"
    ),
)

Definition: TypeAlias = t.Let | t.Feed | t.Progression | t.Pattern | t.Declaration

K = TypeVar("K", bound=t.SyntaxNode)
D = TypeVar("D", t.Let, t.Feed, t.Progression, t.Pattern, t.Declaration)

_KIND_WORDS: dict[type, str] = {
    t.Let: "value",
    t.Feed: "feed",
    t.Progression: "progression",
    t.Pattern: "pattern",
    t.Declaration: "launcher",
}


def named(token: Token) -> t.Name:
    """The name that a token stands for, where the token stands."""
    return t.Name(token.start_pos, token.end_pos, str(token))


class Scope(msgspec.Struct):
    """A file that was read: its text, its tree and its names."""

    source: Source
    tree: t.Tree
    tokens: list[Token]  # those of the tree, in order
    damage: Damage
    findings: Findings
    prefix: str = ""  # what the main program says before this file's names
    names: dict[str, Definition] = {}
    files: dict[str, Scope] = {}

    def span(self, node: t.SyntaxNode | Token) -> Span:
        """Where a node stands."""
        if isinstance(node, Token):
            return self.source.span(node.start_pos, node.end_pos)
        return self.source.span(node.start, node.end)

    def written(self, node: t.SyntaxNode) -> str:
        """A node as it stands in the text, on one line."""
        return " ".join(self.source.text[node.start : node.end].split())

    def report(
        self,
        page: Page,
        node: t.SyntaxNode | Token | Span,
        message: str,
        help: str = "",
        related: tuple[Related, ...] = (),
    ) -> None:
        """Report something about a node of this file."""
        span = node if isinstance(node, Span) else self.span(node)
        self.findings.report(page, span, message, help, related)

    def items(self, kind: type[K]) -> list[K]:
        """The items of one kind, in order."""
        return [item for item in self.tree.items if type(item) is kind]

    def defined(self, kind: type[D]) -> dict[str, D]:
        """The definitions of one kind by their names, in order, without second ones."""
        return {text: item for text, item in self.names.items() if isinstance(item, kind)}

    def damaged(self, node: t.SyntaxNode) -> bool:
        """Whether part of a node could not be read, so that nothing in it counts as missing."""
        return self.damage.touches(node.start, node.end)

    def define_all(self) -> None:
        """Enter every definition; a name given twice keeps its first meaning."""
        for item in self.tree.items:
            launcher = isinstance(item, t.Declaration) and isinstance(item.name, Token)
            if launcher or isinstance(item, t.Let | t.Feed | t.Progression | t.Pattern):
                self._define(item.name, item)

    def _define(self, name: Token, item: Definition) -> None:
        self.check_name(name)
        first = self.names.setdefault(str(name), item)
        if first is not item:
            at = self.span(first.name)
            self.report(
                NAME_TAKEN,
                name,
                f"`{name}` is already the name of a {kind_word(first)}",
                "choose another name for one of them",
                (Related(at, "first defined here"),),
            )

    def check_name(self, name: Token) -> None:
        """Report a name that would be read as something else where it stands behind a value."""
        if is_place_word(name):
            message = f"`{name}` is a word about the court and cannot be a name"
            self.report(BAD_NAME, name, message, f"choose another, such as `{name}_1`")

    def find(self, name: t.Name) -> tuple[Scope, Definition] | None:
        """What a name stands for and the file that defines it; silent when there is nothing."""
        scope: Scope | None = self
        if name.file is not None:
            scope = self.files.get(name.file)
        definition = scope.names.get(name.text) if scope is not None else None
        return None if scope is None or definition is None else (scope, definition)

    def look_up(
        self, name: t.Name, wanted: type, known: tuple[str, ...] = ()
    ) -> tuple[Scope, Any] | None:
        """Like ``find``, and reports a name that is unknown or of another kind than wanted.

        ``known`` are names that stand here beside the file's own, such as parameters.
        """
        found = self.find(name)
        what = _KIND_WORDS[wanted]
        if found is None:
            self._unknown(name, wanted, known)
            return None
        scope, definition = found
        if type(definition) is not wanted:
            self.report(
                WRONG_KIND,
                name,
                f"`{name.written}` is a {kind_word(definition)}, and a {what} belongs here",
                _kind_help(definition, name.written),
                (Related(scope.span(definition.name), "defined here"),),
            )
            return None
        return found

    def _unknown(self, name: t.Name, wanted: type, known: tuple[str, ...]) -> None:
        what = _KIND_WORDS[wanted]
        if not self.findings.first_time((id(self), what, name.written)) or self.damage.nameless:
            return  # the same misspelt name is one mistake wherever it stands
        if name.file is not None and name.file not in self.files:
            if name.file in self.damage.words or self.damage.hopeless:
                return
            near = nearest(name.file, self.files)
            help_text = f"did you mean `{near}`?" if near else f'write `use "{name.file}.feed"`'
            self.report(UNKNOWN_NAME, name, f"no file is used by the name `{name.file}`", help_text)
            return
        scope = self.files[name.file] if name.file is not None else self
        if name.text in scope.damage.words or scope.damage.hopeless:
            return  # its definition stands where nothing could be read
        of_kind = [text for text, item in scope.names.items() if type(item) is wanted]
        near = nearest(name.text, [*known, *of_kind]) or nearest(name.text, scope.names)
        related: tuple[Related, ...] = ()
        if near is not None and near in scope.names:
            related = (Related(scope.span(scope.names[near].name), f"`{near}` is defined here"),)
        meant = f"{name.file}.{near}" if name.file is not None else near
        self.report(
            UNKNOWN_NAME,
            name,
            f"no {what} has the name `{name.written}`",
            f"did you mean `{meant}`?" if near else _define_help(what, name.text),
            related,
        )


def kind_word(definition: Definition) -> str:
    """What a definition defines, as a person says it."""
    return _KIND_WORDS[type(definition)]


def _kind_help(definition: Definition, name: str) -> str:
    if isinstance(definition, t.Pattern):
        return f"a pattern is run by its name and brackets: `{name}()`"
    if isinstance(definition, t.Feed | t.Progression):
        return f"a feed is sent: `send {name} after 4 s`"
    return "name another"


def _define_help(what: str, name: str) -> str:
    return {
        "value": f"define it: `let {name} = …`",
        "feed": f"define it: `feed {name} {{ land …  speed … }}`",
        "progression": f"define it: `progression {name} {{ easy, deep }}`",
        "pattern": f"define it: `pattern {name}() {{ … }}`",
        "launcher": f"define it: `launcher {name} {{ stands … }}`",
    }[what]
