"""Shots told by what is seen of them: net, long, left, right, in, in the target, or not seen."""

from __future__ import annotations

from functools import cached_property

import msgspec
import numpy as np
import pytest

from feedscript.court.lines import COURTS
from feedscript.plan.model import Result, Target
from feedscript.watch.fit.measure import measure
from feedscript.watch.fit.measured import Measured, NotSeen, Why
from feedscript.watch.seek.blobs import NONE
from feedscript.watch.shots.gather import Back
from feedscript.watch.shots.ground import Ground, ended, odds
from feedscript.watch.shots.measure import measure_shot
from feedscript.watch.shots.seen import NoShot, Shot, WhyNot
from tests.watch.fit.filmed import WITHIN_95, as_it_is, expected
from tests.watch.fit.seen_as_points import Fed, blobs_at, seen
from tests.watch.scene.practices import Practice, practice
from tests.watch.scene.recipe import Scene
from tests.watch.scene.returns import Return
from tests.watch.scene.truth import Track, Truth, truth_of
from tests.watch.shots.strays import KINDS, stray

GROUND = Ground(COURTS["singles"])
#: Every other way to end is in the films of test_filmed.py.
HITS = ("in", "net", "none")
RADIUS_M = 0.0335


class Hit(msgspec.Struct, frozen=True, eq=False, dict=True):
    fed: Fed
    hit: Return | None
    truth: Truth
    at: int  # of the scene's ways back
    scene: Scene

    @cached_property
    def looked(self) -> Measured | NotSeen:
        return measure(seen(self.fed, np.random.default_rng(1), until_s=self.over_s))

    @property
    def over_s(self) -> float:
        return self.hit.hit.at_s if self.hit else np.inf

    def back(self, missed: float = 0.1, also: Track | None = None) -> Back:
        """The fed ball until it is hit, the way back, and four other things in each picture."""
        random = np.random.default_rng((self.at, 5))
        tracks = [(self.fed.ball.track, 0.0, self.over_s)]
        tracks += [] if also is None else [(also, 0.0, np.inf)]
        if self.hit is not None:
            tracks.append((self.truth.others[self.at], self.over_s, np.inf))
        times, blobs = [], []
        for frame, time_s in enumerate(self.truth.times_s.tolist()):
            if not self.fed.ball.bounce.at_s < time_s < self.fed.ball.bounce.at_s + 2.6:
                continue
            found = [random.uniform((200, 150), (1080, 500)) for _ in range(4)]
            for track, first_s, last_s in tracks:
                row = track.in_frame(frame) if first_s <= time_s < last_s else None
                if row is not None and track.seen[row] > 0.6 and random.uniform() > missed:
                    found.append(track.middle_px[row] + random.normal(0, 0.3, 2))
            times.append(time_s)
            blobs.append(blobs_at(np.array(found), np.zeros((len(found), 2))))
        return Back(self.fed.feed, np.array(times), tuple(blobs))

    def shot(
        self, ground: Ground = GROUND, fed: NotSeen | None = None, back: Back | None = None
    ) -> Shot | NoShot:
        camera = as_it_is(self.truth.lens)
        return measure_shot(camera, fed or self.looked, back or self.back(), ground)


def hits_of(seed: int, words: tuple[str, ...], **film: str) -> dict[str, Hit]:
    made: Practice = practice(seed, balls=len(words), hits=words, gap_s=4.0, **film)
    truth = truth_of(made.scene)
    rows = zip(expected(made, "noon"), truth.balls, made.returns, words, strict=True)
    return {
        word: Hit(Fed(feed, ball, truth), hit, truth, at, made.scene)
        for at, (feed, ball, hit, word) in enumerate(rows)
    }


@pytest.fixture(scope="module")
def hits() -> dict[str, Hit]:
    return hits_of(5, HITS)


@pytest.fixture(scope="module")
def shots(hits: dict[str, Hit]) -> dict[str, Shot | NoShot]:
    return {word: hit.shot() for word, hit in hits.items()}


@pytest.mark.parametrize("word", HITS[:-1])
def test_a_shot_is_told_by_how_it_ended(word: str, shots: dict[str, Shot | NoShot]) -> None:
    shot = shots[word]
    assert isinstance(shot, Shot), shot
    assert shot.suggested is Result(word)


def test_where_it_came_down_lies_in_its_region(
    shots: dict[str, Shot | NoShot], hits: dict[str, Hit]
) -> None:
    shot, hit = shots["in"], hits["in"].hit
    assert isinstance(shot, Shot)
    assert hit is not None
    off = np.subtract(shot.landing_m, hit.back.bounces()[0].place_m[:2])
    assert np.hypot(*off) < 0.25
    assert off @ np.linalg.solve(np.array(shot.covariance_m2), off) < 13.8  # one in a thousand
    launch = hit.back.launch
    assert abs(shot.speed_mps.value - launch.speed_mps) < 4 * shot.speed_mps.sd + 0.2
    assert abs(shot.struck_s - launch.at_s) < 0.04


def test_a_start_that_is_too_slow_is_left_again() -> None:
    """Seen along its way, a ball that comes towards the camera looks alike slow in thin air."""
    hit = hits_of(301, ("in",), place="behind launcher")["in"]
    shot = hit.shot()
    assert isinstance(shot, Shot)
    assert hit.hit is not None
    off = np.subtract(shot.landing_m, hit.hit.back.bounces()[0].place_m[:2])
    assert np.hypot(*off) < 0.15


