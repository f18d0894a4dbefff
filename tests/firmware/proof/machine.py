"""Runs a function of the intermediate text on unknown values: every path at once, as formulas.

Memory is bytes. Branches are joined where they meet; a loop is unwound until the solver says that
it ends. Every access must lie within its object: that is an obligation like those the harness
states. A variable that is shared with interrupts may be touched only under the lock, which is one
as well.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final, NamedTuple

import z3

from tests.firmware.proof.ir import (
    POINTER,
    POINTER_BYTES,
    Element,
    Function,
    Global,
    Instruction,
    Local,
    Module,
    Operand,
    UnknownTextError,
    array,
)

TRUE: Final = z3.BoolVal(True)
FALSE: Final = z3.BoolVal(False)
MOST_ROUNDS: Final = 2000

Formula = Any  # z3's own classes carry no types


class Pointer(NamedTuple):
    """An object and the offset into it, 16 bits."""

    object: str
    offset: Formula


class Obligation(NamedTuple):
    """What must be impossible: ``broken``, under what was supposed before it."""

    broken: Formula
    where: str
    supposed: tuple[Formula, ...]


@dataclass(slots=True)
class State:
    """One place of the program: when it is reached, and what memory and values hold there."""

    reached: Formula
    memory: dict[str, list[Any]]
    values: dict[str, Any]

    def fork(self, condition: Formula) -> State:
        reached = z3.simplify(z3.And(self.reached, condition))
        return State(reached, {k: v[:] for k, v in self.memory.items()}, dict(self.values))


def bits(value: int, width: int) -> Formula:
    return z3.BitVecVal(value, width)


def _join(condition: Formula, one: Any, other: Any) -> Any:
    if isinstance(one, Pointer) or isinstance(other, Pointer):
        if one == other:
            return one
        if not (isinstance(one, Pointer) and isinstance(other, Pointer)):
            return one if isinstance(one, Pointer) else other  # the other one was never set
        if one.object != other.object:
            raise UnknownTextError(f"a pointer to {one.object} or {other.object}")
        return Pointer(one.object, _join(condition, one.offset, other.offset))
    return one if one is other or one.eq(other) else z3.If(condition, one, other)


def merge(states: list[State]) -> State:
    """Where several ways meet."""
    out = states[0]
    for state in states[1:]:
        for name, cells in state.memory.items():
            mine = out.memory.get(name)
            out.memory[name] = (
                cells if mine is None
                else [_join(state.reached, a, b) for a, b in zip(cells, mine, strict=True)]
            )  # fmt: skip
        for name, value in state.values.items():
            mine = out.values.get(name)
            out.values[name] = value if mine is None else _join(state.reached, value, mine)
        out.reached = z3.simplify(z3.Or(out.reached, state.reached))
    return out


@dataclass(frozen=True, slots=True)
class Guard:
    """``shared`` variables are touched under ``lock`` only, but by the ``watchers``."""

    shared: frozenset[str]
    lock: str
    watchers: frozenset[str]


@dataclass
class Machine:
    """One run over one function."""

    module: Module
    guard: Guard
    obligations: list[Obligation] = field(default_factory=list)
    supposed: list[Formula] = field(default_factory=list)
    arrivals: list[Formula] = field(default_factory=list)
    inputs: list[tuple[str, int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._solver = z3.Solver()
        self._fresh = 0

    # What the outside asks

    def start(self) -> State:
        """Every variable holds anything."""
        memory = {
            name: self.cells(name) for name in self.module.variables
            if name not in self.module.constants
        }  # fmt: skip
        return State(TRUE, memory, {})

    def cells(self, name: str) -> list[Formula]:
        size = self.module.size(self.module.variables[name])
        return [z3.BitVec(f"{name}[{i}]", 8) for i in range(size)]

    def possible(self, condition: Formula) -> bool:
        if z3.is_false(condition):
            return False
        return bool(self._solver.check(*self.supposed, condition) != z3.unsat)

    def run(self, name: str, arguments: list[Any], state: State, where: str) -> tuple[State, Any]:
        """The state after a call, every way through it joined, and what it returned."""
        answer = _ANSWERS.get(name)
        if answer is not None:
            return state, answer(self, arguments, state, where)
        if name.startswith("@llvm.memcpy"):
            self._copy(arguments, state, where)
            return state, None
        if name.startswith("@llvm.memset"):
            self._fill(arguments, state, where)
            return state, None
        function = self.module.functions.get(name)
        if function is None:
            raise UnknownTextError(f"{name} has no body")
        outer, before = state.values, set(state.memory)
        names = [parameter for _, parameter in function.parameters]
        state.values = dict(zip(names, arguments, strict=True))
        ended = _Blocks(self, name, function).run(state)
        if not ended:  # every way through contradicts what was supposed
            state.reached, state.values = FALSE, outer
            return state, None
        value = ended[0][1]
        for each, other in ended[1:]:
            value = None if other is None else _join(each.reached, other, value)
        out = merge([each for each, _ in ended])
        out.values = outer
        out.memory = {k: v for k, v in out.memory.items() if k in before}
        return out, value

    # Values

    def any(self, width: int, name: str) -> Formula:
        self._fresh += 1
        return z3.BitVec(f"{name}.{self._fresh}", width)

    def width(self, kind: str) -> int:
        return int(kind[1:]) if kind[0] == "i" else 8 * self.module.size(kind)

    def value(self, kind: str, operand: Operand, state: State) -> Any:
        if isinstance(operand, Local):
            return state.values[operand.name]
        if isinstance(operand, Global):
            return Pointer(operand.name, bits(0, 16))
        if isinstance(operand, Element):
            return self.address(operand, state)
        if operand.value is None:
            return self.any(self.width(kind), "undefined")
        if kind == POINTER:
            return Pointer("null", bits(operand.value, 16))
        return bits(operand.value, self.width(kind))

    def address(self, element: Element, state: State) -> Pointer:
        name, at = self.value(POINTER, element.base, state)
        kind = element.type
        for level, (index_kind, operand) in enumerate(element.indices):
            index = self.value(index_kind, operand, state)
            if level > 0 and kind[0] == "%":
                field_at = index.as_long()
                at = at + self.module.offset(kind, field_at)
                kind = self.module.structs[kind][field_at]
                continue
            if level > 0:
                kind = array(kind)[1]
            at = z3.simplify(at + _to_16(index) * self.module.size(kind))
        return Pointer(name, z3.simplify(at))

    # Memory

    def oblige(self, broken: Formula, where: str) -> None:
        broken = z3.simplify(broken)
        self.obligations.append(Obligation(broken, where, tuple(self.supposed)))

    def touch(self, state: State, pointer: Pointer, size: int, where: str) -> range | list[int]:
        """The offsets that an access may have; that it has no other is an obligation."""
        cells = state.memory.get(pointer.object)
        if cells is None:
            raise UnknownTextError(f"{where}: an access of {pointer.object}")
        if pointer.object in self.guard.shared and where not in self.guard.watchers:
            broken = z3.And(state.reached, state.memory[self.guard.lock][0] == 0)
            self.oblige(broken, f"{where}: {pointer.object[1:]} is touched under the lock")
        room = len(cells) - size
        at = pointer.offset
        if z3.is_bv_value(at) and at.as_long() <= room:
            return [at.as_long()]
        broken = z3.And(state.reached, z3.UGT(at, room)) if room >= 0 else state.reached
        self.oblige(broken, f"{where}: the access lies within {pointer.object}")
        return [] if z3.is_bv_value(at) else range(room + 1)

    def load(self, state: State, kind: str, pointer: Pointer, where: str) -> Any:
        if pointer.object in self.module.constants:
            return self._constant(kind, pointer)
        size = self.module.size(kind)
        out: Any = None
        for at in self.touch(state, pointer, size, where):
            cells = state.memory[pointer.object][at : at + size]
            if isinstance(cells[0], Pointer):
                return cells[0]
            word = z3.Concat(*reversed(cells)) if size > 1 else cells[0]
            out = word if out is None else z3.If(pointer.offset == at, word, out)
        if out is None:  # never within: the obligation says that it does not come to this
            return self.any(self.width(kind), "nowhere")
        return z3.simplify(z3.Extract(0, 0, out) if kind == "i1" else out)

    def _constant(self, kind: str, pointer: Pointer) -> Formula:
        if self.module.constants[pointer.object].strip().startswith("zeroinitializer"):
            return bits(0, self.width(kind))
        raise UnknownTextError(f"what does {pointer.object} hold?")

    def store(self, state: State, kind: str, value: Any, pointer: Pointer, where: str) -> None:
        size = self.module.size(kind)
        places = self.touch(state, pointer, size, where)
        cells = state.memory[pointer.object]
        if isinstance(value, Pointer):
            for at in places:
                cells[at : at + POINTER_BYTES] = [value] * POINTER_BYTES
            return
        if kind == "i1":
            value = z3.ZeroExt(7, value)
        sure = z3.is_bv_value(pointer.offset)
        for at in places:
            for i in range(size):
                byte = z3.Extract(8 * i + 7, 8 * i, value)
                new = byte if sure else z3.If(pointer.offset == at, byte, cells[at + i])
                cells[at + i] = z3.simplify(new)

    def _copy(self, arguments: list[Any], state: State, where: str) -> None:
        into, source, count = arguments[:3]
        for i in range(count.as_long()):
            step = [Pointer(p.object, z3.simplify(p.offset + i)) for p in (source, into)]
            self.store(state, "i8", self.load(state, "i8", step[0], where), step[1], where)

    def _fill(self, arguments: list[Any], state: State, where: str) -> None:
        into, byte, count = arguments[:3]
        for i in range(count.as_long()):
            place = Pointer(into.object, z3.simplify(into.offset + i))
            self.store(state, "i8", byte, place, where)


def _to_16(index: Formula) -> Formula:
    width = index.size()
    return z3.SignExt(16 - width, index) if width < 16 else z3.Extract(15, 0, index)


# What the harness asks of the prover: every name begins with any_ or is one of three.


def _answer_any(width: int) -> Callable[[Machine, list[Any], State, str], Any]:
    def answer(machine: Machine, _arguments: list[Any], _state: State, _where: str) -> Any:
        value = machine.any(width, "input")
        machine.inputs.append((str(value), width))
        return value

    return answer


def _suppose(machine: Machine, arguments: list[Any], state: State, _where: str) -> None:
    machine.supposed.append(z3.simplify(z3.Implies(state.reached, arguments[0] == 1)))


def _claim(machine: Machine, arguments: list[Any], state: State, where: str) -> None:
    broken = z3.And(state.reached, arguments[0] == 0)
    machine.oblige(broken, f"line {arguments[1].as_long()} of the harness, in {where}")


def _reach(machine: Machine, _arguments: list[Any], state: State, _where: str) -> None:
    machine.arrivals.append(state.reached)


_ANSWERS: Final[dict[str, Callable[[Machine, list[Any], State, str], Any]]] = {
    "@any_u8": _answer_any(8),
    "@any_u16": _answer_any(16),
    "@any_u32": _answer_any(32),
    "@suppose": _suppose,
    "@claim_at": _claim,
    "@reach": _reach,
}


class _Blocks:
    """One call: its blocks in order, each begun when all that leads forward to it is done."""

    def __init__(self, machine: Machine, name: str, function: Function) -> None:
        self.machine, self.name, self.blocks = machine, name, function.blocks
        self.order = {label: i for i, label in enumerate(function.blocks)}
        self.waiting: dict[str, list[State]] = {}
        self.ended: list[tuple[State, Any]] = []

    def run(self, state: State) -> list[tuple[State, Any]]:
        self.waiting[next(iter(self.blocks))] = [state]
        rounds = 0
        while self.waiting:
            label = min(self.waiting, key=self.order.__getitem__)
            rounds += 1
            if rounds > MOST_ROUNDS:
                raise UnknownTextError(f"{self.name}: a loop does not end")
            self._block(label, merge(self.waiting.pop(label)))
        return self.ended

    def _block(self, label: str, state: State) -> None:
        for instruction in self.blocks[label]:
            if instruction.op in _LEAVES:
                _LEAVES[instruction.op](self, label, instruction, state)
                return
            if instruction.op == "call":
                state = self._call(instruction, state)
                if z3.is_false(state.reached):
                    return
            elif instruction.op != "phi":
                self._step(instruction, state)

    def _call(self, instruction: Instruction, state: State) -> State:
        arguments = [self.machine.value(kind, o, state) for kind, o in instruction.operands]
        (callee,) = instruction.words
        state, value = self.machine.run(callee, arguments, state, self.name[1:])
        if instruction.result is not None and value is not None:
            state.values[instruction.result] = value
        return state

    def _step(self, instruction: Instruction, state: State) -> None:
        machine = self.machine
        if instruction.op == "alloca":
            size = machine.module.size(instruction.type)
            name = f"{self.name}.{instruction.result}.{machine.any(1, 'object')}"
            state.memory[name] = [machine.any(8, "stack") for _ in range(size)]
            value: Any = Pointer(name, bits(0, 16))
        else:
            values = [machine.value(kind, o, state) for kind, o in instruction.operands]
            value = self._result(instruction, values, state)
        if instruction.result is not None:
            state.values[instruction.result] = (
                value if isinstance(value, Pointer) else z3.simplify(value)
            )

    def _result(self, instruction: Instruction, values: list[Any], state: State) -> Any:
        op, kind, machine = instruction.op, instruction.type, self.machine
        where = self.name[1:]
        if op == "load":
            return machine.load(state, kind, values[0], where)
        if op == "store":
            return machine.store(state, kind, values[0], values[1], where)
        if op in ("getelementptr", "bitcast", "addrspacecast"):
            return values[0]
        if op == "icmp":
            return z3.If(_COMPARE[instruction.words[0]](*values), bits(1, 1), bits(0, 1))
        if op == "select":
            return _join(values[0] == 1, values[1], values[2])
        if op in _RESIZE:
            return _RESIZE[op](values[0], machine.width(kind))
        if op == "extractvalue":
            low, width = self._part(kind, int(instruction.words[0]))
            part = z3.Extract(low + width - 1, low, values[0])
            return z3.Extract(0, 0, part) if self._is_flag(kind, instruction) else part
        if op == "insertvalue":
            return self._insert(kind, int(instruction.words[0]), values)
        return _ARITHMETIC[op](*values)

    def _is_flag(self, kind: str, instruction: Instruction) -> bool:
        return self.machine.module.structs[kind][int(instruction.words[0])] == "i1"

    def _part(self, kind: str, index: int) -> tuple[int, int]:
        module = self.machine.module
        return 8 * module.offset(kind, index), 8 * module.size(module.structs[kind][index])

    def _insert(self, kind: str, index: int, values: list[Any]) -> Any:
        low, width = self._part(kind, index)
        whole, part = values
        part = z3.ZeroExt(width - part.size(), part) if part.size() < width else part
        mask = bits(~(((1 << width) - 1) << low), whole.size())
        return (whole & mask) | (z3.ZeroExt(whole.size() - width, part) << low)

    # Ways out of a block

    def go(self, label: str, target: str, state: State, condition: Formula) -> None:
        way = state.fork(condition)
        if z3.is_false(way.reached):
            return
        back = self.order[target] <= self.order[label]
        if back and not self.machine.possible(way.reached):
            return
        for phi in self.blocks[target]:
            if phi.op == "phi" and phi.result is not None:
                kind, operand = phi.operands[phi.words.index(label)]
                way.values[phi.result] = self.machine.value(kind, operand, state)
        self.waiting.setdefault(target, []).append(way)


def _branch(blocks: _Blocks, label: str, instruction: Instruction, state: State) -> None:
    if not instruction.operands:
        blocks.go(label, instruction.words[0], state, TRUE)
        return
    condition = blocks.machine.value("i1", instruction.operands[0][1], state) == 1
    blocks.go(label, instruction.words[0], state, condition)
    blocks.go(label, instruction.words[1], state, z3.Not(condition))


def _switch(blocks: _Blocks, label: str, instruction: Instruction, state: State) -> None:
    value, *cases = (blocks.machine.value(kind, o, state) for kind, o in instruction.operands)
    other = []
    for case, target in zip(cases, instruction.words[1:], strict=True):
        blocks.go(label, target, state, value == case)
        other.append(value != case)
    blocks.go(label, instruction.words[0], state, z3.And(other))


def _return(blocks: _Blocks, _label: str, instruction: Instruction, state: State) -> None:
    value = None
    if instruction.operands:
        value = blocks.machine.value(*instruction.operands[0], state)
    blocks.ended.append((state, value))


_LEAVES: Final = {"br": _branch, "switch": _switch, "ret": _return}

_COMPARE: Final[dict[str, Callable[[Any, Any], Any]]] = {
    "eq": lambda a, b: a == b, "ne": lambda a, b: a != b, "ult": z3.ULT, "ule": z3.ULE,
    "ugt": z3.UGT, "uge": z3.UGE, "slt": lambda a, b: a < b, "sle": lambda a, b: a <= b,
    "sgt": lambda a, b: a > b, "sge": lambda a, b: a >= b,
}  # fmt: skip

_ARITHMETIC: Final[dict[str, Callable[[Any, Any], Any]]] = {
    "add": lambda a, b: a + b, "sub": lambda a, b: a - b, "mul": lambda a, b: a * b,
    "and": lambda a, b: a & b, "or": lambda a, b: a | b, "xor": lambda a, b: a ^ b,
    "shl": lambda a, b: a << b, "lshr": z3.LShR, "ashr": lambda a, b: a >> b,
    "udiv": z3.UDiv, "urem": z3.URem, "sdiv": lambda a, b: a / b, "srem": z3.SRem,
}  # fmt: skip

_RESIZE: Final[dict[str, Callable[[Any, int], Any]]] = {
    "zext": lambda a, width: z3.ZeroExt(width - a.size(), a),
    "sext": lambda a, width: z3.SignExt(width - a.size(), a),
    "trunc": lambda a, width: z3.Extract(width - 1, 0, a),
}
