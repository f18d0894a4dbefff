"""Does the translator read the code as a compiler does?

Random memories and inputs go through a native build of the harness by gcc and through the
translator's formulas; every byte of every variable and every claim must come out alike.
"""

from __future__ import annotations

import ctypes
import random
import subprocess
from pathlib import Path
from typing import Any, Final

import z3

from tests.firmware.proof.ir import Module
from tests.firmware.proof.machine import Machine
from tests.firmware.proof.prove import FIRMWARE, HARNESSES, guard

HARNESS: Final = HARNESSES[0]  # the other one asks for inputs on ways of its own, in no one order
_INPUTS: Final = 64
#: What is not a flag among the single bytes, by its name in C: the most it may be.
_MOST: Final = {
    "f.mode": 2, "f.trips": 63, "f.switch_ms": 19, "gate.release": 3, "gate.ball_count": 4,
    "gate.counted": 255, "gate.quiet_ms": 100, "gate.eyes[0].passed": 255,
}  # fmt: skip
_INDEXED: Final = ("@prove_drive", "@prove_servo")  # their first input is an index
_ODD: Final = (0, 1, 2, 3, 20, 24, 255, 700, 2**31)

_SHIM: Final = """
#include "{harness}"
uint32_t script[{inputs}]; uint32_t turn, broken;
uint8_t any_u8(void) {{ return (uint8_t)script[turn++]; }}
uint16_t any_u16(void) {{ return (uint16_t)script[turn++]; }}
uint32_t any_u32(void) {{ return script[turn++]; }}
void suppose(bool holds) {{ (void)holds; }}
void reach(void) {{}}
void claim_at(bool holds, uint16_t line) {{ if (!holds) {{ broken = broken * 31u + line; }} }}
"""


class Native:
    """A harness as gcc compiles it for this machine, packed as on the AVR."""

    def __init__(self, module: Module, folder: Path) -> None:
        names = [name[1:] for name in module.variables if name not in module.constants]
        text = _SHIM.format(harness=HARNESS, inputs=_INPUTS)
        text += "".join(f"void *at_{n}(void) {{ return (void *)&{n}; }}\n" for n in names)
        text += "".join(f"unsigned size_{n}(void) {{ return sizeof {n}; }}\n" for n in names)
        for number, place in enumerate(_MOST):
            whole = place.partition(".")[0]
            text += f"unsigned place_{number}(void)"
            text += f"{{ return (char *)&{place} - (char *)&{whole}; }}\n"
        (folder / "shim.c").write_text(text)
        subprocess.run(
            ["gcc", "-O1", "-w", "-shared", "-fPIC", "-fpack-struct=1", "-fshort-enums",
             f"-I{FIRMWARE / 'core'}", f"-I{FIRMWARE / 'proof'}", folder / "shim.c",
             "-o", folder / "shim.so"],
            check=True,
        )  # fmt: skip
        self.library = ctypes.CDLL(str(folder / "shim.so"))
        self.at: dict[str, Any] = {}
        for name in names:
            size = module.size(module.variables["@" + name])
            assert getattr(self.library, f"size_{name}")() == size, name
            where = getattr(self.library, f"at_{name}")
            where.restype = ctypes.c_void_p
            self.at["@" + name] = (where(), size)

        #: The most that a single byte may be, by its variable and its place there.
        self.most = {
            ("@" + place.partition(".")[0], getattr(self.library, f"place_{number}")()): most
            for number, (place, most) in enumerate(_MOST.items())
        }

    def run(self, function: str, memory: dict[str, bytes], script: list[int]) -> tuple[Any, bool]:
        """Memory afterwards, and whether a claim was broken."""
        for name, (at, _) in self.at.items():
            ctypes.memmove(at, memory[name], len(memory[name]))
        inputs = (ctypes.c_uint32 * _INPUTS).in_dll(self.library, "script")
        inputs[:] = script
        for word in ("turn", "broken"):
            ctypes.c_uint32.in_dll(self.library, word).value = 0
        getattr(self.library, function)()
        after = {name: ctypes.string_at(at, size) for name, (at, size) in self.at.items()}
        return after, ctypes.c_uint32.in_dll(self.library, "broken").value != 0


def compare(module: Module, native: Native, function: str, runs: int, seed: int) -> int:
    """The number of bytes compared. Raises AssertionError at the first that differs.

    Flags are drawn as 0 or 1 and enumerations within their range: what else they may hold in the
    proof, no compiler ever puts there.
    """
    draw = random.Random(seed)
    machine = Machine(module, guard(HARNESS))
    end, _ = machine.run(function, [], machine.start(), function[1:])
    compared = 0
    for _ in range(runs):
        memory = {name: _draw(module, native, name, draw) for name in native.at}
        script = [draw.choice((*_ODD, draw.randrange(2**32))) for _ in range(_INPUTS)]
        if function in _INDEXED:
            script[0] &= 1
        after, broken = native.run(function[1:], memory, script)
        known = [
            (z3.BitVec(f"{name}[{i}]", 8), z3.BitVecVal(byte, 8))
            for name, data in memory.items() for i, byte in enumerate(data)
        ]  # fmt: skip
        known += [
            (z3.BitVec(name, width), z3.BitVecVal(script[i] % 2**width, width))
            for i, (name, width) in enumerate(machine.inputs)
        ]
        for name, data in after.items():
            mine = [z3.simplify(z3.substitute(cell, *known)) for cell in end.memory[name]]
            assert [cell.as_long() for cell in mine] == list(data), (function, name)
            compared += len(data)
        fell = any(z3.is_true(z3.simplify(z3.substitute(o.broken, *known)))
                   for o in machine.obligations if "harness" in o.where)  # fmt: skip
        assert fell == broken, function
    return compared


def _draw(module: Module, native: Native, name: str, draw: random.Random) -> bytes:
    """Small values for the most part, so that states occur which the code tells apart."""
    data = b""
    for kind in _leaves(module, module.variables[name]):
        size = module.size(kind)
        most = native.most.get((name, len(data)), 1) if size == 1 else 2 ** (8 * size) - 1
        data += draw.choice((0, 1, draw.randint(0, most))).to_bytes(size, "little")
    return data


def _leaves(module: Module, kind: str) -> list[str]:
    if kind.startswith("["):
        count, _, element = kind[1:-1].partition(" x ")
        return _leaves(module, element) * int(count)
    if kind.startswith("%"):
        return [leaf for part in module.structs[kind] for leaf in _leaves(module, part)]
    return [kind]
