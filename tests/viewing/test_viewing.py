"""A person's way through a film: the court, then its balls, then done; and every way back."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable

import numpy as np
import pytest

from feedscript.court.landmarks import End
from feedscript.court.lines import COURTS
from feedscript.diagnostics import Diagnostic
from feedscript.tongues.tongue import Tongues
from feedscript.viewing.told import CourtTold, FindsTold, told
from feedscript.viewing.viewing import Sought, Stage, Viewing
from feedscript.viewing.words import place_words, reason_words
from feedscript.watch.fit.measured import Why
from feedscript.watch.frames.container import unusable
from feedscript.watch.ruler.anew import Standing
from feedscript.watch.ruler.points import named_places
from tests.viewing.looked import FULL, LOST, begun, finds, sought
from tests.watch.clips.shown import Shown


@pytest.fixture
def viewing(one: Shown) -> Viewing:
    return begun(one, finds(one))


def looked_for(viewing: Viewing) -> None:
    viewing.say_yes()
    assert viewing._thread is not None
    viewing._thread.join(20)


def court_of(viewing: Viewing) -> CourtTold:
    court = told(viewing).court
    assert court is not None
    return court


def finds_of(viewing: Viewing) -> FindsTold:
    found = told(viewing).finds
    assert found is not None
    return found


def test_the_court_then_the_balls_then_done(viewing: Viewing) -> None:
    assert viewing.ruler is not None
    looked_for(viewing)
    assert viewing.stage is Stage.FINDS
    assert viewing.say(0, "no")
    viewing.finish()
    assert viewing.finished
    answered = viewing.answered()
    assert answered is not None
    assert [getattr(ball, "said", None) for ball in answered.balls] == ["no", None]


def test_where_only_the_court_is_asked_about_a_yes_is_the_end(one: Shown) -> None:
    viewing = begun(one, None)
    viewing.say_yes()
    assert viewing.finished
    assert viewing.answered() is None


def test_nothing_goes_on_from_a_court_that_cannot_be_used(viewing: Viewing) -> None:
    viewing.show({"receiver t": (300.0, 200.0)}, None, by_lines=False)
    assert viewing.ruler is None
    viewing.say_yes()
    assert viewing.stage is Stage.COURT
    viewing.show({}, None)
    assert viewing.ruler is not None  # as it was


def test_each_part_of_a_film_gets_its_answer(one: Shown) -> None:
    """The camera was moved once: the second part is left out, and its balls are not measured."""
    seen: list[tuple[Standing, ...]] = []

    def look(
        places: tuple[Standing, ...], progress: Callable[[float], None]
    ) -> Sought | Diagnostic:
        seen.append(places)
        return sought(one)

    viewing = begun(one, look, parts=2)
    viewing.say_yes()
    assert (viewing.stage, court_of(viewing).part, court_of(viewing).parts) == ("court", 2, 2)
    viewing.leave_out()
    assert viewing._thread is not None
    viewing._thread.join(20)
    assert viewing.stage is Stage.FINDS
    assert [place.known is not None for place in seen[0]] == [True, False]
    assert viewing.places == seen[0]


def test_not_every_part_can_be_left_out(one: Shown) -> None:
    viewing = begun(one, finds(one), parts=2)
    viewing.leave_out()
    viewing.leave_out()
    assert (viewing.stage, court_of(viewing).part) == ("court", 2)
    viewing.go_back()
    assert court_of(viewing).part == 1


def test_only_a_ball_that_was_measured_gets_an_answer(viewing: Viewing) -> None:
    assert not viewing.say(0, "yes")  # not looked for yet
    looked_for(viewing)
    assert not viewing.say(LOST, "yes")
    assert not viewing.say(99, "yes")
    assert viewing.say(0, "yes")
    assert viewing.say(0, None)
    assert viewing.said == {0: None}


@pytest.mark.parametrize("raised", [True, False])
def test_why_balls_cannot_be_looked_for_is_told_beside_the_court(one: Shown, raised: bool) -> None:
    why = unusable(one.video.path, "it is gone")

    def look(
        places: tuple[Standing, ...], progress: Callable[[float], None]
    ) -> Sought | Diagnostic:
        if raised:
            raise why
        return why.diagnostic

    viewing = begun(one, look)
    looked_for(viewing)
    assert viewing.stage is Stage.COURT
    assert court_of(viewing).trouble["message"] == "it is gone"


@pytest.mark.parametrize("fault", [RuntimeError("the decoder died"), MemoryError()])
def test_a_decoder_that_dies_is_told_on_the_page_and_logged(
    one: Shown, fault: Exception, caplog: pytest.LogCaptureFixture
) -> None:
    def look(
        places: tuple[Standing, ...], progress: Callable[[float], None]
    ) -> Sought | Diagnostic:
        progress(0.5)
        raise fault

    viewing = begun(one, look)
    with caplog.at_level(logging.INFO, "feedscript.viewing"):
        looked_for(viewing)
    assert viewing.stage is Stage.COURT
    assert repr(fault) in court_of(viewing).trouble["message"]
    assert viewing.ruler is not None  # it can be tried again
    (line,) = caplog.records
    assert line.exc_info is not None
    assert line.exc_info[1] is fault


def test_going_back_ends_the_looking_and_lets_answers_go(one: Shown) -> None:
    begins, ended = threading.Event(), threading.Event()

    def look(
        places: tuple[Standing, ...], progress: Callable[[float], None]
    ) -> Sought | Diagnostic:
        begins.set()
        try:
            while True:
                progress(0.1)
        finally:
            ended.set()

    viewing = begun(one, look)
    viewing.say_yes()
    assert begins.wait(20)
    viewing.go_back()
    assert ended.is_set()
    assert viewing.stage is Stage.COURT
    assert viewing.ruler is not None


def test_the_ends_change_places_and_back(viewing: Viewing) -> None:
    before = court_of(viewing)
    viewing.change_ends()
    turned = court_of(viewing)
    assert {before.camera_at, turned.camera_at} == {"receiver", "launcher"}
    viewing.change_ends()
    again = court_of(viewing)
    assert again.camera_at == before.camera_at
    was = {point.name: point.px for point in before.points}
    for point in again.points:
        if point.px is not None:
            assert np.linalg.norm(np.subtract(point.px, was[point.name])) < 1


def test_the_court_is_drawn_where_the_camera_truly_has_it(viewing: Viewing, one: Shown) -> None:
    court = court_of(viewing)
    places, lens = named_places(FULL), one.fed.truth.lens
    seen = [point for point in court.points if point.px is not None]
    assert len(seen) > 6
    for point in seen:
        px, _ = lens.project(np.array([places[point.name]]))
        assert np.linalg.norm(np.subtract(point.px, px[0])) < 2
    assert court.by_lines
    assert court.worst_cm is not None
    assert court.worst_cm < 5
    assert any(line.ground for line in court.lines)
    assert {words for words, _ in court.ends} == {"receiver's end", "launcher's end"}


def test_a_point_that_is_shown_stays_where_it_was_put(viewing: Viewing) -> None:
    viewing.show({"receiver t": (301.5, 202.25)}, End.RECEIVER, by_lines=False)
    (point,) = (point for point in court_of(viewing).points if point.shown)
    assert (point.name, point.px) == ("receiver t", (301.5, 202.25))


def test_a_card_has_what_was_asked_and_what_was_found(viewing: Viewing, one: Shown) -> None:
    looked_for(viewing)
    measured, lost = finds_of(viewing).cards
    true_m = one.fed.ball.landing_m
    assert measured.landed_m is not None
    assert true_m is not None
    off = np.subtract(measured.region_m, measured.landed_m)
    assert np.linalg.norm(np.subtract(measured.landed_m, true_m)) < 0.2
    assert 100 * np.linalg.norm(off, axis=1).max() == pytest.approx(measured.within_cm, rel=0.02)
    assert measured.off_m == pytest.approx(np.hypot(*np.subtract(measured.landed_m, (0, 9))))
    assert (measured.feed, measured.launcher, measured.pictures) == ("xqdeep", "garage", True)
    assert (lost.landed_m, lost.why, lost.pictures) == (
        None,
        "nothing was seen along its way",
        False,
    )


def test_every_place_and_reason_has_words_in_every_language() -> None:
    for language in ("de", "es", "fr"):
        tongue = Tongues().named(language)
        assert tongue is not None
        told_so = [tongue(place_words(name, FULL)) for name in named_places(FULL)]
        assert len(set(told_so)) == len(told_so)
        for why in Why:
            reason = why.name.lower().replace("_", "-")
            assert tongue(reason_words(reason, why.value)) != why.value


def test_at_the_nets_end_a_person_is_asked_for_what_stands_there() -> None:
    """A singles net ends at singles sticks, 0.914 m outside its sidelines; the posts that people
    see beside a court with alleys are those of doubles (Rules of Tennis, Rule 1)."""
    words = {
        kind: place_words("ad net post foot", COURTS[kind])
        for kind in ("singles", "doubles", "red")
    }
    assert words == {
        "singles": "foot of the singles stick, ad side",
        "doubles": "foot of the net post, ad side",
        "red": "foot of the net post, ad side",
    }
