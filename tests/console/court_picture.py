"""Where a place of the court is seen in the page's picture, worked out from the lines drawn there.

Not from the page's own transform: the doubles court is 10.97 m by 23.77 m (ITF, Rules of Tennis,
rule 1), and where its ends and sides lie on the screen is said here for each place to stand.
"""

from __future__ import annotations

HALF_LENGTH_M, HALF_WIDTH_M = 11.885, 5.485

#: The middle of each doubles sideline and baseline on the screen.
_OUTLINE = """picture => {
  const at = [...document.querySelectorAll(`${picture} line`)].map((one) => {
    const box = one.getBoundingClientRect();
    return [box.x + box.width / 2, box.y + box.height / 2, one];
  });
  const long = at.filter(([, , one]) => Math.abs(one.x1.baseVal.value) > 5.4
    && one.x1.baseVal.value === one.x2.baseVal.value);
  const ends = at.filter(([, , one]) => Math.abs(one.y1.baseVal.value) > 11.8
    && one.y1.baseVal.value === one.y2.baseVal.value);
  const span = (all, axis) => [Math.min(...all.map((p) => p[axis])),
    Math.max(...all.map((p) => p[axis]))];
  return { x: span([...long, ...ends], 0), y: span([...long, ...ends], 1) };
}"""


async def seen_at(
    page, picture: str, stand: str, across_m: float, along_m: float
) -> tuple[float, float]:
    """Pixels of a place (metres to the ad side, and from the net to the receiver's end)."""
    outline = await page.evaluate(_OUTLINE, picture)
    ad, far = across_m / HALF_WIDTH_M, along_m / HALF_LENGTH_M  # -1 to 1
    right, down = {
        "player": (-ad, far),  # the receiver's end is near: below; his ad court to his left
        "launcher": (ad, -far),
        "side": (far, ad),  # the launcher to the left, so the ad side is near
    }[stand]
    (left, r), (top, b) = outline["x"], outline["y"]
    return (
        (left + r) / 2 + right * (r - left) / 2,
        (top + b) / 2 + down * (b - top) / 2,
    )


async def stand_at(page, stand: str) -> None:
    """Choose where the coach stands."""
    await page.evaluate("document.getElementById('more').open = true")
    await page.select_option("#stand", stand)
    await page.evaluate("document.getElementById('more').open = false")
