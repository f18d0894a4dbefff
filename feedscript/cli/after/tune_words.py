"""What tuning found, in words and as plain data."""

from __future__ import annotations

import math
from typing import Any

import msgspec

from feedscript.check.bootstrap import Bootstrap
from feedscript.launcher.kinematics import drive_names, drive_unit
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.setting import Setting
from feedscript.launcher.tuning.design import Design
from feedscript.launcher.tuning.drift import Drift
from feedscript.launcher.tuning.fit import CONFIDENCE, Fit, Fitted
from feedscript.launcher.tuning.improvement import Improvement, Median
from feedscript.launcher.tuning.lack_of_fit import LackOfFit
from feedscript.launcher.tuning.shots import Shots
from feedscript.launcher.tuning.spread import Spread

_DESIGN_HEADS = ("tilt, degrees", "pan, degrees", "balls", "lands at, m", "to the right")


def design_words(design: Design, profile: Profile) -> str:
    """The balls to throw, and what may be known afterwards."""
    unit = drive_unit(profile.drive)
    heads = [f"{name}, {unit}" for name in drive_names(profile.drive)]
    width = max(14, *(len(head) for head in heads))
    rows = ["  ".join(f"{h:>{width}}" for h in [*heads, *_DESIGN_HEADS])]
    for one in design.proposals:
        cells = [f"{drive:g}" for drive in one.setting.drives]
        cells += [f"{one.setting.tilt_deg:.2f}", f"{one.setting.pan_deg:g}", str(one.balls)]
        cells += [f"{one.along_m:.1f}", f"{one.right_m:.1f}"]
        rows.append("  ".join(f"{cell:>{width}}" for cell in cells))
    rows += ["", "with feedscript jog, after arm, each followed by move and, ball by ball, feed:"]
    rows += [f"  {jog_line(one.setting)}" for one in design.proposals]
    balls = sum(one.balls for one in design.proposals)
    rows.append("")
    rows.append(f"{balls} balls on an empty court, nobody in front. They should tell")
    for factor, half in design.expected:
        rows.append(f"  {factor.key:<22} to ±{half:.3g} {factor.unit}".rstrip())
    return "\n".join(rows)


def jog_line(setting: Setting) -> str:
    """The line that sets a launcher so by hand."""
    drives = " ".join(f"{drive:.0f}" for drive in setting.drives)
    roll = f" roll {setting.roll_deg:g}" if setting.roll_deg else ""
    return f"set {drives} tilt {setting.tilt_deg:g} pan {setting.pan_deg:g}{roll}"


def design_plain(design: Design) -> dict[str, Any]:
    return {
        "proposals": [
            {
                "drives": list(one.setting.drives),
                "tilt_deg": one.setting.tilt_deg,
                "pan_deg": one.setting.pan_deg,
                "roll_deg": one.setting.roll_deg,
                "jog": jog_line(one.setting),
                "balls": one.balls,
                "along_m": one.along_m,
                "right_m": one.right_m,
            }
            for one in design.proposals
        ],
        "expected_half": {factor.key: half for factor, half in design.expected},
    }


def fit_words(fit: Fit, shots: Shots, gain: Improvement | None) -> str:
    """Each factor with its interval, the scatter, which balls were set aside, and the gain."""
    rows = [f"{'factor':<22} {'was':>9} {'is':>9}   {CONFIDENCE:.0%} interval"]
    for one in fit.factors:
        rows.append(_fitted_words(one))
    rows.append(_spread_words("scatter along", fit.along))
    rows.append(_spread_words("scatter across", fit.across))
    rows.append(_lack_words(fit.lack))
    if fit.set_aside:
        lines = ", ".join(str(shots.lines[i]) for i in fit.set_aside)
        rows.append(f"set aside, far outside the others: lines {lines}")
    if gain is not None:
        rows += ["", *_gain_words(gain)]
    return "\n".join(rows)


def bootstrap_words(again: Bootstrap, fit: Fit) -> str:
    """Each factor's interval by the balls alone, and how wide it is beside the fit's own."""
    rows = [f"{CONFIDENCE:.0%} of {again.refits} fits to balls drawn again (seed {again.seed}):"]
    for one, fitted in zip(again.intervals, fit.factors, strict=True):
        if not fitted.tells_something:
            rows.append(f"{one.factor.key:<22} ?   these balls do not tell")
            continue
        wide = (one.most - one.least) / (2 * fitted.half)
        row = f"{one.factor.key:<22} {one.least:.4g} to {one.most:.4g} {one.factor.unit}".rstrip()
        rows.append(f"{row}   ({wide:.2g} times as wide as above)")
    return "\n".join(rows)


def bootstrap_plain(again: Bootstrap, fit: Fit) -> dict[str, Any]:
    """Nothing of a factor that the balls do not tell: too few of them agree by chance."""
    return {
        "refits": again.refits,
        "seed": again.seed,
        "intervals": {
            one.factor.key: [one.least, one.most]
            for one, fitted in zip(again.intervals, fit.factors, strict=True)
            if fitted.tells_something
        },
    }


