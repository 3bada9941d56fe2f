"""The items of a list with the source rows that prove them: gathered from all pages, looked up once, printed once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

import polars as pl
from markupsafe import Markup

from pipeline.render.evidence_door import Evidence
from pipeline.render.evidence_words import item_words, proof_words, side_word
from pipeline.render.language import say, whole
from pipeline.render.lines_words import places_of, seconds_text
from pipeline.render.words import Local

TEXT_LENGTH = 240  # of a row's text
OWN = ("item", "amount", "amount_us", "month")  # columns that are no part of what makes an item what it is
WORDS = ("channel", "machine", "what")
WHEN = Markup('<td class="t">{}</td><td class="t">{}</td>')
WHAT = Markup('<td>{}</td><td>{}</td><td class="w">{}</td>')
ROW = Markup("<li><b>{}</b>: {} ({}) <code>{}</code></li>")
BARE_ROW = Markup("<li><b>{}</b>: {}</li>")


@dataclass(frozen=True)
class Item:
    """One item as its cells are printed: when, whose and what; and its source rows as the entries of a list.

    They are made here and not by the template, because the same item stands in many lists.
    """

    when: Markup
    what: Markup
    rows: Markup


@dataclass(frozen=True)
class Listed:
    """The items of one figure that a page shows: where they lie among all that were noted, and their amounts."""

    start: int
    amounts: tuple[str, ...]


class Items:
    """The items that any page shows. First note them all, then look them up, then take them."""

    def __init__(self, evidence: Evidence, local: Local) -> None:
        self._evidence = evidence
        self._local = local
        self._noted: list[pl.DataFrame] = []
        self._count = 0
        self._ids: list[int] = []
        self._printed: dict[int, Item] = {}

    def note(self, items: pl.DataFrame) -> Listed:
        """Remember ``items`` to be shown."""
        listed = Listed(self._count, amount_texts(items))
        self._noted.append(items)
        self._count += items.height
        return listed

    def look_up(self) -> None:
        """Find the rows of all that was noted; an item that several figures share is looked up and printed once."""
        if not self._noted:
            return
        noted = pl.concat(self._noted, how="diagonal_relaxed").drop(OWN, strict=False)
        single = noted.unique(maintain_order=True).with_row_index("item", offset=1)
        joined = noted.join(single, on=noted.columns, how="left", nulls_equal=True, maintain_order="left")
        self._ids = joined["item"].to_list()
        rows = _row_lists(self._evidence.sources(single))
        for item, began, ended, *words in single.select("item", "started_at_utc", "ended_at_utc", *WORDS).iter_rows():
            when = WHEN.format(self._stamp(began), self._stamp(ended))
            channel, machine, told = (word or "" for word in words)
            what = WHAT.format(channel, machine, item_words(told))
            self._printed[item] = Item(when, what, Markup("").join(rows.get(item, ())))
        self._noted = []

    def of(self, listed: Listed) -> Iterator[tuple[str, Item]]:
        """Each item with its amount, in order."""
        for place, amount in enumerate(listed.amounts, listed.start):
            yield amount, self._printed[self._ids[place]]

    def _stamp(self, at_utc: datetime | None) -> str:
        return "" if at_utc is None else self._local.stamp(at_utc)


def _row_lists(sources: pl.DataFrame) -> dict[int, list[Markup]]:
    lists: dict[int, list[Markup]] = {}
    for item, side, file, line, text, why in sources.select("item", "side", "file", "line", "text", "why").iter_rows():
        lists.setdefault(item, []).append(_row(side, file, line, text, why))
    return lists


def _row(side: str, file: str | None, line: int | None, text: str | None, why: str | None) -> Markup:
    if file is None:
        return BARE_ROW.format(side_word(side), proof_words(why or ""))
    place = file if line is None else say("{file}, line {line}", file=file, line=line)
    short = text or ""
    return ROW.format(
        side_word(side),
        proof_words(why or ""),
        place,
        short if len(short) <= TEXT_LENGTH else f"{short[:TEXT_LENGTH]}…",
    )


def amounts_of(items: pl.DataFrame) -> tuple[list[int], bool]:
    """The amounts of items, and whether they are microseconds; else they are counts."""
    is_time = "amount_us" in items.columns
    return items["amount_us" if is_time else "amount"].to_list(), is_time


def amount_texts(items: pl.DataFrame) -> tuple[str, ...]:
    """The amounts as they are printed: seconds with as many places as all of them need, or counts."""
    return texts_of(*amounts_of(items))


def texts_of(amounts: list[int], is_time: bool) -> tuple[str, ...]:
    """Microseconds as seconds with one number of places, or counts."""
    if not is_time:
        return tuple(whole(amount) for amount in amounts)
    places = places_of(amounts)
    return tuple(seconds_text(amount, places) for amount in amounts)
