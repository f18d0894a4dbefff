"""What a seed is drawn for, and what judges it: each kind a function of the seed alone."""

from __future__ import annotations

import random
import tempfile
import traceback
from collections.abc import Callable
from functools import cache
from pathlib import Path

import msgspec

from tests.seeds.found import Found, Wrong

ROOT = Path(__file__).parents[2]


class Kind(msgspec.Struct, frozen=True):
    """One kind: its words, how many seeds a piece has (a second of work or so), what one seed
    comes to, and what all of them together may not."""

    words: str
    piece: int
    one: Callable[[int], Found]
    whole: Callable[[Found], str] = lambda _: ""


def of_texts(seed: int) -> Found:
    """A program spoilt in its bytes: read with diagnostics, and in calls that its length bounds."""
    from tests.language.syntax_errors import test_any_text as texts

    chance, programs = random.Random(f"text {seed}"), _programs()
    texts.check(texts.mutated(chance.choice(programs), chance.choice(programs), chance))
    return Found(seen={"spoilt texts": 1})


@cache
def _programs() -> list[str]:
    from tests.language.syntax_errors import test_any_text as texts

    return [texts.SKETCH, *texts.shipped(ROOT)]


def of_edits(seed: int) -> Found:
    """A program edited by a coach: each check as if nothing had been checked before."""
    from tests.desk.test_as_fresh import BEGUN, edited

    edits, program = 20, list(BEGUN.values())[seed % len(BEGUN)]
    with tempfile.TemporaryDirectory() as folder:
        passed, _ = edited(Path(folder), program, seed, edits)
    return Found(seen={"edits": edits, "edits to a program that passes": passed})


def of_flights(seed: int) -> Found:
    """Flights over the whole promised range, against SciPy's DOP853 on equations written anew."""
    from tests.flight.motion.test_against_dop853 import compare

    gaps = compare(20, seed)
    far = [f"a landing {gap:.2e} m off" for gap in gaps if not gap < 0.5e-3]
    return Found(
        seen={"flights": len(gaps)},
        worst={"m from where SciPy lands": float(gaps.max())},
        wrong=tuple(Wrong(seed, what) for what in far),
    )


def of_places(seed: int) -> Found:
    """A program that passes, places that its rules let be, and balls that SciPy flew."""
    from tests.safety.hazards.test_nobody_is_hit import held_against
    from tests.safety.random_programs import accepted

    seen, wrong = dict.fromkeys((_BALLS, _ENTRIES, "places held against them"), 0), []
    for one in held_against(next(accepted([13, seed])), seed, areas=15, balls=1200):
        for what, count in ((_BALLS, one.balls), (_ENTRIES, one.entries)):
            seen[what] += count
        seen["places held against them"] += 1
        if one.too_many:
            wrong.append(f"{one.what} {one.where}: {one.entries} of {one.balls}\n{one.text}")
    return Found(seen=seen, wrong=tuple(Wrong(seed, what) for what in wrong))


_BALLS, _ENTRIES = "balls, once for each place", "balls too near"


def too_many_in_all(found: Found) -> str:
    """All places together may be met by no more balls than three sigma let out, chance allowed."""
    from tests.safety.areas_by_scipy import most

    balls, entries = found.seen.get(_BALLS, 0), found.seen.get(_ENTRIES, 0)
    return f"{entries} of {balls} balls came too near" if entries > most(balls) else ""


def of_lines(seed: int) -> Found:
    """A host and a launcher over a bad line: five invariants against every ball's truth."""
    from tests.drivers.faults.faulty_session import run_session

    world, broken = run_session(seed)
    return _session(seed, len(world.far.truth), broken)


def of_bridges(seed: int) -> Found:
    """The same, keyed, through a bridge on which somebody without the key says lines of his own."""
    from tests.drivers.faults.bridged_session import run_bridged

    world, broken, forged = run_bridged(seed)
    return _session(seed, len(world.far.truth), broken, {"forged lines": forged})


def of_lessons(seed: int) -> Found:
    """A whole lesson over bad lines, its hosts killed and taken up again from the journal."""
    from tests.session.faulty_lesson_acts import run_session

    fast = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=fast if fast.is_dir() else None) as folder:
        world, broken = run_session(Path(folder), seed)
        broken = [words.replace(folder, "FOLDER") for words in broken]
    return _session(seed, world.balls(), broken)


def _session(seed: int, balls: int, broken: list[str], more: dict[str, int] | None = None) -> Found:
    wrong = tuple(Wrong(seed, what) for what in broken)
    return Found(seen={"balls that left": balls} | (more or {}), wrong=wrong)


KINDS = {
    "texts": Kind("spoilt programs are read", 20, of_texts),
    "edits": Kind("edited programs are checked as fresh ones", 1, of_edits),
    "flights": Kind("flights land where SciPy's do", 4, of_flights),
    "places": Kind(
        "nobody is met by balls of a program that passes", 1, of_places, too_many_in_all
    ),
    "lines": Kind("sessions over bad lines hold five invariants", 4, of_lines),
    "bridges": Kind("so do keyed ones through a forger's bridge", 2, of_bridges),
    "lessons": Kind("so do whole lessons, whoever dies", 1, of_lessons),
}


def tried(name: str, seed: int) -> Found:
    """What one seed comes to. Whatever it raises is what is wrong with it."""
    try:
        found = KINDS[name].one(seed)
    except Exception as trouble:  # noqa: BLE001 - the rim: a seed is never the end of the others
        found = Found(wrong=(Wrong(seed, _told(trouble)),))
    return msgspec.structs.replace(found, seeds=1)


def _told(trouble: Exception) -> str:
    """By its words and its own place, not by this machine's folders."""
    last = traceback.extract_tb(trouble.__traceback__)[-1]
    where = Path(last.filename)
    inside = where.relative_to(ROOT) if where.is_relative_to(ROOT) else where.name
    return f"{type(trouble).__name__} at {inside}:{last.lineno}: {trouble}"
