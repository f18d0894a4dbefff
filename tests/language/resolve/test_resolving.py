"""What a program comes to: metres, internal units, inlined patterns, mirrored feeds.

Court figures: ITF Rules of Tennis, Rule 1 (baseline 39 ft and service line 21 ft from the net,
singles sideline 13.5 ft from the middle), with the foot of 0.3048 m.
"""

from __future__ import annotations

import math

import pytest

from feedscript.language import program as p
from feedscript.language import read

BASELINE, SERVICE, SIDE = 39 * 0.3048, 21 * 0.3048, 13.5 * 0.3048

HEAD = """feedscript 1
court { surface hard }
balls { type 2 }
launcher { stands 1 m behind centre mark }
"""
DEEP = "feed deep { land 2 m inside baseline, 1 m inside ad sideline  speed 72 km/h }\n"
LESSON = "lesson { show speed of deep  send deep after 4 s }\n"


def made(text: str, head: str = HEAD) -> p.Program:
    program, diagnostics = read(head + text, "made.feed")
    assert program is not None, diagnostics
    return program


def feed(line: str) -> p.FeedWish:
    return made(f"feed deep {{ {line} }}\n{LESSON}").feeds["deep"]


@pytest.mark.parametrize(
    ("place", "x_m", "y_m"),
    [
        ("2 m inside baseline, 1 m inside ad sideline", SIDE - 1, BASELINE - 2),
        ("2 m inside baseline, 1 m inside deuce sideline", 1 - SIDE, BASELINE - 2),
        ("1 m behind service line, on center line", 0.0, SERVICE + 1),
        ("50 cm from net, 1 ft to ad of centre line", 0.3048, 0.5),
        ("ad corner", SIDE, BASELINE),
        ("middle of deuce box", -SIDE / 2, SERVICE / 2),
        ("at 1.2 m, 9.5 m", 1.2, 9.5),
        ("2 m inside baseline, 1 m inside forehand sideline", 1 - SIDE, BASELINE - 2),
        ("2 m inside baseline, 1 m inside backhand sideline", SIDE - 1, BASELINE - 2),
        ("2 m inside baseline, 1 m to deuce", -1.0, BASELINE - 2),
    ],
)
def test_places_in_metres(place: str, x_m: float, y_m: float) -> None:
    assert feed(f"land {place}  speed 72 km/h").land_m == pytest.approx((x_m, y_m), abs=1e-9)


@pytest.mark.parametrize(
    ("spin", "top_rpm", "side_rpm"),
    [
        ("top 1200 rpm", 1200, 0),
        ("back 20 rev/s", -1200, 0),
        ("side ad 300 rpm", 0, 300),
        ("side 300 rpm", 0, 300),
        ("side deuce 300 rpm", 0, -300),
        ("top 1200 rpm, side deuce 300 rpm", 1200, -300),
        ("flat", 0, 0),
    ],
)
def test_spins(spin: str, top_rpm: float, side_rpm: float) -> None:
    wish = feed(f"land deuce corner  speed 72 km/h  spin {spin}")
    assert (wish.top_rpm, wish.side_rpm) == pytest.approx((top_rpm, side_rpm))


def test_the_ways_to_settle_a_flight() -> None:
    assert feed("land ad corner  speed 72 km/h").speed_mps == pytest.approx(20)
    assert feed("land ad corner  apex 12 ft").apex_m == pytest.approx(3.6576)
    assert feed("land ad corner  flight 1400 ms").flight_s == pytest.approx(1.4)
    contact = feed("land ad corner  contact 1 m high, 2 m behind bounce").contact
    assert contact == p.Contact(height_m=1.0, behind_bounce_m=2.0)


def test_a_derived_feed_takes_over_all_that_it_does_not_change() -> None:
    program = made(
        DEEP + "feed high = deep with { apex 4 m  within 1 m }\n"
        "feed other = mirror deep with { spin side ad 100 rpm }\n" + LESSON
    )
    high, other = program.feeds["high"], program.feeds["other"]
    assert (high.speed_mps, high.apex_m, high.high_arc) == (None, 4.0, False)
    assert high.land_m == program.feeds["deep"].land_m
    assert other.land_m == pytest.approx((1 - SIDE, BASELINE - 2))
    assert other.side_rpm == 100
    assert set(high.spans) == {"land", "speed", "apex", "within"}


