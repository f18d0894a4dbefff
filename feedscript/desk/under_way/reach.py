"""What the sliders of a feed show.

For its speed and its spin: the band that the launcher reaches at this landing, what the receiver
would meet there, and what the net and the rules allow. For each step that sends it: how soon.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

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
from feedscript.tongues.text import _
from feedscript.units import UNITS

#: Values that are tried along a slider, and then between two of which only one is good.
_TRIED = {Figure.SPEED: 17, Figure.TOP: 13, Figure.SIDE: 9}
_CLOSER = 3


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


def reach(document: Document, text: OpenText, name: str) -> Reach:
    """The sliders of the feed that the plan calls ``name``, whatever a program says."""
    verdict = document.verdict
    plan = verdict.plan or verdict.draft
    if plan is None or verdict.program is None or verdict.places is None:
        return Reach(name=name, refused=_("mend the words first"))
    index = next((at for at, feed in enumerate(plan.feeds) if feed.name == name), None)
    if index is None:
        return Reach(name=name, refused=_("nothing is called {name} now", name=name))
    wish = verdict.places.wishes[index]
    alone = msgspec.structs.replace(wish, vary=None)
    sliders = tuple(_sliders(document, verdict, plan.feeds[index], wish))
    figures = _figures(document, index, alone, sliders)
    gaps = tuple(gaps_of(document, text, plan, wish.name))
    fixed = "" if written_here(document, wish.name) else _("It is written in another file.")
    return Reach(name=name, fixed=fixed, figures=figures, gaps=gaps)


# --- speed and spin


def _sliders(
    document: Document, verdict: Verdict, feed: AimedFeed, wish: FeedWish
) -> Iterator[_Slider]:
    profile = verdict.profiles[feed.launcher]
    limits = profile.limits
    unit = written_unit(document, wish.name, Figure.SPEED)
    note = (
        ""
        if wish.speed_mps is not None
        else _("moving this says its speed, from which all follows")
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
    def own(self) -> float:
        """What the feed has, in its unit."""
        return round(self.value / self.factor, 2)

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
        amount = self.value if value == self.own else value * self.factor
        if self.figure is Figure.SPEED:
            settled = {"speed_mps": amount, "apex_m": None, "flight_s": None, "contact": None}
            return msgspec.structs.replace(wish, **settled)
        field = "top_rpm" if self.figure is Figure.TOP else "side_rpm"
        spans = {**wish.spans, "spin": wish.span}  # it is said now, and follows from nothing
        return msgspec.structs.replace(wish, spans=spans, **{field: amount})


#: What is known of a slider's values.
_Known = dict[float, Try]


def _figures(
    document: Document, index: int, wish: FeedWish, sliders: Sequence[_Slider]
) -> tuple[FigureReach, ...]:
    """Every slider, all their balls flown together: those along them, then the closer ones."""
    along = [_along(slider) for slider in sliders]
    known = _try(document, index, wish, sliders, along)
    closer = [_between(slider, tries) for slider, tries in zip(sliders, known, strict=True)]
    more = _try(document, index, wish, sliders, closer)
    return tuple(
        _figure(slider, {**tries, **others})
        for slider, tries, others in zip(sliders, known, more, strict=True)
    )


def _figure(slider: _Slider, known: Mapping[float, Try]) -> FigureReach:
    least, most = slider.ends
    return FigureReach(
        figure=slider.figure,
        unit=slider.unit,
        value=slider.own,
        least=least,
        most=most,
        step=slider.step,
        note=slider.note,
        tries=tuple(SeenTry(value, known[value]) for value in sorted(known)),
    )


def _along(slider: _Slider) -> list[float]:
    least, most = slider.ends
    own = slider.own if least <= slider.own <= most else None  # what the picture shows, exactly
    along = _whole(slider, np.linspace(least, most, _TRIED[slider.figure]))
    return along if own is None else sorted({*along, own})


def _whole(
    slider: _Slider, values: Sequence[float] | np.ndarray[tuple[int], np.dtype[np.float64]]
) -> list[float]:
    """In whole steps, each once."""
    return sorted({round(round(value / slider.step) * slider.step, 2) for value in values})


def _try(
    document: Document,
    index: int,
    wish: FeedWish,
    sliders: Sequence[_Slider],
    values: Sequence[Sequence[float]],
) -> list[_Known]:
    """What becomes of the values of each slider."""
    each = list(zip(sliders, values, strict=True))
    wishes = [slider.wish(wish, value) for slider, own in each for value in own]
    balls = iter(tried(document.verdict, index, wishes, document.memo)) if wishes else iter(())
    return [{value: next(balls) for value in own} for own in values]


def _between(slider: _Slider, known: _Known) -> list[float]:
    """New values between two of which one is good and the other not."""
    found: list[float] = []
    values = sorted(known)
    for low, high in pairwise(values):
        if _state(known[low]) != _state(known[high]):
            found += np.linspace(low, high, _CLOSER + 2)[1:-1].tolist()
    return [value for value in _whole(slider, found) if value not in known]


def _state(one: Try) -> tuple[bool, bool]:
    return one.can, not one.why
