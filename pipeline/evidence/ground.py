"""What every figure stands on: the rows of the base tables, read once and cut up by group."""

from __future__ import annotations

from collections.abc import Iterable

import polars as pl

from pipeline.evidence import bases, formulas
from pipeline.evidence.bases import COUNTS, SECONDS, TIMES
from pipeline.evidence.scope import ITEM_SCHEMA, MICROSECONDS, PLACE_SCHEMA, Number, amount_of
from pipeline.evidence.times import time_items
from pipeline.results import Scope
from pipeline.store import Store

Groups = dict[tuple[str, ...], pl.DataFrame]


class Ground:
    """Rows, sums and times of any figure that is added up, in any group by month, channel or machine."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._bases: dict[str, pl.DataFrame] = {}
        self._frames: dict[str, pl.DataFrame] = {}
        self._groups: dict[tuple[str, tuple[str, ...]], Groups] = {}
        self._quantiles: dict[tuple[str, Scope], dict[str, Number]] = {}

    def rows(self, figure: str, scope: Scope) -> pl.DataFrame:
        """The rows of ``figure`` that the group ``scope`` counts, in order of channel and time."""
        keys = tuple(scope.named)
        everything = self.all_rows(figure)
        if not keys:
            return everything
        if (figure, keys) not in self._groups:
            parts = everything.partition_by(*keys, as_dict=True, maintain_order=True)
            self._groups[figure, keys] = parts
        found = self._groups[figure, keys].get(tuple(scope.named.values()))
        return everything.clear() if found is None else found

    def sum(self, figure: str, scope: Scope) -> int:
        """Microseconds or the count of ``figure`` in the group."""
        rows = self.rows(figure, scope)
        return int(rows[amount_of(rows)].sum())

    def value(self, figure: str, scope: Scope) -> int | float:
        """The same as figures.json prints it: seconds, or the count."""
        added = self.sum(figure, scope)
        return added / MICROSECONDS if figure in SECONDS else added

    def quantiles(self, name: str, scope: Scope) -> dict[str, Number]:
        """Median, p90, low and high of a time to recover in the group."""
        key = (name, scope)
        if key not in self._quantiles:
            rows = self.rows(f"{name}.n", scope)
            took = [us / MICROSECONDS for us in rows["took_us"].to_list()]
            self._quantiles[key] = formulas.quantiles(took, rows["is_seen"].to_list())
        return self._quantiles[key]

    def all_rows(self, figure: str) -> pl.DataFrame:
        """The rows of ``figure`` on the whole site."""
        if figure not in self._frames:
            self._frames[figure] = self._counted(figure)
        return self._frames[figure]

    def base(self, select: str) -> pl.DataFrame:
        """The rows of one select, read once."""
        if select not in self._bases:
            self._bases[select] = self._store.read(select)
        return self._bases[select]

    def _counted(self, figure: str) -> pl.DataFrame:
        name, _, part = figure.partition(".")
        if name in TIMES:
            rows = time_items(self.base(bases.RECOVERIES), name)
            return rows if part == "n" else rows.filter(~pl.col("is_seen"))
        select, condition = (SECONDS | COUNTS)[figure]
        rows = self.base(select)
        counted = rows.filter(pl.sql_expr(condition)) if condition else rows
        return as_items(counted)


def as_items(rows: pl.DataFrame) -> pl.DataFrame:
    """``rows`` with just the columns of items; what a select leaves out is null."""
    amount = amount_of(rows)
    return rows.select(*ITEM_SCHEMA, pl.col(amount).cast(pl.Int64), "month", *_placed(rows.columns))


def _placed(columns: Iterable[str]) -> list[pl.Expr]:
    return [
        (pl.col(name) if name in columns else pl.lit(None)).cast(dtype).alias(name)
        for name, dtype in PLACE_SCHEMA.items()
    ]
