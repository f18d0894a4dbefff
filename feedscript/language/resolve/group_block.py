"""The block of the group: who is on court, and who is kept together or apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from feedscript.court.landmarks import End
from feedscript.diagnostics import Span
from feedscript.language import program as p
from feedscript.language.parse import tree as t
from feedscript.language.parse.token import Token
from feedscript.language.resolve import properties
from feedscript.language.resolve.declarations import LEVELS, STAGES, Declarations, Lines
from feedscript.language.resolve.properties import choice, gather, spans_of, text_of
from feedscript.language.resolve.value_pages import OUT_OF_RANGE
from feedscript.tongues.tongue import Tongues

#: Lines that may come more than once.
_SEVERAL = frozenset({"players", "left-handed", "keep", "subgroup"})


def read_group(declared: Declarations, block: t.Declaration) -> p.GroupDecl:
    """``group { … }``."""
    lines = gather(declared.scope, block.properties, _SEVERAL)
    players, names = _players(declared, lines)
    own, own_left = _own(declared, lines)
    left, left_names = _left_handed(declared, lines, players, names, own_left)
    return p.GroupDecl(
        players=players,
        names=names,
        left_handed=left,
        left_handed_names=left_names,
        stage=declared.word(lines, "stage", STAGES, "stage"),
        level=declared.word(lines, "level", LEVELS, "level"),
        ages=_ages(declared, lines),
        receiver_m=declared.point(lines, "receiver", End.RECEIVER),
        keep_together=_kept(declared, lines, "together", names),
        keep_apart=_kept(declared, lines, "apart", names),
        own=own,
        subgroups=_subgroups(declared, lines, names),
        span=declared.scope.span(block),
        spans=spans_of(declared.scope, lines) | _spans_of_subgroups(declared, lines),
    )


def _players(declared: Declarations, lines: Lines) -> tuple[int, tuple[str, ...]]:
    count: int | None = None
    said: dict[bool, t.Property] = {}
    texts: list[t.Text] = []
    for line in lines.get("players", ()):
        counted = isinstance(line.parts[0], t.Number)
        if not isinstance(line, t.PlayerLine):
            _again(declared, said.setdefault(counted, line), line)
        if counted:
            number = line.parts[0]
            value = declared.evaluator.number(number)
            count = declared.evaluator.whole_of(number, value, 1, 64, "a number of players")
        else:
            texts += line.parts
    names = _names(declared, texts)
    if names and count is not None and count != len(names):
        line = lines["players"][-1]
        message = f"{count} players and {len(names)} names do not agree"
        declared.scope.report(OUT_OF_RANGE, line, message, "leave the number out, or name everyone")
    return (len(names) if names else count or 1), names


def _again(declared: Declarations, first: t.Property, line: t.Property) -> None:
    if first is not line:
        properties.once(declared.scope, line, declared.scope.span(first), f"`{line.word}`")


def _names(declared: Declarations, texts: Sequence[t.Text]) -> tuple[str, ...]:
    names: dict[str, t.Text] = {}
    for text in texts:
        name = text_of(text).strip()
        if name in names:
            properties.once(declared.scope, text, declared.scope.span(names[name]), f'"{name}"')
        names.setdefault(name, text)
    return tuple(names)


def _left_handed(
    declared: Declarations,
    lines: Lines,
    players: int,
    names: tuple[str, ...],
    own: Mapping[str, t.Property],
) -> tuple[int, tuple[str, ...]]:
    """How many are left-handed, and who; ``own``: those of whom their own block says so."""
    found = lines.get("left-handed", [])
    for line in found[1:]:
        _again(declared, found[0], line)
    for line in found[:1]:
        if isinstance(line.parts[0], t.Text):
            said = tuple(_known_player(declared, text, names) for text in line.parts)
            for name in set(said) & set(own):
                first = declared.scope.span(line)
                properties.once(declared.scope, own[name], first, f'the hand of "{name}"')
            everyone = tuple(dict.fromkeys((*said, *own)))
            return len(everyone), everyone
        for again in own.values():
            _again(declared, line, again)
        what = "the number of left-handers"
        return declared.evaluator.whole(line.parts[0], 0, players, what) or 0, ()
    return len(own), tuple(own)


def _own(
    declared: Declarations, lines: Lines
) -> tuple[tuple[p.PlayerDecl, ...], dict[str, t.Property]]:
    """What is said of single players, and the line of each who is left-handed."""
    found, left = [], {}
    for line in lines.get("players", ()):
        if not isinstance(line, t.PlayerLine) or not line.properties:
            continue
        name = text_of(line.parts[0]).strip()
        own = gather(declared.scope, line.properties)
        if own.get("left-handed"):
            left[name] = own["left-handed"][0]
        found.append(
            p.PlayerDecl(
                name=name,
                stage=declared.word(own, "stage", STAGES, "stage"),
                level=declared.word(own, "level", LEVELS, "level"),
                receiver_m=declared.point(own, "receiver", End.RECEIVER),
                language=declared.word(own, "speaks", Tongues().languages, "language"),
            )
        )
    return tuple(found), left


def _known_player(declared: Declarations, text: t.Text, names: tuple[str, ...]) -> str:
    name = text_of(text).strip()
    if name not in names:
        token = Token("NAME", name, start_pos=text.start, end_pos=text.end)
        choice(declared.scope, token, names or ("a name after `players`",), "player of this group")
    return name


def _ages(declared: Declarations, lines: Lines) -> tuple[int, int] | None:
    if not lines.get("age"):
        return None
    values = [x for x in lines["age"][0].parts if not isinstance(x, Token)]
    ages = [declared.evaluator.whole(value, 3, 110, "an age") for value in values]
    if None in ages:
        return None
    known = sorted(age for age in ages if age is not None)
    return known[0], known[-1]


def _kept(
    declared: Declarations, lines: Lines, how: str, names: tuple[str, ...]
) -> tuple[tuple[str, ...], ...]:
    kept = []
    for line in lines.get("keep", ()):
        if str(line.parts[0]).lower() == how:
            kept.append(tuple(_known_player(declared, text, names) for text in line.parts[1:]))
    return tuple(kept)


def _subgroups(
    declared: Declarations, lines: Lines, names: tuple[str, ...]
) -> dict[str, tuple[str, ...]]:
    """Names for parts of the group, each with its players in the order of the group."""
    found: dict[str, tuple[str, ...]] = {}
    taken: dict[str, t.SyntaxNode] = {}
    for line in lines.get("subgroup", ()):
        called, *members = line.parts
        name = text_of(called).strip()
        if name in names:
            message = f'"{name}" is a player, and cannot be a subgroup too'
            declared.scope.report(OUT_OF_RANGE, called, message, "give the subgroup another name")
        if name in taken:
            properties.once(declared.scope, called, declared.scope.span(taken[name]), f'"{name}"')
        taken.setdefault(name, called)
        said = {_known_player(declared, text, names) for text in members}
        found.setdefault(name, tuple(player for player in names if player in said))
    return found


def _spans_of_subgroups(declared: Declarations, lines: Lines) -> dict[str, Span]:
    return {
        f"subgroup {text_of(line.parts[0]).strip()}": declared.scope.span(line)
        for line in lines.get("subgroup", ())
    }
