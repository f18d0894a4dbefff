"""No lesson is bigger than its ceilings, whatever makes it so; every command says so at once."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from feedscript.check.check_program import Verdict, check_program
from feedscript.cli import verbs
from feedscript.flight.motion.flights import DEFAULT_CONDITIONS, Launches, fly
from feedscript.memo import Memo
from feedscript.plan.folds import size
from feedscript.plan.model import Plan

HEAD = """feedscript 1
court { lines doubles  surface hard }
balls { type 2  load 60 }
launcher west { profile "garage.toml"  stands 1 m behind baseline, 2.5 m to ad of centre mark }
launcher east { profile "garage.toml"  stands 1 m behind baseline, 2.5 m to deuce of centre mark }
group { 8 players  level club }
feed deep { land 3 m inside baseline, 2.5 m to deuce of centre line  speed 80 km/h }
feed wide { land 3 m inside baseline, 2.5 m to ad of centre line  speed 80 km/h }
"""


def verdict(steps: str, more: str = "") -> Verdict:
    return check_program(Path("size.feed"), text=f"{HEAD}{more}\nlesson {{ {steps} }}\n")


def says_too_big(steps: str, more: str = "") -> bool:
    found = verdict(steps, more)
    too_big = "too-big" in [one.slug for one in found.diagnostics]
    # What is too big is not drawn, run or checked any further.
    assert not (too_big and (found.plan or found.draft))
    return too_big


def nested(times: int, layers: int, body: str) -> str:
    return f"repeat {times} {{ " * layers + body + " }" * layers


THIRTY = nested(10_000, 30, "collect")


@pytest.mark.parametrize(
    ("least", "most"),
    [
        # Balls: one of the show, and so many sent. The time stays below its own ceiling.
        ("show speed of deep repeat 100 { repeat 99 { send deep after 3 s } send deep after 1 s }",
         "show speed of deep repeat 101 { repeat 98 { send deep after 3 s } send deep after 1 s }"),
        # Hours.
        ("show speed of deep repeat 12 { rest 1 h } send deep after 1 s",
         "show speed of deep repeat 11 { rest 1 h } send deep after 1 h"),
        # Things that take neither balls nor time.
        ("repeat 224 { repeat 224 { collect } }", "repeat 223 { repeat 223 { collect } }"),
    ],
    ids=["balls", "hours", "events"],
)  # fmt: skip
def test_a_lesson_may_come_to_its_ceiling_and_no_further(least: str, most: str) -> None:
    assert says_too_big(least)
    assert not says_too_big(most)


BIG = {
    "collects": THIRTY,
    "words": nested(10_000, 30, 'say "once more"'),
    "rests of no time": nested(10_000, 3, "rest 0 s"),
    "balls": nested(10_000, 5, "send deep after 0.1 s"),
    "one way of a choice": f"choose {{ 1: rest 5 s  1: {nested(200, 2, 'collect')} }}"
    + nested(300, 2, "collect"),
    "an until that never holds": "until 5 in, at most 10000 { "
    "until 5 in, at most 10000 { collect } }",
    "one branch of a when": f"when 1 in {{ {nested(400, 2, 'collect')} }} otherwise {{ rest 1 s }}",
    "a shuffle": f"shuffle {{ rest 1 s  {nested(400, 2, 'collect')} }}",
    "turns": "rotate group every 4 h { send deep after 20 s }" * 3,
    "turns of balls": "repeat 10 { rotate group every 1000 balls { send deep after 1 s } }",
    "players": "repeat 10000 { for each player { send deep after 1 s } }",
    "stations": "together { "
    'station "a" on launcher west { repeat 70 { repeat 80 { send deep after 2 s } } } '
    'station "b" on launcher east { repeat 70 { repeat 80 { send wide after 2 s } } } }',
}


@pytest.mark.parametrize("steps", BIG.values(), ids=BIG)
def test_whatever_makes_a_lesson_too_big_is_refused(steps: str) -> None:
    assert says_too_big(f"show speed of deep {steps}")
    # In a pattern that is called in a pattern it is as big.
    in_patterns = f"pattern it() {{ {steps} }}\npattern more() {{ it() }}"
    assert says_too_big("show speed of deep more()", in_patterns)


def test_feeds_are_counted_before_they_are_aimed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(size, "MOST_FEEDS", 20)

    # Two feeds stand already; a feed that varies counts eight times, on two launchers twice.
    def plain(count: int) -> str:
        return "".join(f"feed f{n} = deep\n" for n in range(count))

    shown = "show speed of deep"
    assert not says_too_big(shown, plain(18))
    assert says_too_big(shown, plain(19))
    varied = "feed alive = deep with { vary place 0.3 m }\n"
    assert not says_too_big(shown, varied + plain(10))
    assert says_too_big(shown, varied + plain(11))
    side_by_side = (
        "show speed of alive together { "
        'station "a" on launcher west { send alive after 5 s } '
        'station "b" on launcher east { send alive after 5 s } }'
    )
    assert not says_too_big(side_by_side, varied + plain(2))
    assert says_too_big(side_by_side, varied + plain(3))


def test_what_may_follow_what_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(size, "MOST_PAIRS", 10)
    ways = "".join(f"1: send {'deep' if n % 2 else 'wide'} after {n + 4} s " for n in range(8))
    assert says_too_big(f"repeat 9 {{ choose {{ {ways} }} }} choose {{ {ways} }} " * 2)
    assert not says_too_big("repeat 9 { send deep after 5 s }")


def test_what_stands_beside_what_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(size, "MOST_NEIGHBOURS", 5)
    areas = "".join(
        f'keep out "k{n}" {{ between at 8 m, {n} m and at 9 m, {n + 0.5} m }}\n' for n in range(3)
    )
    assert says_too_big("show speed of deep", areas)
    assert not says_too_big("show speed of deep", areas[: areas.index('keep out "k2"')])


def test_no_reason_sets_it_aside() -> None:
    found = verdict("show speed of deep " + THIRTY, 'allow too-big because "a very long day"')
    assert found.plan is None
    assert "too-big" in [one.slug for one in found.diagnostics]


COMMANDS = [
    ["check"],
    ["check", "--sample", "100"],
    ["check", "--certificate"],
    ["certify", "-o", "{out}.json"],
    ["draw", "-o", "{out}.svg"],
    ["rehearse"],
    ["test"],
    ["run", "--on", "tcp:127.0.0.1:1", "--yes-i-am-behind-the-launcher"],
    ["court-side", "--on", "tcp:127.0.0.1:1"],
]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: " ".join(command[:2]))
def test_every_command_says_it_at_once(command: list[str], tmp_path: Path) -> None:
    path = tmp_path / "thirty.feed"
    path.write_text(f"{HEAD}lesson {{ show speed of deep {THIRTY} }}\n", encoding="utf-8")
    words = [word.format(out=tmp_path / "out") for word in command]
    done = CliRunner().invoke(verbs, [*words, str(path)])
    assert done.exit_code == 1, done.output
    assert "(too-big)" in done.output
    assert [one.name for one in tmp_path.iterdir()] == ["thirty.feed"]


def test_no_more_balls_are_drawn_than_anybody_waits_for(tmp_path: Path) -> None:
    path = tmp_path / "small.feed"
    path.write_text(f"{HEAD}lesson {{ show speed of deep }}\n", encoding="utf-8")
    done = CliRunner().invoke(verbs, ["check", "--sample", "1000000000", str(path)])
    assert done.exit_code == 2
    assert f"{size.MOST_DRAWN} are the most" in done.output


def calls(work: Callable[[], object]) -> int:
    """How many functions are called on the way: a measure of work that no busy machine changes."""
    count = 0

    def counted(_frame: object, event: str, _argument: object) -> None:
        nonlocal count
        count += event in ("call", "c_call")

    sys.setprofile(counted)
    try:
        work()
    finally:
        sys.setprofile(None)
    return count


PLAIN = "land 3 m inside baseline, 2.5 m to deuce of centre line  speed 80 km/h"
GROWING: dict[str, Callable[[int], str]] = {
    "feeds": lambda n: "".join(f"feed f{i} {{ {PLAIN} }}\n" for i in range(n)),
    "a chain of feeds": lambda n: (
        "feed f0 = deep\n"
        + "".join(f"feed f{i} = f{i - 1} with {{ within 1 m }}\n" for i in range(1, n))
    ),
    "a chain written backwards": lambda n: (
        "".join(f"feed f{i} = f{i - 1} with {{ within 1 m }}\n" for i in range(n - 1, 0, -1))
        + "feed f0 = deep\n"
    ),
    "a chain of values": lambda n: (
        "let a0 = 1 m\n" + "".join(f"let a{i} = a{i - 1} + 1 mm\n" for i in range(1, n))
    ),
    "patterns": lambda n: "".join(f"pattern p{i}() {{ send deep after 5 s }}\n" for i in range(n)),
    "areas": lambda n: "".join(
        f'keep out "k{i}" {{ between at 8 m, 1 m and at 9 m, 2 m }}\n' for i in range(n)
    ),
    "expectations": lambda n: "expect { " + "balls <= 60 " * n + "}",
}


@pytest.mark.parametrize("growing", GROWING.values(), ids=GROWING)
def test_work_grows_no_faster_than_the_program(growing: Callable[[int], str]) -> None:
    few, more, most = (
        calls(lambda n=n: verdict("show speed of deep", growing(n))) for n in (10, 50, 90)
    )
    assert most - more < 1.3 * (more - few)


def test_a_batch_of_flights_works_out_its_speeds_once() -> None:
    """Whoever asks ball after ball would else work out all of them for each."""
    flights = fly(Launches.of([20.0, 25.0], [10.0, 12.0], [0.0, 0.0], z_m=1.0), DEFAULT_CONDITIONS)
    assert flights.speed_at_bounce_mps is flights.speed_at_bounce_mps


def test_how_big_a_lesson_is_hangs_on_its_steps_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    memo, asked, excesses = Memo(), [], size._excesses

    def counted(plan: Plan) -> Iterator[tuple[str, str]]:
        asked.append(plan)
        return excesses(plan)

    monkeypatch.setattr(size, "_excesses", counted)
    steps = "show speed of deep  repeat {0} {{ repeat {0} {{ collect }} }}  send deep after 4 s"
    for text, times, refused in (
        (HEAD, 9, False),
        (HEAD.replace("speed 80", "speed 77"), 9, False),
        (HEAD, 224, True),
        (f"\n{HEAD}", 224, True),
    ):
        whole = f"{text}lesson {{ {steps.format(times)} }}\n"
        found = check_program(Path("size.feed"), text=whole, memo=memo)
        report = next((one for one in found.diagnostics if one.slug == "too-big"), None)
        assert (report is not None) == refused
        if report is not None:
            assert report.span is not None
            assert report.span.line == whole[: whole.index("lesson {")].count("\n") + 1
    assert len(asked) == 3  # of the last, every line stands elsewhere
