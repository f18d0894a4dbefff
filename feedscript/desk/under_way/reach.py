"""What the sliders of a feed show.

For its speed and its spin: the band that the launcher reaches at this landing, what the receiver
would meet there, and what the net and the rules allow. For each step that sends it: how soon.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise
from typing import TypeVar

import msgspec
import numpy as np

from feedscript.check.check_program import Verdict
from feedscript.desk.open_text import OpenText
from feedscript.desk.under_way.gaps import GapReach, gaps_of
from feedscript.desk.under_way.tries import Try, tried
from feedscript.editor.document import Document
from feedscript.editor.figures import Figure, written_here, written_unit
from feedscript.language.program import FeedWish
from feedscript.launcher.kinematics import natural_spin
from feedscript.launcher.profile.drives import Range
from feedscript.plan.model import AimedFeed
from feedscript.units import UNITS

#: Values that are tried along a slider, and then between two of which only one is good.
_TRIED = {Figure.SPEED: 17, Figure.TOP: 13, Figure.SIDE: 9}
_CLOSER = 3


T = TypeVar("T")


class SeenTry(msgspec.Struct, frozen=True):
    """One value of a slider, in its unit, and the ball that was tried there."""

    value: float
    ball: Try


class FigureReach(msgspec.Struct, frozen=True, kw_only=True):
    """One slider; ``note`` says what moving it does beside."""

    figure: Figure
    unit: str
    value: float
    least: float
    most: float
    step: float
    note: str = ""
    tries: tuple[SeenTry, ...] = ()


class Reach(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that the sliders of one feed show; or why there are none. ``fixed``: why speed and
    spin are only looked at."""

    name: str
    refused: str = ""
    fixed: str = ""
    figures: tuple[FigureReach, ...] = ()
    gaps: tuple[GapReach, ...] = ()


class WordsChangedError(Exception):
    """Nobody looks at the answer any more."""


def reach(
    document: Document, text: OpenText, name: str, stands: Callable[[], bool] = lambda: True
) -> Reach:
    """The sliders of the feed that the plan calls ``name``, whatever a program says.

    Raises WordsChangedError as soon as the words do not stand as they did: the check of the new
    ones is not to share the processor with this.
    """
    verdict = document.verdict
    plan = verdict.plan or verdict.draft
    if plan is None or verdict.program is None or verdict.places is None:
        return Reach(name=name, refused="mend the words first")
    index = next((at for at, feed in enumerate(plan.feeds) if feed.name == name), None)
    if index is None:
        return Reach(name=name, refused=f"nothing is called {name} now")
    wish = verdict.places.wishes[index]
    alone = msgspec.structs.replace(wish, vary=None)
    sliders = _while(stands, _sliders(document, verdict, plan.feeds[index], wish))
    figures = [_figure(verdict, index, alone, slider) for slider in sliders]
    gaps = tuple(_while(stands, gaps_of(document, text, plan, wish.name)))
    fixed = "" if written_here(document, wish.name) else "It is written in another file."
    return Reach(name=name, fixed=fixed, figures=tuple(figures), gaps=gaps)


def _while(stands: Callable[[], bool], parts: Iterable[T]) -> Iterator[T]:
    """The parts, as long as the words stand as they did."""
    for part in parts:
        if not stands():
            raise WordsChangedError("the words are others now")
        yield part


# --- speed and spin


def _sliders(
    document: Document, verdict: Verdict, feed: AimedFeed, wish: FeedWish
) -> Iterator[_Slider]:
    profile = verdict.profiles[feed.launcher]
    limits = profile.limits
    unit = written_unit(document, wish.name, Figure.SPEED)
    note = (
        "" if wish.speed_mps is not None else "moving this says its speed, from which all follows"
    )
    rows = [(Figure.SPEED, feed.speed_mps, limits.speed_mps, unit, note)]
    spins = (
        (Figure.TOP, feed.top_rpm, limits.spin_rpm),
        (Figure.SIDE, feed.side_rpm, limits.side_rpm),
    )
    if natural_spin(profile.drive, feed.speed_mps) is None:
        rows += [(figure, value, held, "rpm", "") for figure, value, held in spins]
    for figure, value, held, unit_of, its in rows:
        if held.most - held.least > 0:
            yield _Slider(figure, value, held, unit_of, its)


class _Slider(msgspec.Struct, frozen=True):
    figure: Figure
    value: float
    limits: Range
    unit: str
    note: str

    @property
    def factor(self) -> float:
        """One of its unit, in the internal one."""
        return UNITS[self.unit].factor

    @property
    def step(self) -> float:
        """The finest that is written: nobody says a tenth of a km/h. Design values."""
        if self.figure is not Figure.SPEED:
            return 10.0
        return 1.0 if self.factor < 0.9 else 0.5

    @property
    def ends(self) -> tuple[float, float]:
        """Least and most, in whole steps within the launcher's limits."""
        step = self.step * self.factor
        least = np.ceil(self.limits.least / step - 1e-9) * self.step
        most = np.floor(self.limits.most / step + 1e-9) * self.step
        return max(float(least), self.step) if self.figure is Figure.SPEED else float(least), float(
            most
        )

    def wish(self, wish: FeedWish, value: float) -> FeedWish:
        """The wish with this value of the slider's own unit."""
        amount = value * self.factor
        if self.figure is Figure.SPEED:
            settled = {"speed_mps": amount, "apex_m": None, "flight_s": None, "contact": None}
            return msgspec.structs.replace(wish, **settled)
        field = "top_rpm" if self.figure is Figure.TOP else "side_rpm"
        spans = {**wish.spans, "spin": wish.span}  # it is said now, and follows from nothing
        return msgspec.structs.replace(wish, spans=spans, **{field: amount})


def _figure(verdict: Verdict, index: int, wish: FeedWish, slider: _Slider) -> FigureReach:
    least, most = slider.ends
    values = _whole(slider, np.linspace(least, most, _TRIED[slider.figure]))
    known = _try(verdict, index, wish, slider, values)
    closer = [value for value in _between(slider, known) if value not in known]
    known |= _try(verdict, index, wish, slider, closer)
    return FigureReach(
        figure=slider.figure,
        unit=slider.unit,
        value=round(slider.value / slider.factor, 2),
        least=least,
        most=most,
        step=slider.step,
        note=slider.note,
        tries=tuple(SeenTry(value, known[value]) for value in sorted(known)),
    )


def _whole(
    slider: _Slider, values: Sequence[float] | np.ndarray[tuple[int], np.dtype[np.float64]]
) -> list[float]:
    """In whole steps, each once."""
    return sorted({round(round(value / slider.step) * slider.step, 2) for value in values})


def _try(
    verdict: Verdict, index: int, wish: FeedWish, slider: _Slider, values: Sequence[float]
) -> dict[float, Try]:
    wishes = [slider.wish(wish, value) for value in values]
    return dict(zip(values, tried(verdict, index, wishes), strict=True)) if wishes else {}


def _between(slider: _Slider, known: dict[float, Try]) -> list[float]:
    """Values between two of which one is good and the other not."""
    found: list[float] = []
    values = sorted(known)
    for low, high in pairwise(values):
        if _state(known[low]) != _state(known[high]):
            found += np.linspace(low, high, _CLOSER + 2)[1:-1].tolist()
    return _whole(slider, found)


def _state(one: Try) -> tuple[bool, bool]:
    return one.can, not one.why
