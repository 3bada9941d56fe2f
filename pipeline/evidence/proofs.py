"""From items to the source rows that prove where each begins and ends, or that it is so.

All edges of a site are looked up together once (see `edge_queries`). Of them those at the instants of the items asked
for are kept by channel and instant: all items of the pages are asked for at once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime
from functools import cached_property
from typing import Any, NamedTuple

import polars as pl

from pipeline.evidence import edge_queries
from pipeline.evidence.texts import Texts
from pipeline.store import Store

SCHEMA = {
    "item": pl.Int64, "side": pl.String, "file": pl.String, "line": pl.Int64, "text": pl.String, "why": pl.String,
}  # fmt: skip
ASKED = ("item", "started_at_utc", "ended_at_utc", "channel", "machine", "kind", "file", "line", "says")
EDGES = (("begins", "started_at_utc"), ("ends", "ended_at_utc"))
MONTH = "a month ends here, and what goes on is counted in the next"
# Of these kinds only such rows prove an edge, whatever else has the same instant.
ONLY = {"switch": ("take",)}
FROM_ONSET = ("to take", "to cover")
TICKET = "to service"  # both its edges stand in the item's own row
PAIR = "clock pair"
Item = dict[str, Any]
EDGE = ("channel", "at_utc")


class Proof(NamedTuple):
    """One row of a file and why it proves an edge; without a row only the reason."""

    source: str
    machine: str | None
    file: str | None
    line: int | None
    why: str


Edges = defaultdict[tuple[str | None, datetime], list[Proof]]


class Proofs:
    """The proving rows of all edges of a site, and those of the items asked for."""

    def __init__(self, store: Store, *, shows_persons: bool) -> None:
        self._store = store
        self._texts = Texts(store, shows_persons=shows_persons)

    def of(self, items: pl.DataFrame) -> pl.DataFrame:
        """item, side, file, line, text, why of the rows that prove ``items``, in their order."""
        edges = self._edges_of(items)
        rows = [
            (item["item"], side, proof.file, proof.line, "", proof.why)
            for item in items.select(ASKED).iter_rows(named=True)
            for side, proofs in self._sides(item, edges)
            for proof in proofs
        ]
        return self._texts.beside(pl.DataFrame(rows, schema=SCHEMA, orient="row"))

    def _sides(self, item: Item, edges: Edges) -> Iterator[tuple[str, list[Proof]]]:
        own = [] if item["file"] is None else [Proof("own", None, item["file"], item["line"], item["says"])]
        if item["kind"] == PAIR:
            yield "says", self._clock_pairs[item["machine"], item["started_at_utc"], item["ended_at_utc"]]
            return
        for side, column in EDGES:
            if item[column] is not None and item["kind"] == TICKET:
                yield side, own + (self._data_end(item[column]) if side == "ends" else [])
            elif item[column] is not None:
                yield side, self._of_edge(item, side, item[column], edges)
        if own and item["kind"] != TICKET:
            yield "says", own

    def _of_edge(self, item: Item, side: str, at_utc: datetime, edges: Edges) -> list[Proof]:
        found = [proof for proof in edges[item["channel"], at_utc] if _proves(proof, item, side)]
        if side == "ends":
            found += self._data_end(at_utc)
        if not found and at_utc in self._months:
            found = [Proof("month", None, None, None, MONTH)]
        return found

    def _data_end(self, at_utc: datetime) -> list[Proof]:
        return self._as_of if at_utc == self._as_of_at_utc else []

    def _edges_of(self, items: pl.DataFrame) -> Edges:
        """The rows that stand at any edge of ``items``."""
        found: Edges = defaultdict(list)
        sided = items.filter(~pl.col("kind").is_in([PAIR, TICKET]).fill_null(value=False))
        asked = pl.concat([sided.select("channel", pl.col(column).alias("at_utc")) for _, column in EDGES])
        asked = asked.drop_nulls("at_utc").unique()
        if asked.is_empty():
            return found
        near = self._edges.join(asked, on=EDGE, how="semi", nulls_equal=True, maintain_order="left")
        for channel, at_utc, *proof in near.iter_rows():
            found[channel, at_utc].append(Proof(*proof))
        return found

    @cached_property
    def _edges(self) -> pl.DataFrame:
        selects = [
            edge_queries.EVENTS, edge_queries.TAKES, edge_queries.BOOKINGS, edge_queries.SILENCES, edge_queries.CARRIES,
        ]  # fmt: skip
        if self._store.has("core_not_air"):
            selects.append(edge_queries.RULINGS)
        for name, select in edge_queries.EDGE_TABLES.items():
            self._store.run(f"create or replace temp table {name} as {select}")
        columns = (*EDGE, *Proof._fields)
        table = pl.concat([self._store.read(select).select(columns) for select in selects]).unique(
            [*EDGE, "file", "line"], keep="first", maintain_order=True
        )
        return table.sort("file", "line", maintain_order=True)

    @cached_property
    def _as_of_at_utc(self) -> datetime | None:
        at_utc: datetime | None = self._store.value("select as_of_at_utc from core_as_of")
        return at_utc

    @cached_property
    def _as_of(self) -> list[Proof]:
        if self._as_of_at_utc is None:
            return []
        first, last = self._store.read(edge_queries.LAST_STAMPS).row(0)
        rows = self._store.read(edge_queries.AS_OF.format(first=first, last=last))
        return [Proof(*row) for row in rows.select(Proof._fields).iter_rows()]

    @cached_property
    def _months(self) -> set[datetime]:
        return set(self._store.read(edge_queries.MONTHS)["at_utc"].to_list())

    @cached_property
    def _clock_pairs(self) -> defaultdict[tuple[str, datetime, datetime], list[Proof]]:
        found: defaultdict[tuple[str, datetime, datetime], list[Proof]] = defaultdict(list)
        for machine, house, own, *proof in self._store.read(edge_queries.CLOCK_PAIRS).iter_rows():
            found[machine, house, own].append(Proof("clock", machine, *proof))
        return found


def _proves(proof: Proof, item: Item, side: str) -> bool:
    if proof.source not in ONLY.get(item["kind"], (proof.source,)):
        return False
    is_onset = item["kind"] in FROM_ONSET and side == "begins"  # a word of the machine itself
    return not is_onset or (proof.source == "event" and proof.machine == item["machine"])