def _gain_words(gain: Improvement) -> list[str]:
    """Before and after, by balls that took no part in the fit that they are held against."""
    rows = [f"{'off by, median':<22} {'before':>22} {'after':>22}"]
    for name, before, after in (
        ("single balls", gain.before, gain.after),
        ("middles of settings", gain.bias_before, gain.bias_after),
    ):
        rows.append(f"{name:<22} {_median_words(before):>22} {_median_words(after):>22}")
    if gain.scatter_m is not None:
        rows.append(
            f"{'scatter of the balls':<22} {gain.scatter_m:.2f} m about the middle of their own "
            "setting, which no tuning takes away"
        )
    return rows


def _median_words(median: Median) -> str:
    return f"{median.value_m:.2f} m ({median.least_m:.2f} to {median.most_m:.2f})"


def _fitted_words(one: Fitted) -> str:
    low, high = one.interval
    if not one.tells_something:
        return f"{one.factor.key:<22} {one.before:9.4g} {'?':>9}   these balls do not tell"
    row = f"{one.factor.key:<22} {one.before:9.4g} {one.value:9.4g}   {low:.4g} to {high:.4g}"
    verdict = "" if one.determined else "   (too wide to be written down)"
    return f"{row} {one.factor.unit}".rstrip() + verdict


def _spread_words(name: str, spread: Spread) -> str:
    if not spread.known:
        return f"{name:<22} not determined; the profile's dispersion stays"
    return (
        f"{name:<22} {'1':>9} {spread.scale:9.3g}   {spread.least:.3g} to {spread.most:.3g} "
        f"times the profile's{'' if spread.differs else ': it stays'}"
    )


def _lack_words(lack: LackOfFit | None) -> str:
    """What the model itself misses by, apart from the scatter of the balls."""
    name = f"{'bias of the model':<22} "
    if lack is None:
        return f"{name}not told from scatter: too few balls at one setting"
    if not lack.found:
        return f"{name}none that shows beside the scatter"
    along, across = lack.bias_m
    if max(along, across) < 0.005:
        return f"{name}none in the landings, but speeds or flight times do not go with them"
    return (
        f"{name}misses single settings by {along:.2f} m along and {across:.2f} m across (root mean "
        "square) beyond scatter; it is no part of the dispersion"
    )


def _lack_plain(lack: LackOfFit | None) -> dict[str, Any] | None:
    if lack is None:
        return None
    along, across = lack.bias_m
    return {
        "found": lack.found,
        "chance": lack.chance,
        "bias_along_m": along,
        "bias_across_m": across,
    }


def _spread_plain(spread: Spread) -> dict[str, Any]:
    return {
        "scale": spread.scale if spread.known else None,
        "interval": [spread.least, spread.most] if spread.known else None,
    }


def fit_plain(fit: Fit, shots: Shots, gain: Improvement | None) -> dict[str, Any]:
    return {
        "confidence": CONFIDENCE,
        "factors": [
            {
                "key": one.factor.key,
                "before": one.before,
                "value": one.value,
                "interval": [end if math.isfinite(end) else None for end in one.interval],
                "unit": one.factor.unit,
                "determined": one.determined,
            }
            for one in fit.factors
        ],
        "scatter_along": _spread_plain(fit.along),
        "scatter_across": _spread_plain(fit.across),
        "lack_of_fit": _lack_plain(fit.lack),
        "balls": len(shots),
        "set_aside_lines": [shots.lines[i] for i in fit.set_aside],
        "improvement": msgspec.to_builtins(gain),
    }


def drift_words(drift: Drift, shots: Shots) -> str:
    """Whether the landings still fit, and how they lean if not."""
    along, right = drift.shift_m
    side = "right" if right >= 0 else "left"
    rows = [
        f"{len(shots)} balls: landings are {abs(along):.2f} m "
        f"{'longer' if along >= 0 else 'shorter'} and {abs(right):.2f} m farther {side} than the "
        "profile says (medians)",
        f"chance alone would move them as much {_chance(drift.place_chance)}",
        f"chance alone would spread them as much {_chance(drift.spread_chance)}",
    ]
    if drift.set_aside:
        lines = ", ".join(str(shots.lines[i]) for i in drift.set_aside)
        rows.append(f"set aside, far outside the others: lines {lines}")
    if drift.fits:
        rows.append("the profile still fits")
        return "\n".join(rows)
    rows.append("the profile no longer fits")
    if drift.moved:
        rows.append("one factor alone would explain it best as (likeliest first):")
        for lean in drift.leans[:3]:
            change = f"{lean.change:+.3g} ±{lean.half:.2g} {lean.factor.unit}".rstrip()
            rows.append(f"  {lean.factor.key:<22} {change}")
    rows.append("measure a full set (feedscript tune --propose) and tune again")
    return "\n".join(rows)


def _chance(chance: float) -> str:
    return f"{chance:.1%} of the time" if chance >= 0.001 else "less than one time in a thousand"


def drift_plain(drift: Drift, shots: Shots) -> dict[str, Any]:
    return {
        "fits": drift.fits,
        "moved": drift.moved,
        "wider": drift.wider,
        "place_chance": drift.place_chance,
        "spread_chance": drift.spread_chance,
        "shift_along_m": drift.shift_m[0],
        "shift_right_m": drift.shift_m[1],
        "leans": [
            {"key": lean.factor.key, "change": lean.change, "half": lean.half}
            for lean in drift.leans
        ],
        "balls": len(shots),
        "set_aside_lines": [shots.lines[i] for i in drift.set_aside],
    }
