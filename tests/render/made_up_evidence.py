"""Evidence made up for the pages of lists: any figures of any scopes, each with the items a test gives it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import polars as pl

START = datetime.fromisoformat("2031-02-01T05:00")
TIME = pl.Datetime("us")
COLUMNS = {"started_at_utc": TIME, "ended_at_utc": TIME, "channel": pl.String, "machine": pl.String, "what": pl.String}


ROWS = pl.DataFrame(
    [("a.csv", 3, "repeat of <b>an</b> earlier row"), ("a.csv", 9, "repeat of an earlier row")],
    schema={"file": pl.String, "line": pl.Int64, "what": pl.String}, orient="row",
).with_columns(amount=pl.lit(1, dtype=pl.Int64))  # fmt: skip


@dataclass(frozen=True)
class MadeScope:
    month: str = ""
    channel: str = ""
    machine: str = ""
    file: str = ""
    cause: str = ""


@dataclass(frozen=True)
class MadeLines:
    value: float | int | None
    how: str
    items: pl.DataFrame
    of: tuple[str, ...]
    of_scope: MadeScope
    total: float | int | None


def stretches(count: int, *, length_us: int = 1_500_000, apart: timedelta = timedelta(hours=7)) -> pl.DataFrame:
    """So many stretches of one length, from the first of February 2031 on."""
    length = timedelta(microseconds=length_us)
    rows = [
        (number + 1, START + number * apart, START + number * apart + length, "One", "T1", "lost", length_us)
        for number in range(count)
    ]
    return pl.DataFrame(rows, schema={"item": pl.Int64, **COLUMNS, "amount_us": pl.Int64}, orient="row")


class MadeEvidence:
    """Every figure of every scope has the lines that were given for its name; how often rows were asked for is kept."""

    def __init__(self, scopes: tuple[MadeScope, ...], lines: dict[str, pl.DataFrame | tuple[str, ...]]) -> None:
        self._scopes = scopes
        self._lines = lines
        self.asked = 0

    def scopes(self) -> tuple[MadeScope, ...]:
        return self._scopes

    def figures(self, scope: MadeScope) -> tuple[str, ...]:
        assert scope in self._scopes
        return tuple(self._lines)

    def further_figures(self, scope: MadeScope) -> tuple[str, ...]:
        assert scope in self._scopes
        return ()

    def lines(self, figure: str, scope: MadeScope) -> MadeLines:
        made = self._lines.get(figure, ROWS if figure == "rows.repeats" else ROWS.clear())
        if isinstance(made, tuple):
            return MadeLines(0.5, "half of it", pl.DataFrame(), made, scope, 0.5)
        is_time = "amount_us" in made.columns
        added: Any = made["amount_us" if is_time else "amount"].sum()
        value = added / 1_000_000 if is_time else added
        return MadeLines(value, "the sum of these", made, (), scope, value)

    def sources(self, items: pl.DataFrame, most: int | None = None) -> pl.DataFrame:
        assert most is None
        self.asked += 1
        rows = [
            (item, side, "events/a.csv", item, f"row {item} of <b>{side}</b>", f"{side} here")
            for item in items["item"].to_list()
            for side in ("begins", "ends")
        ]
        return pl.DataFrame(rows, schema=["item", "side", "file", "line", "text", "why"], orient="row")
