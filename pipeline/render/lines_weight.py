"""Which lists of a page of lists are shown whole, which as sums, and which are left to the command: by bytes.

Sums come first, because they add up to the figure and lead on; then the shortest lists in their place, as far as the
page carries them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from pipeline.render.lines_blocks import Block
from pipeline.render.page_weight import text_bytes

BLOCK_BYTES, OF_BYTES = 210, 30  # of the marks of a figure, and of a figure that it is worked out from
TABLE_BYTES = 640  # of the head and foot of a list
ITEM_BYTES, SUM_BYTES = 135, 115  # of the marks of an item with its rows, and of a sum


def fixed_bytes(block: Block) -> int:
    """What a figure takes without its list."""
    words = (
        block.id,
        block.id,
        block.label,
        block.label,
        block.value,
        block.exact,
        block.raw,
        block.how,
        block.command,
    )
    of = sum(OF_BYTES + sum(text_bytes(part) for part in one.values()) for one in block.of)
    return BLOCK_BYTES + sum(text_bytes(word) for word in words) + of


def list_bytes(block: Block) -> int:
    """What the items of a figure take, with their rows."""
    return bool(block.items) * TABLE_BYTES + sum(
        ITEM_BYTES + sum(len(part.encode()) for part in (amount, item.when, item.what, item.rows))
        for amount, item in block.items
    )


def sums_bytes(block: Block) -> int:
    """What the sums of a figure take."""
    return bool(block.sums) * TABLE_BYTES + sum(
        SUM_BYTES + sum(text_bytes(one[part]) for part in ("name", "href", "amount")) for one in block.sums
    )


def lightened(blocks: Sequence[Block], most_bytes: int) -> tuple[list[Block], bool]:
    """The blocks with what fits into ``most_bytes``, and whether anything was left to the command."""
    lists, sums = [list_bytes(block) for block in blocks], [sums_bytes(block) for block in blocks]
    left = most_bytes - sum(fixed_bytes(block) for block in blocks)
    shown = ["" for _ in blocks]
    for place in sorted(range(len(blocks)), key=lambda place: (_least(lists[place], sums[place]), place)):
        least = _least(lists[place], sums[place])
        if least <= left:
            shown[place] = "list" if blocks[place].items and lists[place] == least else "sums"
            left -= least
    for place in sorted(range(len(blocks)), key=lambda place: (lists[place], place)):
        if blocks[place].items and shown[place] == "sums" and lists[place] - sums[place] <= left:
            shown[place] = "list"
            left -= lists[place] - sums[place]
    is_full = any(not form and (block.items or block.sums) for form, block in zip(shown, blocks, strict=True))
    return [_in_form(block, form) for block, form in zip(blocks, shown, strict=True)], is_full


def _least(listed: int, summed: int) -> int:
    return min(listed, summed) if listed and summed else listed or summed


def _in_form(block: Block, form: str) -> Block:
    if form == "list":
        return block
    return replace(block, items=(), sums=block.sums if form == "sums" else ())
