"""Where the words on a strip go, so that none runs into another or into the way of the programme."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

LETTER = 6.6  # width of a letter at 11 px, on the wide side
LONGEST = 34
ASIDE = 3.0  # between an instant and its words
Box = tuple[float, float]


@dataclass(frozen=True)
class Mark:
    """An instant on a lane.

    ``level`` is the line its words stand on, -1 for none; ``anchor`` says which end of them is at ``words_x``.
    """

    x: float
    label: str
    is_sign: bool = False
    level: int = 0
    anchor: str = "start"
    words_x: float = 0.0


def place_marks(
    marks: Sequence[Mark], levels: int, right: float, *, left: float = 0.0, walls: Sequence[float] = ()
) -> list[Mark]:
    """The marks in order, each beside its instant on the first line where its words have room; else without words.

    Words stand between ``left`` and ``right``, behind their instant rather than in front of it, and across it or one of
    ``walls`` (where the way of the programme runs down) only where there is no other room.
    """
    taken: list[list[Box]] = [[] for _ in range(levels)]
    placed = []
    for mark in sorted(marks, key=lambda mark: (mark.x, mark.label)):
        label = mark.label if len(mark.label) <= LONGEST else f"{mark.label[: LONGEST - 1]}…"
        boxes = _boxes(mark.x, LETTER * len(label) + 2 * ASIDE, (left, right), walls)
        found = next(((line, *one) for one in boxes for line in range(levels) if _is_free(one[1], taken[line])), None)
        if found is None:
            placed.append(replace(mark, label=label, level=-1))
            continue
        level, anchor, box = found
        taken[level].append(box)
        words_x = round(box[0] + ASIDE if anchor == "start" else box[1] - ASIDE, 1)
        placed.append(replace(mark, label=label, level=level, anchor=anchor, words_x=words_x))
    return placed


def _boxes(x: float, size: float, room: Box, walls: Sequence[float]) -> Iterator[tuple[str, Box]]:
    """Where words beside ``x`` may stand, the best first."""
    sides = [("start", (x, x + size)), ("end", (x - size, x))]
    inside = [(anchor, box) for anchor, box in sides if room[0] <= box[0] and box[1] <= room[1]]
    yield from (one for one in inside if not any(one[1][0] < wall < one[1][1] for wall in walls))
    yield from inside
    if size <= room[1] - room[0]:
        begin = min(max(x - size / 2, room[0]), room[1] - size)
        yield "start", (begin, begin + size)


def _is_free(box: Box, taken: Sequence[Box]) -> bool:
    return all(box[1] <= other[0] or other[1] <= box[0] for other in taken)