def test_a_ball_in_the_net_comes_down_nowhere(shots: dict[str, Shot | NoShot]) -> None:
    shot = shots["net"]
    assert isinstance(shot, Shot)
    assert shot.landing_m is None


def test_a_ball_that_was_let_go_is_no_shot(shots: dict[str, Shot | NoShot]) -> None:
    assert isinstance(shots["none"], NoShot)


def test_a_ball_that_flies_on_to_its_second_bounce_was_hit_by_nobody() -> None:
    """From behind the launcher its way, and how the fence throws it back, look like a shot."""
    let_go = hits_of(403, ("net", "none"), place="behind launcher")["none"].shot()
    assert isinstance(let_go, NoShot)
    assert let_go.why is WhyNot.LET_GO


def test_no_shot_is_told_where_the_fed_ball_was_not_measured(hits: dict[str, Hit]) -> None:
    """What is seen may be that ball itself: nobody hit this one, and it looks like one in the
    net."""
    let_go = hits_of(1, ("net", "none"), place="behind launcher")["none"]
    for one in (let_go, hits["in"]):
        for why in Why:
            told = one.shot(fed=NotSeen(number=one.fed.feed.number, why=why))
            assert isinstance(told, NoShot)
            assert told.why is WhyNot.FEED_UNSEEN


def test_a_ball_that_is_not_seen_where_the_racket_met_the_fed_one_is_no_shot(
    hits: dict[str, Hit],
) -> None:
    hit = hits["in"]
    back = hit.back()
    soon = (back.times_s > hit.over_s) & (back.times_s < hit.over_s + 0.17)
    later = tuple(NONE if its else one for one, its in zip(back.blobs, soon, strict=True))
    shot = hit.shot(back=msgspec.structs.replace(back, blobs=later))
    assert isinstance(shot, NoShot)
    assert shot.why is WhyNot.CONTACT_UNSEEN


def beside_a_stray(seed: int, place: str, kind: str) -> Shot | NoShot:
    """What is told of a ball that was let go while another one went its way."""
    (let_go,) = hits_of(seed, ("none",), place=place).values()
    flight = stray(kind, let_go.fed.ball.bounce.at_s, np.random.default_rng((seed, 11)))
    other = msgspec.structs.replace(let_go.scene, flights=(), others=(flight,))
    return let_go.shot(back=let_go.back(also=truth_of(other).others[0]))


def test_what_follows_each_other_by_chance_is_no_shot() -> None:
    told = beside_a_stray(3, "behind receiver", "thrown back")
    assert isinstance(told, NoShot)
    assert told.why is WhyNot.NOT_LIKELY


@pytest.mark.long
@pytest.mark.timeout(900)
@pytest.mark.parametrize("place", ["behind receiver", "behind launcher", "beside", "corner"])
def test_another_ball_is_no_shot_at_one_that_was_let_go(place: str) -> None:
    told = [(kind, beside_a_stray(seed, place, kind)) for seed in range(4) for kind in KINDS]
    assert [one for one in told if isinstance(one[1], Shot) and one[1].suggested] == []


def test_what_is_in_the_target_is_said_so(
    hits: dict[str, Hit], shots: dict[str, Shot | NoShot]
) -> None:
    seen_in = shots["in"]
    assert isinstance(seen_in, Shot)
    assert seen_in.landing_m is not None
    x, y = seen_in.landing_m
    left, right, near, far = x - 0.6, x + 0.6, y + 0.6, y - 0.6
    outline = ((left, near), (right, near), (right, far), (left, far))
    there = hits["in"].shot(Ground(COURTS["singles"], Target(name="there", outlines_m=(outline,))))
    assert isinstance(there, Shot)
    assert there.suggested is Result.TARGET


@pytest.mark.parametrize(
    ("place_m", "result"),
    [
        # Singles court: 11.885 m to the baseline, 4.115 m to the sideline (ITF Rules, Rule 1).
        ((0.0, -11.9), Result.IN),  # the ball touches the line
        ((0.0, -11.93), Result.LONG),
        ((4.14, -6.0), Result.IN),
        ((4.16, -6.0), Result.LEFT),  # the player looks along -y
        ((-4.16, -6.0), Result.RIGHT),
        ((9.0, -13.0), Result.LONG),
    ],
)
def test_lines_are_in_and_sides_are_the_players(
    place_m: tuple[float, float], result: Result
) -> None:
    assert ended(place_m, GROUND, RADIUS_M) is result


def test_a_ball_near_a_line_is_too_close_to_suggest_anything() -> None:
    random = np.random.default_rng(2)
    places = random.normal((0.0, -11.93), 0.2, (400, 2))
    told = odds(places, GROUND, RADIUS_M)
    assert told[Result.IN] + told[Result.LONG] == pytest.approx(1.0)
    assert max(told.values()) < 0.65


@pytest.mark.long
@pytest.mark.timeout(600)
def test_as_many_landings_lie_in_their_regions_as_should_from_behind_the_launcher() -> None:
    """There a shot comes towards the camera, and how deep it lands is known least."""
    inside = []
    for seed in range(41, 46):
        for one in hits_of(seed, ("in", "long", "left", "right"), place="behind launcher").values():
            shot = one.shot()
            assert isinstance(shot, Shot), shot
            assert one.hit is not None
            off = np.subtract(shot.landing_m, one.hit.back.bounces()[0].place_m[:2])
            square = float(off @ np.linalg.solve(np.array(shot.covariance_m2), off))
            inside.append(square <= WITHIN_95)
    assert sum(inside) >= 16  # of 20: fewer come once in four hundred where 19 are meant (binomial)
