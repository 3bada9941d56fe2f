"""The events behind each cause, in all or of a month."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any

import polars as pl

from pipeline.evidence.document import cause_entries, cause_entry, cause_name, numbers
from pipeline.evidence.ground import as_items
from pipeline.evidence.scope import Lines, Number, derived, summed
from pipeline.results import Scope
from pipeline.store import Store

EVENTS = """
select
    r.started_at_utc, r.ended_at_utc, 1 as amount, p.month, r.channel, r.machine,
    coalesce(cast(round(i.lost_s * 1000000) as bigint), 0) as lost_us,
    case when r.interruption_no is null then 'switch, no loss logged' else 'interruption' end
    || case when c.ticket is null then ', no ticket' else ', ticket ' || c.ticket end
    || ' (' || c.grade || case when c.words = '' then '' else ': ' || c.words end || ')' as what,
    'cause' as kind, r.recovery_no as number, t.file, t.line,
    'ticket ' || c.ticket || ', from which the cause is read' as says,
    c.top, c.second, c.grade
from measure_causes as c
inner join core_recoveries as r on c.recovery_no = r.recovery_no
inner join metric_recoveries as p on c.recovery_no = p.recovery_no
left join core_interruptions as i on r.interruption_no = i.interruption_no
left join clean_tickets as t on c.ticket = t.ticket
order by r.recovery_no
"""
HOW = {
    "count": "the count of the events with this cause: interruptions, and protect switches without one",
    "lost_s": "the sum of the lost air of the interruptions with this cause",
    "stated": "the count of the events whose ticket names this cause in its own column",
}
RUNNING = "the counts of this cause and of all that stand before it, together, over the count of all events"


class CauseLines:
    """The figures count, lost_s, stated and running_ratio of a cause."""

    def __init__(self, store: Store, figures: Mapping[str, Any]) -> None:
        self._store = store
        self._figures = figures

    def numbers(self, scope: Scope) -> dict[str, Number]:
        """Of a cause, in all or of a month; nothing by anything else.

        Raises:
            FigureError: no such cause.
        """
        return dict(numbers(cause_entry(self._figures, scope))) if scope.cause else {}

    def lines(self, figure: str, scope: Scope, value: Number) -> Lines:
        """The events that a cause counts."""
        if figure == "running_ratio":
            total = self._running_ratio(scope)
            return derived(figure, scope, value, how=RUNNING, of=("count",), total=total)
        rows = self._of_cause(scope)
        if figure == "stated":
            rows = rows.filter(pl.col("grade") == "stated")
        if figure == "lost_s":
            lost = rows.filter(pl.col("lost_us") > 0)
            rows = lost.drop("amount").rename({"lost_us": "amount_us"})
        return summed(figure, scope, value, as_items(rows), how=HOW[figure])

    @cached_property
    def _events(self) -> pl.DataFrame:
        return self._store.read(EVENTS).with_columns(
            pl.when(pl.col("second") == "").then("top").otherwise(pl.format("{}: {}", "top", "second")).alias("cause")
        )

    def _of_month(self, scope: Scope) -> pl.DataFrame:
        return self._events.filter(pl.col("month") == scope.month) if scope.month else self._events

    def _of_cause(self, scope: Scope) -> pl.DataFrame:
        return self._of_month(scope).filter(pl.col("cause") == scope.cause)

    def _running_ratio(self, scope: Scope) -> float:
        """Counted anew for each cause in the order in which figures.json lists them."""
        rows = self._of_month(scope)
        counts = dict(rows.group_by("cause").len().iter_rows())
        so_far = 0
        for entry in cause_entries(self._figures, scope):
            so_far += counts.get(cause_name(entry), 0)
            if cause_name(entry) == scope.cause:
                break
        share = pl.Series([so_far]) / max(rows.height, 1)  # as a column: its division may differ in the last bit
        return float(share[0])
