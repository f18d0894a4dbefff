"""What was found from seeds: plain data, the same whoever looked."""

from __future__ import annotations

import msgspec


class Wrong(msgspec.Struct, frozen=True):
    """A seed that went wrong, and how."""

    seed: int
    what: str


class Found(msgspec.Struct, frozen=True, tag="found"):
    """What some seeds came to: what was seen, summed; the worst of what was measured; what was
    wrong, by seed."""

    seeds: int = 0
    seen: dict[str, int] = {}
    worst: dict[str, float] = {}
    wrong: tuple[Wrong, ...] = ()

    def __add__(self, other: Found) -> Found:
        return Found(
            self.seeds + other.seeds,
            {what: self.seen.get(what, 0) + other.seen.get(what, 0)
             for what in sorted({*self.seen, *other.seen})},
            {what: max(one.worst[what] for one in (self, other) if what in one.worst)
             for what in sorted({*self.worst, *other.worst})},
            (*self.wrong, *other.wrong),
        )  # fmt: skip

    def lines(self) -> list[str]:
        """As a person reads it."""
        return [
            f"{self.seeds:,} seeds",
            *(f"  {count:,} {what}" for what, count in self.seen.items()),
            *(f"  {value:.3g} {what} at worst" for what, value in self.worst.items()),
            *(f"  wrong, seed {one.seed}: {one.what}" for one in self.wrong),
        ]
