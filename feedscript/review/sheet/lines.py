"""Lines that sheet and cards have alike, as HTML."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from feedscript.plan.model import Plan
from feedscript.review.drawing.drawn_flights import DrawnFlight
from feedscript.review.sheet import words
from feedscript.review.sheet.blocks import Block, Fed
from feedscript.tongues.text import _
from feedscript.tongues.tongue import Tongue

LETTER_STYLE = """
.whole { display: inline-block; text-indent: 0; }
.letter { display: inline-block; text-indent: 0; min-width: 1.5em; margin-right: .3em;
  text-align: center; line-height: 1.1; border: 1.2pt solid var(--colour); border-radius: 1mm; }
"""


def said_lines(lines: Iterable[tuple[str, str]], tongue: Tongue) -> str:
    """A head and its words, line by line; those without words are left out."""
    return "".join(_said_line(head, said, tongue) for head, said in lines if said)


def _said_line(head: str, said: str, tongue: Tongue) -> str:
    mark = tongue(_("{head}:", head=head))
    return f"<p><b>{escape(mark)}</b> {escape(tongue(said))}</p>"


def fed_list(plan: Plan, block: Block, tongue: Tongue) -> str:
    """The kinds of ball of a block, by the letters of its picture."""
    rows = "".join(f"<li>{_fed(plan, one, tongue)}</li>" for one in block.fed)
    return f"<ul>{rows}</ul>" if rows else ""


def _fed(plan: Plan, one: Fed, tongue: Tongue) -> str:
    """A kind of ball by its letter, and that of its mirror with those who get it."""
    said = _letter(one.flight) + escape(tongue(words.fed(plan, one)))
    if one.mirror is None:
        return said
    who = escape(words.names(plan, one.mirror.players))
    return f'{said}; <span class="whole">{_letter(one.mirror.flight)}{who}</span>'


def _letter(one: DrawnFlight) -> str:
    """The feed's letter as it stands in the picture."""
    return f'<b class="letter" style="--colour: {one.style.colour}">{one.style.letter}</b>'
