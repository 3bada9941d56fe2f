"""Ranks takes of one channel that carry the same stamp, so that the order of lines in a file never decides anything.

The selector can only leave the source it is on: of equal takes, the one that leaves the last source goes first.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import polars as pl

from pipeline.store import Store

RANKS = pl.Schema({"file": pl.String, "line": pl.Int64, "tie_rank": pl.Int32})
MOST_TO_SEARCH = 200  # the search for a chain of all grows with the square; real ties are two or three

DISTINCT_TAKES = """
    select * exclude (copy_no) from (
        select *, row_number() over (
            partition by at_utc, channel, from_machine, to_machine, reason, taken_by, extra order by file, line
        ) as copy_no
        from raw_switches where action = 'take'
    ) where copy_no = 1
"""
TAKES = f"""
    select channel, at_utc, from_machine, to_machine, file, line from ({DISTINCT_TAKES})
    order by channel, at_utc, from_machine nulls last, to_machine, reason nulls last, taken_by nulls last,
             extra nulls last, file, line
"""


@dataclass(frozen=True)
class Take:
    """A take as an edge between two sources; ``came_from`` None is not recorded."""

    came_from: str | None
    went_to: str
    file: str = field(default="", compare=False)
    line: int = field(default=0, compare=False)


def write_take_order(store: Store) -> None:
    """Write ``raw_take_order``: ``tie_rank`` from 1 of each distinct take that shares channel and stamp.

    Grain: one such take; key: file, line. Reads ``raw_switches``. A take that comes again is ranked at its first place.
    """
    ranks: list[tuple[str, int, int]] = []
    channel, last = None, None
    for key, takes in _groups(store.read(TAKES)):
        if key != channel:
            channel, last = key, None
        ordered = order_takes(takes, last) if len(takes) > 1 else takes
        if len(takes) > 1:
            ranks += [(take.file, take.line, rank) for rank, take in enumerate(ordered, start=1)]
        last = ordered[-1].went_to
    store.write("raw_take_order", pl.DataFrame(ranks, schema=RANKS, orient="row").sort("file", "line"))


def order_takes(takes: Sequence[Take], last: str | None) -> list[Take]:
    """Equal takes, given in the order that settles ties, as the selector must have made them after it was on ``last``.

    A chain of all takes is preferred, from ``last`` if there is one, else from the first source that allows it. Without
    such a chain each next take is the first that leaves the source the selector is on, else the first left over.
    """
    if len(takes) <= MOST_TO_SEARCH:
        sources = dict.fromkeys([last, *(take.came_from for take in takes)])
        for start in sources:
            if start is not None and _chains_all(takes, start):
                return _chain(takes, start)
    return _follow(takes, last)


def _groups(frame: pl.DataFrame) -> Iterator[tuple[str, list[Take]]]:
    """Takes of equal channel and stamp, as (channel, takes); the frame is sorted by both."""
    group: list[Take] = []
    before: tuple[str, object] | None = None
    for channel, at, came_from, went_to, file, line in frame.iter_rows():
        if before is not None and before != (channel, at):
            yield before[0], group
            group = []
        before = (channel, at)
        group.append(Take(came_from, went_to, file, line))
    if before is not None:
        yield before[0], group


def _chains_all(takes: Sequence[Take], start: str) -> bool:
    """Whether a chain from ``start`` can use every take once: Euler's condition for a trail in a directed graph."""
    if not takes:
        return True
    balance: Counter[str | None] = Counter({start: 0})
    for take in takes:
        balance[take.came_from] += 1
        balance[take.went_to] -= 1
    surplus = {source: count for source, count in balance.items() if count}
    balanced = not surplus or (surplus.get(start) == 1 and sorted(surplus.values()) == [-1, 1])
    return balanced and _reachable(takes, start)


def _reachable(takes: Sequence[Take], start: str) -> bool:
    onward: defaultdict[str | None, list[str]] = defaultdict(list)
    for take in takes:
        onward[take.came_from].append(take.went_to)
    seen: set[str | None] = {start}
    open_ends: list[str | None] = [start]
    while open_ends:
        for source in onward[open_ends.pop()]:
            if source not in seen:
                seen.add(source)
                open_ends.append(source)
    return all(take.came_from in seen for take in takes)


def _chain(takes: Sequence[Take], start: str) -> list[Take]:
    """The first chain of all takes, in the given order, that begins at ``start``; one must exist."""
    left, chain, at = list(takes), [], start
    while left:
        for k, take in enumerate(left):
            rest = left[:k] + left[k + 1 :]
            if take.came_from == at and _chains_all(rest, take.went_to):
                left, at = rest, take.went_to
                chain.append(take)
                break
    return chain


def _follow(takes: Sequence[Take], last: str | None) -> list[Take]:
    left: dict[int, Take] = dict(enumerate(takes))
    leaving: defaultdict[str | None, list[int]] = defaultdict(list)
    for k in sorted(left, reverse=True):
        leaving[left[k].came_from].append(k)
    ordered, at = [], last
    leftovers = iter(range(len(takes)))
    while left:
        waiting = leaving[at] if at is not None else []
        while waiting and waiting[-1] not in left:
            waiting.pop()
        k = waiting.pop() if waiting else next(k for k in leftovers if k in left)
        ordered.append(left.pop(k))
        at = ordered[-1].went_to
    return ordered
