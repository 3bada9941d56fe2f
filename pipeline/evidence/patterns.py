"""The events behind a name that faults may come back to: a machine, a reel, a head, an hour of the day …"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any

import polars as pl

from pipeline.errors import FigureError
from pipeline.evidence.document import refuse_strange
from pipeline.evidence.ground import as_items
from pipeline.evidence.scope import Lines, Number, summed
from pipeline.results import Scope
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
HOW = {
    "count": "the count of the events under this name: interruptions, and protect switches without one",
    "incidents": "the count of the incidents that these events are part of, each by its first one under this name",
}


class PatternLines:
    """The figures count and incidents of a name, such as "reel: K1705-1A"."""

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
        return {figure: self._names[scope.pattern][figure] for figure in HOW}

    def lines(self, figure: str, scope: Scope, value: Number) -> Lines:
        """The events that go by the name."""
        rows = self._events.filter(pl.col("pattern") == scope.pattern)
        if figure == "incidents":
            rows = rows.unique("incident", keep="first", maintain_order=True)
        return summed(figure, scope, value, as_items(rows), how=HOW[figure])

    @cached_property
    def _events(self) -> pl.DataFrame:
        return self._store.read(EVENTS)
