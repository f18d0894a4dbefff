"""LLVM's intermediate text as clang writes it without optimising, read into instructions.

Only what such text holds for the core's C is known; anything else stops the reading, so that
nothing is ever left out in silence. Pointers are ``ptr``, with or without a type behind them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

POINTER: Final = "ptr"
POINTER_BYTES: Final = 2

_TYPE: Final = re.compile(r"void|ptr|i\d+|%[\w.]+|\[\d+ x ")
_ATTRIBUTES: Final = re.compile(
    r"(?:noundef|zeroext|signext|nonnull|nocapture|noalias|dso_local|internal|inbounds|nuw|nsw|exact"
    r"|volatile|private|unnamed_addr|local_unnamed_addr|fastcc|tail|writeonly|readonly|immarg"
    r"|dereferenceable\(\d+\)|sret\([^()]*\)|byval\([^()]*\)|align \d+|addrspace\(\d+\))(?= |$|,)"
)


class UnknownTextError(Exception):
    """The text holds something that this reader does not know."""


@dataclass(frozen=True, slots=True)
class Local:
    """A value that an instruction of the same function made."""

    name: str


@dataclass(frozen=True, slots=True)
class Global:
    """The address of a variable or function."""

    name: str


@dataclass(frozen=True, slots=True)
class Constant:
    """A number; undefined and zero ones too."""

    value: int | None  # None: undefined


@dataclass(frozen=True, slots=True)
class Element:
    """An address within an object: the type that is stepped through, a base, and typed indices."""

    type: str
    base: Operand
    indices: tuple[tuple[str, Operand], ...]


Operand = Local | Global | Constant | Element


@dataclass(frozen=True, slots=True)
class Instruction:
    """One line. ``operands`` are typed; what else the line says stands in ``words``."""

    op: str
    result: str | None
    type: str
    operands: tuple[tuple[str, Operand], ...]
    words: tuple[str, ...] = ()


@dataclass(slots=True)
class Function:
    """Blocks in the order of the text; the names of the parameters with their types."""

    parameters: tuple[tuple[str, str], ...]
    blocks: dict[str, list[Instruction]] = field(default_factory=dict)


@dataclass(slots=True)
class Module:
    """Types, variables with their sizes' types, and functions."""

    structs: dict[str, tuple[str, ...]] = field(default_factory=dict)
    variables: dict[str, str] = field(default_factory=dict)
    constants: dict[str, str] = field(
        default_factory=dict
    )  # of those, the text of what is constant
    functions: dict[str, Function] = field(default_factory=dict)

    def size(self, kind: str) -> int:
        """Bytes of a type on the AVR, which pads nothing."""
        if kind == POINTER:
            return POINTER_BYTES
        if kind.startswith("i"):
            return max(1, int(kind[1:]) // 8)
        if kind.startswith("["):
            count, element = array(kind)
            return count * self.size(element)
        return sum(self.size(part) for part in self.structs[kind])

    def offset(self, struct: str, index: int) -> int:
        """Bytes before a field."""
        return sum(self.size(part) for part in self.structs[struct][:index])


def array(kind: str) -> tuple[int, str]:
    """The count and the element's type of an array's type."""
    count, _, element = kind[1:-1].partition(" x ")
    return int(count), element


class Cursor:
    """Reads one line from left to right."""

    def __init__(self, text: str) -> None:
        self.text = text.strip()
        self.at = 0

    def rest(self) -> str:
        return self.text[self.at :]

    def skip(self) -> None:
        """Over blanks and words that mean nothing here."""
        while True:
            while self.rest().startswith(" "):
                self.at += 1
            found = _ATTRIBUTES.match(self.text, self.at)
            if found is None:
                return
            self.at = found.end()

    def take(self, text: str) -> bool:
        self.skip()
        if not self.rest().startswith(text):
            return False
        self.at += len(text)
        return True

    def need(self, text: str) -> None:
        if not self.take(text):
            raise UnknownTextError(f"{text!r} is missing: {self.text}")

    def match(self, pattern: str) -> str:
        self.skip()
        found = re.compile(pattern).match(self.text, self.at)
        if found is None:
            raise UnknownTextError(f"{pattern!r} is missing: {self.text}")
        self.at = found.end()
        return found[0]

    def type(self) -> str:
        self.skip()
        found = _TYPE.match(self.text, self.at)
        if found is None:
            raise UnknownTextError(f"no type: {self.text}")
        self.at = found.end()
        kind = found[0]
        if kind.startswith("["):
            kind += self.type() + "]"
            self.need("]")
        while True:
            self.skip()
            if not self.rest().startswith("*"):
                return kind
            self.at += 1
            kind = POINTER

    def operand(self) -> Operand:
        self.skip()
        if self.take("getelementptr"):
            return self.element()
        if self.take("bitcast") or self.take("addrspacecast"):
            self.need("(")
            self.type()
            inner = self.operand()
            self.need("to")
            self.type()
            self.need(")")
            return inner
        word = self.match(r"[%@][\w.$-]+|-?\d+|true|false|null|undef|poison|zeroinitializer")
        if word[0] == "%":
            return Local(word)
        if word[0] == "@":
            return Global(word)
        if word in ("undef", "poison"):
            return Constant(None)
        names = {"true": 1, "false": 0, "null": 0, "zeroinitializer": 0}
        return Constant(names[word] if word in names else int(word))

    def typed(self) -> tuple[str, Operand]:
        kind = self.type()
        return kind, self.operand()

    def element(self) -> Element:
        bracket = self.take("(")
        kind = self.type()
        self.need(",")
        _, base = self.typed()
        indices = []
        while self.take(","):
            indices.append(self.typed())
        if bracket:
            self.need(")")
        return Element(kind, base, tuple(indices))


def read(text: str) -> Module:
    """Read a whole file."""
    module = Module()
    lines = iter(text.splitlines())
    for line in lines:
        if line.startswith("%"):
            name, _, fields = line.partition(" = type ")
            module.structs[name] = _fields(fields)
        elif line.startswith("@"):
            _read_variable(module, line)
        elif line.startswith("define"):
            _read_function(module, line, lines)
    return module


def _fields(text: str) -> tuple[str, ...]:
    if text.strip() == "{}":
        return ()
    cursor = Cursor(text.strip().removeprefix("{").removesuffix("}"))
    found = [cursor.type()]
    while cursor.take(","):
        found.append(cursor.type())
    return tuple(found)


def _read_variable(module: Module, line: str) -> None:
    name, _, rest = line.partition(" = ")
    cursor = Cursor(rest)
    word = cursor.match("global|constant|external")
    if word == "external":
        raise UnknownTextError(f"a variable of elsewhere: {line}")
    module.variables[name] = cursor.type()
    if word == "constant":
        module.constants[name] = cursor.rest()


def _read_function(module: Module, head: str, lines: Iterator[str]) -> None:
    cursor = Cursor(head.removeprefix("define"))
    cursor.type()
    name = cursor.match(r"@[\w.]+")
    cursor.need("(")
    parameters = []
    while not cursor.take(")"):
        kind = cursor.type()
        parameters.append((kind, cursor.match(r"%[\w.]+")))
        cursor.take(",")
    function = module.functions[name] = Function(tuple(parameters))
    label = "entry"
    for line in lines:
        if line == "}":
            return
        text = re.sub(r" ;.*|, !.*|, align \d+|(?<=[)\w]) #\d+$", "", line).rstrip()
        if found := re.match(r"([\w.]+):", text):
            label = found[1]
        elif text.strip():
            while text.strip().startswith("switch") and not text.endswith("]"):
                text += " " + next(lines).strip()
            function.blocks.setdefault(label, []).append(_instruction(text))


def _instruction(text: str) -> Instruction:
    cursor = Cursor(text)
    result = None
    if re.match(r"%[\w.]+ = ", cursor.rest()):
        result = cursor.match(r"%[\w.]+")
        cursor.need("=")
    op = cursor.match(r"[a-z]+")
    reader = _READERS.get(op)
    if reader is None:
        raise UnknownTextError(f"{op} is not known: {text}")
    kind, operands, words = reader(cursor)
    cursor.skip()
    if cursor.rest().strip(", "):
        raise UnknownTextError(f"{cursor.rest()!r} was not read: {text}")
    return Instruction(op, result, kind, tuple(operands), tuple(words))


_Read = tuple[str, list[tuple[str, Operand]], list[str]]


def _two(cursor: Cursor) -> _Read:
    kind, first = cursor.typed()
    cursor.need(",")
    return kind, [(kind, first), (kind, cursor.operand())], []


def _compare(cursor: Cursor) -> _Read:
    word = cursor.match("[a-z]+")
    kind, operands, _ = _two(cursor)
    return kind, operands, [word]


def _cast(cursor: Cursor) -> _Read:
    first = cursor.typed()
    cursor.need("to")
    return cursor.type(), [first], []


def _alloca(cursor: Cursor) -> _Read:
    return cursor.type(), [], []


def _load(cursor: Cursor) -> _Read:
    kind = cursor.type()
    cursor.need(",")
    return kind, [cursor.typed()], []


def _store(cursor: Cursor) -> _Read:
    what = cursor.typed()
    cursor.need(",")
    return what[0], [what, cursor.typed()], []


def _address(cursor: Cursor) -> _Read:
    return POINTER, [(POINTER, cursor.element())], []


def _extract(cursor: Cursor) -> _Read:
    kind, value = cursor.typed()
    cursor.need(",")
    return kind, [(kind, value)], [cursor.match(r"\d+")]


def _insert(cursor: Cursor) -> _Read:
    kind, value = cursor.typed()
    cursor.need(",")
    part = cursor.typed()
    cursor.need(",")
    return kind, [(kind, value), part], [cursor.match(r"\d+")]


def _select(cursor: Cursor) -> _Read:
    first = cursor.typed()
    cursor.need(",")
    second = cursor.typed()
    cursor.need(",")
    return second[0], [first, second, cursor.typed()], []


def _phi(cursor: Cursor) -> _Read:
    kind = cursor.type()
    operands, words = [], []
    while cursor.take("["):
        operands.append((kind, cursor.operand()))
        cursor.need(",")
        words.append(cursor.match(r"%[\w.]+")[1:])
        cursor.need("]")
        cursor.take(",")
    return kind, operands, words


def _call(cursor: Cursor) -> _Read:
    kind = cursor.type()
    name = cursor.match(r"@[\w.]+")
    cursor.need("(")
    operands = []
    while not cursor.take(")"):
        operands.append(cursor.typed())
        cursor.take(",")
    return kind, operands, [name]


def _branch(cursor: Cursor) -> _Read:
    operands = [] if cursor.rest().strip().startswith("label") else [cursor.typed()]
    words = []
    while cursor.take(",") or not words:
        cursor.need("label")
        words.append(cursor.match(r"%[\w.]+")[1:])
    return "void", operands, words


def _switch(cursor: Cursor) -> _Read:
    operands = [cursor.typed()]
    cursor.need(",")
    cursor.need("label")
    words = [cursor.match(r"%[\w.]+")[1:]]
    cursor.need("[")
    while not cursor.take("]"):
        operands.append(cursor.typed())
        cursor.need(",")
        cursor.need("label")
        words.append(cursor.match(r"%[\w.]+")[1:])
    return "void", operands, words


def _return(cursor: Cursor) -> _Read:
    if cursor.take("void"):
        return "void", [], []
    operand = cursor.typed()
    return operand[0], [operand], []


_READERS: Final = {
    **dict.fromkeys(["add", "sub", "mul", "and", "or", "xor", "shl", "lshr", "ashr"], _two),
    **dict.fromkeys(["udiv", "urem", "sdiv", "srem"], _two),
    **dict.fromkeys(["zext", "sext", "trunc", "bitcast", "addrspacecast"], _cast),
    "icmp": _compare, "alloca": _alloca, "load": _load, "store": _store, "getelementptr": _address,
    "extractvalue": _extract, "insertvalue": _insert, "select": _select, "phi": _phi, "call": _call,
    "br": _branch, "switch": _switch, "ret": _return,
}  # fmt: skip
