"""The events behind a name that faults may come back to: a machine, a reel, a head, an hour of the day …"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any

import polars as pl

from pipeline.errors import FigureError
from pipeline.evidence.document import refuse_strange
from pipeline.evidence.ground import as_items
from pipeline.evidence.scope import Lines, Number, derived, summed
from pipeline.results import Scope
from pipeline.statistics import binomial_at_least
from pipeline.store import Store

NOT_RECORDED = "not recorded"
EVENTS = f"""
select
    r.started_at_utc, r.ended_at_utc, 1 as amount, p.month, r.channel, r.machine,
    case when r.interruption_no is null then 'switch, no loss logged' else 'interruption' end
    || coalesce(', incident ' || e.incident, '') as what,
    'pattern' as kind, r.recovery_no as number,
    e.kind || ': ' || coalesce(e.name, '{NOT_RECORDED}') as pattern, e.incident
from measure_pattern_events as e
inner join core_recoveries as r on e.recovery_no = r.recovery_no
inner join metric_recoveries as p on r.recovery_no = p.recovery_no
order by r.recovery_no
"""
EXPOSURES = "select kind, name, cast(round(exposure_s * 1000000) as bigint) as exposure_us from measure_patterns"
HOW = {
    "count": "the count of the events under this name: interruptions, and protect switches without one",
    "incidents": "the count of the incidents that these events are part of, each by its first one under this name",
}

BY_LUCK = {
    "expected": "the events of all names of this kind × the share of the room's air seconds under this name",
    "p": "the exact binomial probability of at least count, of the events of all names of this kind, by that share",
}


class PatternLines:
    """The figures count and incidents of a name, such as "reel: K1705-1A", and what of its count is luck."""

    def __init__(self, store: Store, figures: Mapping[str, Any]) -> None:
        self._store = store
        names = figures.get("patterns", {}).get("names", [])
        self._names = {f"{entry['kind']}: {entry['name'] or NOT_RECORDED}": entry for entry in names}

    def numbers(self, scope: Scope) -> dict[str, Number]:
        """Of a name; nothing by anything else.

        Raises:
            FigureError: no event goes by that name, or something else is asked for with it.
        """
        if not scope.pattern:
            return {}
        if list(scope.named) != ["pattern"]:
            raise FigureError("What comes back is counted in all only. Leave the other choices away.")
        refuse_strange("pattern", scope.pattern, list(self._names))
        return {figure: self._names[scope.pattern][figure] for figure in (*HOW, *BY_LUCK)}

    def lines(self, figure: str, scope: Scope, value: Number) -> Lines:
        """The events that go by the name; of what luck gives, the count and the share of air it is worked out from."""
        rows = self._events.filter(pl.col("pattern") == scope.pattern)
        if figure in BY_LUCK:
            total = self._by_luck(figure, scope.pattern, rows.height)
            return derived(figure, scope, value, how=BY_LUCK[figure], of=("count",), total=total)
        if figure == "incidents":
            rows = rows.unique("incident", keep="first", maintain_order=True)
        return summed(figure, scope, value, as_items(rows), how=HOW[figure])

    def _by_luck(self, figure: str, pattern: str, count: int) -> Number:
        entry = self._names[pattern]
        events = self._events.filter(pl.col("pattern").str.starts_with(f"{entry['kind']}: ")).height
        of_kind = self._exposures.filter(pl.col("kind") == entry["kind"])
        own_us = int(of_kind.filter(pl.col("name").eq_missing(pl.lit(entry["name"])))["exposure_us"].sum())
        air_us = int(of_kind["exposure_us"].sum())
        share = own_us / air_us if air_us else 0.0
        if figure == "expected":
            return events * share
        return binomial_at_least(count, events, share) if entry["name"] is not None and 0 < own_us < air_us else None

    @cached_property
    def _exposures(self) -> pl.DataFrame:
        return self._store.read(EXPOSURES)

    @cached_property
    def _events(self) -> pl.DataFrame:
        return self._store.read(EVENTS)