def test_left_handers_get_feeds_in_player_words_mirrored() -> None:
    text = (
        "group { 4 players  left-handed 1 }\n"
        "feed back { land 2 m inside baseline, 1 m inside backhand sideline  speed 72 km/h"
        "  spin side ad 200 rpm }\n" + DEEP + LESSON
    )
    feeds = made(text).feeds
    twin = feeds[feeds["back"].mirrored]
    assert twin.land_m == pytest.approx((1 - SIDE, BASELINE - 2))
    assert twin.side_rpm == -200
    assert feeds["deep"].mirrored is None
    assert made(text.replace("  left-handed 1", "")).feeds["back"].mirrored is None


def speaks(word: str) -> str:
    own = f'player "Ash" {{ speaks {word} }}  player "Birch" {{ level club }}'
    return f"group {{ {own} }}\n" + DEEP + LESSON


def test_a_player_speaks_a_language_that_there_is() -> None:
    assert [one.language for one in made(speaks("DE")).group.own] == ["de", None]


@pytest.mark.parametrize(("word", "meant"), [("german", "de"), ("Français", "fr"), ("sp", "")])
def test_a_language_is_said_by_its_code(word: str, meant: str) -> None:
    _, diagnostics = read(HEAD + speaks(word), "made.feed")
    (found,) = (one for one in diagnostics if one.is_error)
    assert found.message == f"`{word}` is no language"
    assert found.help == (f"did you mean `{meant}`?" if meant else "write `en`, `de`, `es` or `fr`")


def test_patterns_are_inlined_with_their_arguments() -> None:
    program = made(
        DEEP + "let gap = 3 s + 1 s\n"
        "pattern two(ball: feed, pause: time = gap * 2, n: count = 3) {\n"
        "    repeat n { send ball after pause  send mirror ball after gap }\n}\n"
        "pattern outer(n: count) { two(deep, n = n + 1) }\n"
        "lesson { show speed of deep  outer(1)  mirror two(deep, 5 s) }\n"
    )
    _, first, second = program.lesson
    assert isinstance(first, p.RepeatStatement)
    assert isinstance(second, p.RepeatStatement)
    assert (first.times, second.times) == (2, 3)
    sends = [step for step in (*first.body, *second.body) if isinstance(step, p.SendStatement)]
    assert [step.feed for step in sends] == ["deep", "mirror deep", "mirror deep", "deep"]
    assert [step.after_s for step in sends] == [8.0, 4.0, 5.0, 4.0]
    assert [span.line for span in sends[0].calls] == [11, 10]
    assert sends[0].span.line == 8


def test_every_step_arrives() -> None:
    program = made(
        "seed 5\ngroup { 3 players }\n" + DEEP + "feed wide = mirror deep\n"
        "lesson {\n"
        "    show speed of deep\n"
        '    say "Go"\n    rest 1 min\n    collect\n'
        "    choose seed 7 { 2: send deep after 4 s  1: rest 2 s }\n"
        "    shuffle { send deep after 4 s  send wide after 5 s vary 0.5 s }\n"
        "    until 5 in a row in, at most 20 { send deep after 4 s }\n"
        "    when 70 % net of last 10 of deep { rest 1 s } otherwise { rest 2 s }\n"
        "    rotate group every 6 balls { send deep after 4 s }\n"
        "    rotate group every 2 min { send deep after 4 s }\n"
        "    for each player { send deep after 4 s }\n"
        '    together { station "one" { send deep after 4 s } }\n'
        "}\n"
    )
    assert program.seed == 5
    kinds = [type(step).__name__.removesuffix("Statement") for step in program.lesson]
    assert kinds == [
        *("ShowSpeed", "Say", "Rest", "Collect", "Choose", "Shuffle", "Until", "When"),
        *("Rotate", "Rotate", "EachPlayer", "Together"),
    ]
    _, _, rest, _, choose, shuffle, until, when, balls, timed, _, together = program.lesson
    assert rest.seconds == 60
    assert [option.weight for option in choose.options] == [2, 1]
    assert choose.seed == 7
    assert shuffle.items[1][0].vary_s == 0.5
    assert (until.condition.count, until.condition.in_a_row, until.most) == (5, True, 20)
    assert (when.condition.share, when.condition.count) == (0.7, 10)
    assert (when.condition.outcome, when.condition.feed) == (p.Recorded.NET, "deep")
    assert (balls.every_balls, balls.every_s) == (6, None)
    assert (timed.every_balls, timed.every_s) == (None, 120)
    assert together.stations[0].launcher == ""


def test_a_break_and_a_wait_for_the_coach_are_collects_with_words() -> None:
    program = made(
        DEEP + 'lesson { show speed of deep  collect  break 3 min "water"  break 90 s\n'
        '  wait for coach "look at the grip" }\n'
    )
    collects = [step for step in program.lesson if isinstance(step, p.CollectStatement)]
    assert [(step.words, step.break_s) for step in collects] == [
        ("", None),
        ("water", 180.0),
        ("", 90.0),
        ("look at the grip", None),
    ]


