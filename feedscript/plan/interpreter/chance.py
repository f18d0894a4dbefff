"""The one source of chance: PCG64 (XSL-RR 128/64), the same on every machine and version.

The generator is that of M. E. O'Neill, "PCG: A Family of Simple Fast Space-Efficient
Statistically Good Algorithms for Random Number Generation", HMC-CS-2014-0905 (2014), in the
128-bit state, 64-bit output form; the tests hold it to that paper's reference implementation.

A stream is named by the plan's seed and some words, such as ``("station", "north")``. Its state
and sequence are the first and second half of SHA-256 over the canonical JSON of that list, so
streams do not disturb each other and none depends on the order in which they are used.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_MASK_128 = (1 << 128) - 1
_MASK_64 = (1 << 64) - 1
_MULTIPLIER = 47026247687942121848144207491837523525  # 2549297995355413924 * 2**64 + ...


class Draws(Protocol):
    """What a run draws from a stream."""

    def below(self, bound: int) -> int:
        """An integer from 0 to ``bound`` - 1."""
        ...

    def between(self, least: int, most: int) -> int:
        """An integer from ``least`` to ``most``."""
        ...

    def weighted(self, weights: Sequence[int]) -> int:
        """An index, with odds as the weights."""
        ...

    def order(self, count: int) -> list[int]:
        """The numbers 0 to ``count`` - 1 in some order."""
        ...


class Chance:
    """One stream of PCG64."""

    __slots__ = ("_first", "_increment", "_state")

    def __init__(self, state: int, sequence: int) -> None:
        self._increment = ((sequence << 1) | 1) & _MASK_128
        self._state = 0
        self._step()
        self._state = (self._state + state) & _MASK_128
        self._step()
        self._first = self._state

    @property
    def was_drawn_from(self) -> bool:
        """Whether anything was drawn; a state comes again after 2**128 draws."""
        return self._state != self._first

    def _step(self) -> None:
        self._state = (self._state * _MULTIPLIER + self._increment) & _MASK_128

    def bits64(self) -> int:
        """The next 64 random bits as an integer."""
        self._step()
        word = (self._state >> 64) ^ (self._state & _MASK_64)
        turn = self._state >> 122
        return ((word >> turn) | (word << (64 - turn))) & _MASK_64

    def below(self, bound: int) -> int:
        """An integer from 0 to ``bound`` - 1, each as likely (rejection, so without bias)."""
        if not 0 < bound <= 1 << 64:
            raise ValueError(f"no number lies in 0 to {bound - 1}")
        least = (1 << 64) % bound
        while True:
            drawn = self.bits64()
            if drawn >= least:
                return drawn % bound

    def between(self, least: int, most: int) -> int:
        """An integer from ``least`` to ``most``, both included."""
        return least + self.below(most - least + 1)

    def fraction(self) -> float:
        """A float from 0 up to but not including 1, a multiple of 2**-53."""
        return (self.bits64() >> 11) * 2.0**-53

    def many(self, count: int) -> NDArray[np.float64]:
        """The next ``count`` fractions, as an array.

        Drawn by numpy's PCG64, which is this generator: it is put into this stream's state, and
        the stream goes on where it stops.
        """
        import numpy as np  # only samplers need it

        fast = np.random.PCG64()
        fast.state = {
            "bit_generator": "PCG64",
            "state": {"state": self._state, "inc": self._increment},
            "has_uint32": 0,
            "uinteger": 0,
        }
        words = fast.random_raw(count)
        self._state = int(fast.state["state"]["state"])
        return np.asarray((words >> np.uint64(11)) * 2.0**-53, dtype=np.float64)

    def skip(self, count: int) -> None:
        """Go on as after ``count`` more draws, in a few steps (F. B. Brown, "Random Number
        Generation with Arbitrary Strides", Trans. Am. Nucl. Soc. 71, 1994, 202-203)."""
        times, plus = _MULTIPLIER, self._increment
        all_times, all_plus = 1, 0
        while count > 0:
            if count & 1:
                all_times = all_times * times & _MASK_128
                all_plus = (all_plus * times + plus) & _MASK_128
            times, plus = times * times & _MASK_128, (times + 1) * plus & _MASK_128
            count >>= 1
        self._state = (all_times * self._state + all_plus) & _MASK_128

    def weighted(self, weights: Sequence[int]) -> int:
        """An index, with odds as the weights."""
        drawn = self.below(sum(weights))
        for index, weight in enumerate(weights):
            drawn -= weight
            if drawn < 0:
                return index
        raise AssertionError("a draw below the sum falls into one of its parts")

    def order(self, count: int) -> list[int]:
        """The numbers 0 to ``count`` - 1 in a random order (Fisher and Yates, 1938)."""
        order = list(range(count))
        for last in range(count - 1, 0, -1):
            other = self.below(last + 1)
            order[last], order[other] = order[other], order[last]
        return order


def stream(seed: int, *words: str | int) -> Chance:
    """The stream of this name under this seed."""
    return Chance(*state_of(seed, *words))


def state_of(seed: int, *words: str | int) -> tuple[int, int]:
    """The state and the sequence of the stream of this name."""
    name = json.dumps([seed, *words], separators=(",", ":")).encode()
    hashed = hashlib.sha256(name).digest()
    return int.from_bytes(hashed[:16], "big"), int.from_bytes(hashed[16:], "big")
