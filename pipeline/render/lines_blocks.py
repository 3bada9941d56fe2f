"""The figures of one page of lists, each taken apart and made ready to print."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import polars as pl

from pipeline.render.definitions import Term
from pipeline.render.evidence_door import Evidence, Lines
from pipeline.render.evidence_words import formula
from pipeline.render.lines_entries import Entry, joined
from pipeline.render.lines_items import Item, Items, Listed, amounts_of, texts_of
from pipeline.render.lines_names import FigureLinks, Key, key_of
from pipeline.render.lines_sums import Bound, Sum, sums
from pipeline.render.lines_words import CAUSE, command, exact, label_of, section_of, shown
from pipeline.render.words import month_name
from pipeline.results import Scope

MOST = 40  # items of one figure that a page shows with their rows


@dataclass(frozen=True)
class Block:
    """One figure on a page of lists.

    ``id`` is its name in figures.json, ``label`` empty where its section has no other; ``value`` reads as on the other
    pages, ``exact`` to the last digit (empty: the same), ``raw`` is the plain number. ``of`` are the figures it is
    worked out from (name, value, href), ``total`` is worked out anew from them or from the items. ``sums`` (name, href,
    count, amount) stand in the place of items that are too many for the page, in number or in bytes.
    """

    id: str
    label: str
    value: str
    exact: str
    raw: str
    how: str
    of: tuple[Mapping[str, str | None], ...]
    total: str
    is_right: bool
    is_time: bool
    count: int
    items: tuple[tuple[str, Item], ...]
    sums: tuple[Mapping[str, Any], ...]
    command: str


@dataclass(frozen=True)
class Taken:
    """One figure taken apart, and which of its items are shown (None: too many, or none)."""

    entry: Entry
    lines: Lines
    listed: Listed | None


def take_apart(evidence: Evidence, wanted: Iterable[Entry], scope: Scope, items: Items) -> dict[str, Taken]:
    """Every figure of a page by its place, in order; the items of short lists are noted to be shown."""
    taken: dict[str, Taken] = {}
    found: dict[str, Lines] = {}
    for entry in wanted:
        lines = joined(entry.id, scope, found) if entry.scope is None else evidence.lines(entry.figure, entry.scope)
        found[entry.id] = lines
        taken[entry.id] = Taken(entry, lines, items.note(lines.items) if 0 < lines.items.height <= MOST else None)
    return taken


@dataclass(frozen=True)
class Page:
    """What the blocks of one page need: its key, the links of all pages, the bounds of its sums, the items shown."""

    key: Key
    links: FigureLinks
    terms: Mapping[str, Term]
    bounds: tuple[Bound, ...]
    items: Items
    is_by_year: bool = False

    def blocks(self, taken: Mapping[str, Taken]) -> Iterator[Block]:
        """The blocks of the figures that were taken apart, in order."""
        for place, one in taken.items():
            yield self._block(place, one, taken)

    def _block(self, place: str, one: Taken, taken: Mapping[str, Taken]) -> Block:
        lines, figure_name = one.lines, one.entry.figure
        return Block(
            id=place,
            label=label_of(place, section_of(place), self.terms),
            value=shown(figure_name, lines.value),
            exact=exact(figure_name, lines.value),
            raw="" if lines.value is None else repr(lines.value),
            how=formula(lines.how),
            of=tuple(self._of(one, name, taken) for name in lines.of),
            total=exact(figure_name, lines.total) or shown(figure_name, lines.total),
            is_right=lines.total == lines.value,
            is_time="amount_us" in lines.items.columns,
            count=lines.items.height,
            items=tuple(self.items.of(one.listed)) if one.listed else (),
            sums=tuple(self._sums(place, lines.items)),
            command=command(figure_name, one.entry.scope) if one.entry.scope else "",
        )

    def _of(self, one: Taken, name: str, taken: Mapping[str, Taken]) -> dict[str, str | None]:
        """A figure that another is worked out from; its value where it stands on this page."""
        before = one.entry.id.removesuffix(one.entry.figure)  # of a cause
        place, key = before + name, key_of(one.lines.of_scope)
        value = taken[place].lines.value if place in taken and key == self.key else None
        return {"name": name, "href": self.links.href(place, key), "value": exact(name, value) or shown(name, value)
            if value is not None else "",
        }  # fmt: skip

    def _sums(self, place: str, items: pl.DataFrame) -> Iterator[dict[str, Any]]:
        """Sums by day within a month, else by month or year, each month with its own page if there is one."""
        if items.is_empty():
            return
        month, channel, machine = self.key
        amounts, is_time = amounts_of(items)
        rows = zip(items["started_at_utc"].to_list(), items["ended_at_utc"].to_list(), amounts, strict=True)
        parts: list[Sum] = sums(rows, self.bounds, is_time=is_time)
        for part, text in zip(parts, texts_of([part.amount for part in parts], is_time), strict=True):
            is_plain = month or place.startswith(CAUSE) or self.is_by_year
            href = None if is_plain else self.links.href(place, (part.name, channel, machine))
            name = part.name if month or self.is_by_year else month_name(part.name)
            yield {"name": name, "href": href, "count": part.items, "amount": text}