def test_inches_and_balls_in_are_told_apart() -> None:
    program = made(
        DEEP + "feed low = deep with { within 20 in }\n"
        "lesson { show speed of deep  until 5 in, at most 9 { send deep after 4 s } }\n"
    )
    assert program.feeds["low"].within_m == pytest.approx(0.508)
    assert program.lesson[1].condition.count == 5


def test_declarations() -> None:
    program = made(
        DEEP + 'group { players "Ash", "Birch"  left-handed "Birch"  ages 9 to 11 }\n'
        "coach { walks deuce alley }\n"
        'keep out "bench" { between 9 m from net, 6 m to deuce and 11 m from net, 8 m to deuce'
        "  height 2 m }\n"
        'allow too-high-for-group because "volleys"\n'
        "require scatter 4\nrequire net-clearance 50 cm\n" + LESSON,
        "feedscript 1\n"
        "court { surface clay  altitude 640 m  air 82.4 F  wind head 2 m/s, ad 1 m/s"
        "  fence 3 m high, 6.4 m behind baseline  side room 3.7 m  neighbours ad, deuce }\n"
        "balls { stage green  load 60  wear 20 % }\n"
        'launcher { profile "x.toml"  stands 1 m behind centre mark  turned deuce 5 degrees }\n',
    )
    court = program.court
    assert court.air_c == pytest.approx(28)
    assert court.wind_mps == (1.0, -2.0)
    assert (court.fence_m, court.fence_gap_m, court.side_gap_m) == (3.0, 6.4, 3.7)
    assert court.neighbours == ("ad", "deuce")
    assert (program.balls.kind, program.balls.load, program.balls.wear) == ("stage green", 60, 0.2)
    (launcher,) = program.launchers
    assert launcher.stands_m == pytest.approx((0, -BASELINE - 1))
    assert (launcher.facing_deg, launcher.profile) == (-5.0, "x.toml")
    group = program.group
    assert (group.players, group.left_handed_names, group.ages) == (2, ("Birch",), (9, 11))
    coach, bench = program.keep_outs
    xs = [x for x, _ in coach.outline_m]
    assert (min(xs), max(xs)) == pytest.approx((-18 * 0.3048, -SIDE))
    assert bench.height_m == 2.0
    assert {abs(x) for x, _ in bench.outline_m} == {6.0, 8.0}
    assert program.waivers[0].rule == "too-high-for-group"
    assert [r.value for r in program.requirements] == [4.0, 0.5]


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("2 * 3 s + 1 s", 7.0),
        ("1 min - 2 * (10 s - 4 s)", 48.0),
        ("10 m / 5 m/s", 2.0),
        ("-4 s + 10 s", 6.0),
        ("8 s \u2212 1 s \u00d7 2", 6.0),
        ("50 % * 8 s", 4.0),
        ("27 ft / 9 ft * 1 s", 3.0),
    ],
)
def test_values(said: str, value: float) -> None:
    program = made(DEEP + f"lesson {{ show speed of deep  rest {said} }}\n")
    assert program.lesson[1].seconds == pytest.approx(value)


@pytest.mark.parametrize(
    "said", ["4 s + 1 m", "2 s * 3 s", "1 m / 1 rpm", "4", "4 m", "20 C + 5 C", "deep", "4 s / 0"]
)
def test_a_value_that_makes_no_sense_is_one_diagnostic(said: str) -> None:
    text = HEAD + DEEP + f"lesson {{ show speed of deep  rest {said} }}\n"
    program, diagnostics = read(text, "x.feed")
    assert program is None
    assert len(diagnostics) == 1


def test_a_pattern_is_checked_even_if_nobody_calls_it() -> None:
    text = HEAD + DEEP + "pattern idle(n: count) { send depe after n }\n" + LESSON
    _, diagnostics = read(text, "x.feed")
    assert [d.slug for d in diagnostics] == ["unknown-name", "no-unit"]


def test_a_mistake_in_a_pattern_is_told_once_however_often_it_is_called() -> None:
    text = HEAD + DEEP + "pattern bad() { send depe after 4 s }\nlesson { bad() bad() bad() }\n"
    _, diagnostics = read(text, "x.feed")
    assert len(diagnostics) == 1


def test_nothing_is_not_a_number() -> None:
    program = made(DEEP + LESSON)
    for wish in program.feeds.values():
        assert not any(math.isnan(v) for v in (*wish.land_m, wish.speed_mps, wish.top_rpm))
