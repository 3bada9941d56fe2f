"""The pairs behind what is said of a machine's clock: start commands on the house clock, rolls on the machine's."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any

import polars as pl

from pipeline.evidence.document import numbers
from pipeline.evidence.ground import as_items
from pipeline.evidence.scope import Lines, Number, derived, summed
from pipeline.results import Scope
from pipeline.store import Store

PAIRS = """
select
    p.house_at_utc as started_at_utc, p.machine_at_utc as ended_at_utc, 1 as amount, m.month,
    cast(null as varchar) as channel, p.machine,
    'clock of ' || p.machine || ' ahead of the house by '
    || date_diff('microsecond', p.house_at_utc, p.machine_at_utc) / 1000000.0 || ' s' as what,
    'clock pair' as kind, p.segment_no as number,
    date_diff('microsecond', p.house_at_utc, p.machine_at_utc) as ahead_us
from raw_clock_pairs as p
left join site_months as m on p.house_at_utc >= m.started_at_utc and p.house_at_utc < m.ended_at_utc
order by p.machine, p.segment_no, p.machine_at_utc, p.house_at_utc
"""
BEFORE = "clock."
SEGMENTS = "clock.segments."
PAIRS_HOW = "the count of these pairs: a start command and the roll that answers it, or a reading of the clock"
OFFSET_HOW = (
    "the median over the pairs of machine − house − drift × (house − house at the last pair): at the last pair, to the"
    " microsecond"
)
LISTED = ("offset_s", "pairs")  # drift and ± come of the fit and are no sum of anything


class ClockLines:
    """The figures clock.pairs and clock.offset_s of a machine, and of each segment between two resets of its clock."""

    def __init__(self, store: Store, figures: Mapping[str, Any]) -> None:
        self._store = store
        self._clocks = {entry["machine"]: entry for entry in figures["clocks"]}

    def numbers(self, scope: Scope) -> dict[str, Number]:
        """Of a machine; nothing by anything else, and nothing of a machine without a clock estimate."""
        if tuple(scope.named) != ("machine",) or scope.machine not in self._clocks:
            return {}
        entry = self._clocks[scope.machine]
        found = dict(numbers(entry, BEFORE))
        for number, segment in enumerate(entry["segments"], start=1):
            found |= dict(numbers(segment, f"{SEGMENTS}{number}."))
        return {name: value for name, value in found.items() if name.rpartition(".")[2] in LISTED}

    def lines(self, figure: str, scope: Scope, value: Number) -> Lines:
        """The pairs that a word on a clock rests on."""
        number = int(figure.split(".")[2]) if figure.startswith(SEGMENTS) else 0
        rows = self._pairs.filter(pl.col("machine") == scope.machine)
        if figure.endswith("pairs"):
            counted = rows.filter(pl.col("number") == number) if number else rows
            return summed(figure, scope, value, as_items(counted), how=PAIRS_HOW)
        number = number or self._latest(scope.machine)
        of = (f"{SEGMENTS}{number}.pairs",)
        total = self._offset(rows.filter(pl.col("number") == number), scope.machine, number)
        return derived(figure, scope, value, how=OFFSET_HOW, of=of, total=total)

    @cached_property
    def _pairs(self) -> pl.DataFrame:
        return self._store.read(PAIRS)

    @cached_property
    def _segments(self) -> pl.DataFrame:
        return self._store.read("select * from raw_clock_segments order by machine, segment_no")

    def _latest(self, machine: str) -> int:
        """The segment that is quoted for the machine: of its last pair, else the last."""
        rows = self._segments.filter(pl.col("machine") == machine)
        paired = rows.filter(pl.col("pairs_count") > 0)
        return int((rows if paired.is_empty() else paired.sort("reference_at_utc"))["segment_no"][-1])

    def _offset(self, pairs: pl.DataFrame, machine: str, number: int) -> Number:
        if pairs.is_empty():
            return None
        drift = self._segments.filter((pl.col("machine") == machine) & (pl.col("segment_no") == number))["drift_ppm"][0]
        house_s = pairs["started_at_utc"].cast(pl.Int64) / 1e6
        left_over = pairs["ahead_us"] / 1e6 - drift / 1e6 * (house_s - house_s[-1])
        median = left_over.median()
        return round(float(median), 6) if isinstance(median, int | float) else None
