"""Fuzzing and oracles from seeds, in this process or on a cluster: the same words either way.

`python -m tests.seeds KIND --seeds N [--first N] [--cluster local | --cluster tls://HOST:PORT …]`,
from the top of the tree. Workers of another machine need the same tree on their path:
`PYTHONPATH=. dask worker … --nthreads 1`. Exits 1 where a seed went wrong.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import closing

import click

from feedscript.check.in_pieces.cluster import Wanted
from feedscript.cli.output import tell
from feedscript.cli.progress import watched
from feedscript.cli.prove.on_cluster import cluster_options, workers_of
from tests.seeds.at_worker import SEEDS, Drawn, Seeds, found_from
from tests.seeds.found import Found
from tests.seeds.kinds import KINDS


def pieces(name: str, first: int, many: int) -> list[Seeds]:
    """All seeds, in pieces of a second or so."""
    step = KINDS[name].piece
    return [
        Seeds(start, min(step, first + many - start)) for start in range(first, first + many, step)
    ]


def each(name: str, asked: list[Seeds], wanted: Wanted | None) -> Iterator[Found]:
    """What came of each piece, in their order."""
    if wanted is None:
        yield from (found_from(name, one) for one in asked)
        return
    case = Drawn(name)
    with (
        workers_of(wanted, SEEDS, "text") as others,
        closing(others.answers((case, one) for one in asked)) as answers,
    ):
        yield from answers


def told(name: str, answers: Iterable[Found]) -> tuple[bool, list[str]]:
    """Whether all is well, and the words for it."""
    found = sum(answers, Found())
    whole = KINDS[name].whole(found)
    lines = [*found.lines(), *([f"  wrong in all: {whole}"] if whole else [])]
    return not (found.wrong or whole), lines


@click.command()
@click.argument("name", metavar="KIND", type=click.Choice(list(KINDS)))
@click.option("--seeds", type=click.IntRange(1), default=100, help="How many; without it, 100.")
@click.option("--first", type=click.IntRange(0), default=0, help="The first of them.")
@cluster_options
def command(name: str, seeds: int, first: int, wanted: Wanted | None) -> None:
    """Try seeds of one KIND, and say what came of them."""
    asked = pieces(name, first, seeds)
    with closing(each(name, asked, wanted)) as answers:
        well, lines = told(name, watched(KINDS[name].words, answers, len(asked)))
    tell("\n".join(lines))
    raise SystemExit(0 if well else 1)


if __name__ == "__main__":
    command()
