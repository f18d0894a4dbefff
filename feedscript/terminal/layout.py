"""The layout of a screen: what matters most keeps its lines, and the keys stay below."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
from rich.console import Console, ConsoleOptions, RenderResult
from rich.segment import Segment
from rich.text import Text

from feedscript.visible import visible


class Block(msgspec.Struct, frozen=True, kw_only=True):
    """Lines that belong together, the most important first. The lowest ``rank`` is served first;
    ``below`` puts the block at the foot of the screen; ``packed`` lines share lines, each whole."""

    rank: int
    lines: tuple[Text, ...]
    below: bool = False
    packed: bool = False


class ScreenLayout(msgspec.Struct, frozen=True):
    """Blocks on exactly one screen, each line cut at its width or wrapped."""

    blocks: tuple[Block, ...]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        width, height = options.max_width, options.height or console.size.height
        wrapped = [_wrapped(block, console, width) for block in self.blocks]
        ranked = [(b.rank, lines) for b, lines in zip(self.blocks, wrapped, strict=True)]
        shown = list(zip(self.blocks, lines_shown(ranked, height), strict=True))
        above = [lines for block, lines in shown if lines and not block.below]
        below = [line for block, lines in shown for line in lines if block.below]
        spare = height - len(below) - sum(len(lines) for lines in above)
        for number, line in enumerate([*_spaced(above, spare), *below]):
            if number:
                yield Segment.line()
            yield from line.render(console)


def _spaced(blocks: list[list[Text]], spare: int) -> list[Text]:
    """The blocks' lines, an empty one between blocks as far as they reach, the rest at the end."""
    lines: list[Text] = []
    for number, block in enumerate(blocks):
        if number and spare > 1:
            lines.append(Text(""))
            spare -= 1
        lines += block
    return lines + [Text("")] * spare


def _wrapped(block: Block, console: Console, width: int) -> list[Text]:
    lines = _packed(block.lines, width) if block.packed else block.lines
    return [part for line in lines for part in _seen(line).wrap(console, width)]


def _seen(line: Text) -> Text:
    """A terminal obeys what it is sent, and a line may quote anybody's words."""
    line = line.copy()
    line.plain = visible(line.plain)  # as long as before, so its styles stay in place
    return line


def _packed(items: Sequence[Text], width: int) -> list[Text]:
    """As many items to a line as find room, two spaces between them."""
    lines: list[Text] = []
    for item in items:
        if lines and lines[-1].cell_len + 2 + item.cell_len <= width:
            lines[-1] = Text.assemble(lines[-1], "  ", item)
        else:
            lines.append(item)
    return lines


def lines_shown(blocks: Sequence[tuple[int, list[Text]]], height: int) -> list[list[Text]]:
    """The lines of each block that find room; where some do not, the last one says so."""
    shown: dict[int, list[Text]] = {}
    room = height
    for number in sorted(range(len(blocks)), key=lambda n: blocks[n][0]):
        lines = blocks[number][1]
        kept = lines[:room]
        if kept and len(kept) < len(lines):
            kept = [*kept[:-1], Text("…", style="dim")]
        shown[number] = kept
        room -= len(kept)
    return [shown[number] for number in range(len(blocks))]
