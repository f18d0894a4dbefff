"""A lesson found in a film's sound; the sound is the scene's, which shares no code with it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec
import numpy as np
import pytest

from feedscript.diagnostics import Diagnostic
from feedscript.watch.frames.sound import Sound
from feedscript.watch.sync.align import Clock, Event, align
from feedscript.watch.sync.heard import sudden
from tests.watch.scene.hearing import RATE_HZ, heard_s, noises, sound
from tests.watch.scene.practices import feeds, practice
from tests.watch.scene.recipe import Scene

UTC_S = 1_799_859_600.0
#: How well a journal knows when a ball left.
SD_S = 0.02


def lesson(left_s: Sequence[float], seed: int = 1) -> Scene:
    """Balls that leave at these times of the film, and a clap."""
    random = np.random.default_rng(seed)
    flights = [feeds(1, random, first_s=at_s)[1][0] for at_s in left_s]
    base = practice(seed, balls=1).scene
    length_s = max(left_s) + 4
    return msgspec.structs.replace(base, flights=tuple(flights), duration_s=length_s)


def pieces(scene: Scene, murmur: float = 0.004) -> Iterator[Sound]:
    """In blocks, as a film's file gives it."""
    whole = sound(scene, murmur=murmur)
    for first in range(0, len(whole), 1021):
        yield Sound(RATE_HZ, first / RATE_HZ, whole[first : first + 1021])


def events(scene: Scene, random: np.random.Generator, gain: float = 0.0) -> list[Event]:
    """What the journal says of it: film time 0 is ``UTC_S``; its clock goes slower by ``gain``."""
    firsts = {next(iter(flight.bounces())).at_s for flight in scene.flights}
    found = []
    for one in noises(scene):
        if one.what == "thump" or one.at_s in firsts:
            sd_s, share = (SD_S, 0.8) if one.what == "thump" else (0.06, 0.6)
            takes_s = heard_s(scene, one) - one.at_s
            utc_s = UTC_S + one.at_s / (1 + gain) + random.normal(0, sd_s)
            found.append(Event(utc_s, takes_s, sd_s, share))
    return found


def clock(result: Clock | Diagnostic) -> Clock:
    assert isinstance(result, Clock), result
    return result


IRREGULAR = (2.0, 6.1, 9.7, 14.9, 18.2, 24.0, 27.5, 33.3, 36.9, 41.0)


@pytest.fixture(scope="module")
def scene() -> Scene:
    return lesson(IRREGULAR)


@pytest.fixture(scope="module")
def sounds(scene: Scene) -> np.ndarray:
    return sudden(pieces(scene))


def test_every_thump_and_first_bounce_is_heard(scene: Scene, sounds: np.ndarray) -> None:
    made = noises(scene)
    firsts = {next(iter(flight.bounces())).at_s for flight in scene.flights}
    wanted = [one for one in made if one.what == "thump" or one.at_s in firsts]
    off = np.abs(sounds[:, None] - np.array([heard_s(scene, one) for one in wanted]))
    assert np.quantile(off.min(0), 0.9) < 0.003
    assert off.min(0).max() < SD_S
    everything = np.array([heard_s(scene, one) for one in made])
    assert (np.abs(sounds[:, None] - everything).min(1) < 0.02).mean() > 0.9  # and little else


def test_the_lesson_is_found_in_the_film(scene: Scene, sounds: np.ndarray) -> None:
    errors, sds = [], []
    for seed in range(20):
        expected = events(scene, np.random.default_rng(seed))
        found = clock(align(expected, sounds, scene.duration_s, "film"))
        errors.append(found.film_s(UTC_S + 25.0) - 25.0)
        sds.append(found.error_s(UTC_S + 25.0))
    assert np.abs(errors).max() < 3.5 * SD_S / np.sqrt(len(IRREGULAR))
    assert 0.6 < np.std(errors) / np.mean(sds) < 1.5


def test_a_film_of_a_part_of_the_lesson_is_found_too(scene: Scene, sounds: np.ndarray) -> None:
    part = sounds[(sounds > 8) & (sounds < 40)] - 8
    found = clock(align(events(scene, np.random.default_rng(1)), part, 32.0, "film"))
    assert abs(found.film_s(UTC_S + 20.0) - 12.0) < 0.03
    assert found.expected == 14  # seven balls leave and bounce in it


def test_a_clock_that_gains_is_followed(scene: Scene, sounds: np.ndarray) -> None:
    """Over an hour 80 parts in a million are 0.29 s."""
    later = np.concatenate([sounds, sounds + 1800, sounds + 3600])
    once = events(scene, np.random.default_rng(2))
    gained = [
        Event(UTC_S + (one.at_utc_s - UTC_S + far) / (1 + 80e-6), one.takes_s, one.sd_s, one.share)
        for far in (0, 1800, 3600)
        for one in once
    ]
    found = clock(align(gained, later, 3645.0, "film"))
    assert abs(found.gain - 80e-6) < 12e-6
    assert abs(found.film_s(UTC_S + 3625.0 / (1 + 80e-6)) - 3625.0) < 0.03


def test_like_balls_at_an_even_beat_are_not_guessed_but_asked_for() -> None:
    even = np.arange(10) * 4.0 + 3
    expected = [Event(UTC_S + at_s, 0.0, SD_S, 0.8) for at_s in even]
    refused = align(expected, even, 45.0, "film")
    assert isinstance(refused, Diagnostic)
    assert "two ways, 4.0 s apart" in refused.message
    told = clock(align(expected, even, 45.0, "film", said=(UTC_S + 3, 3.3)))
    assert abs(told.film_s(UTC_S + 3) - 3.0) < 0.02


def test_sounds_of_something_else_are_refused(scene: Scene) -> None:
    expected = events(scene, np.random.default_rng(3))
    refusals = 0
    for seed in range(20):
        other = np.sort(np.random.default_rng(seed).uniform(0, 45, 70))
        refusals += isinstance(align(expected, other, 45.0, "film"), Diagnostic)
    assert refusals == 20


def test_silence_and_an_empty_lesson_are_refused(scene: Scene) -> None:
    expected = events(scene, np.random.default_rng(3))
    assert isinstance(align(expected, np.empty(0), 54.0, "film"), Diagnostic)
    assert isinstance(align([], np.array([1.0]), 54.0, "film"), Diagnostic)
    assert len(sudden([Sound(RATE_HZ, 0.0, np.zeros(RATE_HZ, np.float32))])) == 0
    assert len(sudden([])) == 0


def test_a_rate_that_no_hop_divides_keeps_its_time() -> None:
    """At 44.1 kHz two milliseconds are no whole number of samples."""
    rate_hz = 44_100
    samples = 1e-4 * np.random.default_rng(1).standard_normal(120 * rate_hz)
    clicks_s = np.array([1.0, 30.0, 60.0, 119.0])
    for at_s in clicks_s:
        first = round(at_s * rate_hz)
        samples[first : first + 200] += 0.5 * np.sin(np.arange(200) * 0.3) * np.hanning(400)[200:]
    found = sudden([Sound(rate_hz, 0.5, samples.astype(np.float32))])
    assert np.abs(found[:, None] - 0.5 - clicks_s).min(0).max() < 0.003
    assert len(found) == len(clicks_s)
