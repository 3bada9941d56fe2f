"""What is asked and what is answered: a group of figures, and the lines behind one figure of it.

Frozen and without the database, so that pages, command and tests speak of the same thing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl

from pipeline.results import Scope

Number = float | int | None
KEYS = ("month", "channel", "machine")
ITEM_SCHEMA: dict[str, Any] = {
    "started_at_utc": pl.Datetime("us"), "ended_at_utc": pl.Datetime("us"), "channel": pl.String, "machine": pl.String,
    "what": pl.String,
}  # fmt: skip
# Where an item's rows are found: its kind, its number in the tables, and file and line of a row that says what it is.
PLACE_SCHEMA: dict[str, Any] = {
    "kind": pl.String, "number": pl.Int64, "file": pl.String, "line": pl.Int64,
    "says": pl.String,
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Lines:
    """What a figure is made of.

    ``value`` is as figures.json has it (seconds, a count, a share, a rate; None: not known), ``total`` the same worked
    out anew from the items or, for a derived figure, from the figures named in ``of`` (listable in ``of_scope``).
    ``items``: item (1, 2, …), started_at_utc and ended_at_utc (naive UTC; null where an item has no such edge), month,
    channel, machine (null: standby, or no machine), what, and either amount_us (whole microseconds; value = their sum
    / 1,000,000) or amount (a count; value = their sum); then what `Evidence.sources` finds the rows by. Of a derived
    figure ``items`` is empty.
    """

    figure: str
    scope: Scope
    value: Number
    how: str
    items: pl.DataFrame
    of: tuple[str, ...]
    total: Number
    of_scope: Scope

    @property
    def is_derived(self) -> bool:
        """Whether the figure is worked out from others instead of being added up from items."""
        return bool(self.of)

    @property
    def is_right(self) -> bool:
        """Whether what is worked out anew equals figures.json exactly, to the last bit."""
        return self.total == self.value


def amount_of(items: pl.DataFrame) -> str:
    """The name of the column that adds up: ``amount_us`` or ``amount``."""
    return "amount_us" if "amount_us" in items.columns else "amount"


SUMMED = {
    "amount_us": "the sum of these stretches, each cut where a month ends",
    "amount": "the count of these, each once, in the month in which it began",
}
MICROSECONDS = 1_000_000
NO_ITEMS = pl.DataFrame(
    schema={"item": pl.Int64, **ITEM_SCHEMA, "amount": pl.Int64, "month": pl.String, **PLACE_SCHEMA}
)  # of a derived figure


def summed(figure: str, scope: Scope, value: Number, rows: pl.DataFrame, *, how: str = "") -> Lines:
    """The lines of a figure that is added up from ``rows``."""
    amount = amount_of(rows)
    added = int(rows[amount].sum())
    total = added / MICROSECONDS if amount == "amount_us" else added
    numbers = pl.Series("item", np.arange(1, rows.height + 1, dtype=np.int64))
    # Put together column by column: pages ask for thousands of short lists, and a query plan for each costs more.
    items = pl.DataFrame([numbers, *(column for column in rows.get_columns() if column.name != "item")])
    return Lines(figure, scope, value, how or SUMMED[amount], items, (), total, scope)


def derived(
    figure: str,
    scope: Scope,
    value: Number,
    *,
    how: str,
    of: tuple[str, ...],
    total: Number,
    of_scope: Scope | None = None,
) -> Lines:
    """The lines of a figure that is worked out from others (of the same group unless another is named)."""
    return Lines(figure, scope, value, how, NO_ITEMS.clone(), of, total, scope if of_scope is None else of_scope)
