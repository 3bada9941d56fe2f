"""Where the words on a strip go, so that none runs into another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

LETTER = 5.9  # width of a letter at 11 px, on the wide side
LONGEST = 34


@dataclass(frozen=True)
class Mark:
    """An instant on a lane. ``level`` is the line its words stand on, -1 for none; ``anchor`` where they start."""

    x: float
    label: str
    is_sign: bool = False
    level: int = 0
    anchor: str = "start"


def place_marks(marks: Sequence[Mark], levels: int, right: float) -> list[Mark]:
    """The marks in order, each on the first line where its words have room before ``right``; else without words."""
    reached = [0.0] * levels
    placed = []
    for mark in sorted(marks, key=lambda mark: (mark.x, mark.label)):
        label = mark.label if len(mark.label) <= LONGEST else f"{mark.label[: LONGEST - 1]}…"
        size = LETTER * len(label) + 6
        anchor = "end" if mark.x + size > right else "start"
        begin = mark.x - size if anchor == "end" else mark.x
        level = next((line for line in range(levels) if begin >= reached[line]), -1)
        if level >= 0:
            reached[level] = begin + size + 4
        placed.append(replace(mark, label=label, level=level, anchor=anchor))
    return placed
