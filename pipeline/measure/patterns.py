"""What comes back: which machine, reel, head, recorder, pair or hour has more events than its air time would give it.

Many names are compared, so some stand high by luck alone. Every name is held against the room's own rate by its exact
probability, and that is allowed for the number of all comparisons made.
"""

from __future__ import annotations

from typing import Any

import polars as pl

from pipeline.measure.coincidences import Coincidences, find_coincidences
from pipeline.measure.pattern_exposures import air_by_name, events_by_name
from pipeline.settings import Settings
from pipeline.statistics import benjamini_hochberg, binomial_at_least
from pipeline.store import Store

LEVEL = 0.05  # adjusted probabilities below it are called out
MICROSECONDS = 1_000_000
KEYS = ["kind", "name"]
TABLE = {
    "kind": pl.String, "name": pl.String, "count": pl.Int64, "incidents": pl.Int64, "exposure_s": pl.Float64,
    "expected": pl.Float64, "p": pl.Float64, "adjusted_p": pl.Float64, "calls_at": pl.Int64, "comparisons": pl.Int64,
}  # fmt: skip


def find_patterns(store: Store, settings: Settings) -> dict[str, Any]:
    """The part ``patterns`` of figures.json; writes the three tables behind it.

    ``measure_patterns``: one row a kind and name (null: not recorded). ``measure_pattern_events``: the name of every
    event (recovery_no) in every kind, the events behind each row. ``measure_coincidences``: one row an onset of a
    cluster. Names without an event stand in the table and, summed, in ``quiet`` of the figures.
    """
    air, events = air_by_name(store, settings.zone), events_by_name(store, settings.zone)
    found = find_coincidences(store)
    rows, together = compare(count_names(air, events), found)
    table = pl.DataFrame(rows, schema=TABLE, orient="row")
    store.write("measure_patterns", table)
    store.write("measure_pattern_events", events)
    store.write("measure_coincidences", found.table())
    return {
        "events": events["recovery_no"].n_unique(),
        "air_s": _air_us(air) / MICROSECONDS,
        "level": LEVEL,
        "comparisons": table["comparisons"].max() or 0,
        "names": [_with_incidents(row, events) for row in rows if row["count"] or row["name"] is None],
        "quiet": quiet(table),
        "coincidences": found.document(together),
    }


def _air_us(air: pl.DataFrame) -> int:
    """The room's air time: every kind splits the same, so any will do."""
    return int(air.filter(pl.col("kind") == "machine")["exposure_us"].sum())


def _with_incidents(row: dict[str, Any], events: pl.DataFrame) -> dict[str, Any]:
    """The row with ``which``: the incidents behind it where its own p, before any allowance, is below the level."""
    which: list[str] = []
    if row["p"] is not None and row["p"] < LEVEL:
        mine = events.filter((pl.col("kind") == row["kind"]) & (pl.col("name") == row["name"]))
        which = sorted(mine["incident"].unique().drop_nulls())
    return {name: value for name, value in row.items() if name != "comparisons"} | {"which": which}


def count_names(air: pl.DataFrame, events: pl.DataFrame) -> pl.DataFrame:
    """kind, name, count, incidents, exposure_us of every name with air time or an event; a null name is one too."""
    counted = events.group_by(KEYS, maintain_order=True).agg(
        pl.len().alias("count"), pl.col("incident").n_unique().alias("incidents")
    )
    joined = air.join(counted, on=KEYS, how="full", coalesce=True, nulls_equal=True)
    numbers = [pl.col(name).fill_null(0).cast(pl.Int64) for name in ("count", "incidents", "exposure_us")]
    return joined.with_columns(numbers).sort(KEYS, nulls_last=True)


def compare(counted: pl.DataFrame, found: Coincidences) -> tuple[list[dict[str, Any]], list[float | None]]:
    """Every name against the room's rate, and the adjusted p of each kind of ``found`` in its order.

    A name is compared if it is recorded and has some of the air time and not all of it. p is the probability of at
    least its count, if each of the room's events fell on it with its share of the air time (exact binomial). Adjusted
    p is by Benjamini and Hochberg over all names of all kinds and the kinds of coincidence together; ``calls_at`` the
    least count that would be called out if it stood alone; both are None where nothing is compared.
    """
    rows = [_row(name) for name in counted.iter_rows(named=True)]
    for kind in counted["kind"].unique():
        members = [row for row in rows if row["kind"] == kind]
        _hold_against_room(members)
    tested = [row for row in rows if row["p"] is not None]
    extra = [test.p for test in found.tests if test.p is not None]
    adjusted = benjamini_hochberg([*(row["p"] for row in tested), *extra])
    for row, p in zip(tested, adjusted, strict=False):
        row["adjusted_p"] = float(p)
    for row in rows:
        row["comparisons"] = len(adjusted)
    _calls_at(tested, len(adjusted))
    rest = iter(adjusted[len(tested) :])
    return [{name: row[name] for name in TABLE} for row in rows], [
        None if test.p is None else float(next(rest)) for test in found.tests
    ]


def _row(name: dict[str, Any]) -> dict[str, Any]:
    blank: dict[str, Any] = dict.fromkeys(TABLE)
    return {**blank, **name, "exposure_s": name["exposure_us"] / MICROSECONDS, "expected": 0.0}


def _hold_against_room(members: list[dict[str, Any]]) -> None:
    """Fill expected and p of all names of one kind: together they hold all the events and all the air time."""
    events, air_us = sum(row["count"] for row in members), sum(row["exposure_us"] for row in members)
    for row in members:
        share = row["exposure_us"] / air_us if air_us else 0.0
        row |= {"events": events, "share": share, "expected": events * share}
        if row["name"] is not None and 0 < row["exposure_us"] < air_us:
            row["p"] = binomial_at_least(row["count"], events, share)


def _calls_at(tested: list[dict[str, Any]], comparisons: int) -> None:
    for row in tested:
        row["calls_at"] = least_called(row["events"], row["share"], LEVEL / comparisons)


def least_called(events: int, share: float, level: float) -> int | None:
    """The least count with a probability below ``level``; None where not even all ``events`` are so unlikely."""
    for count in range(events + 1):
        if binomial_at_least(count, events, share) < level:
            return count
    return None


def quiet(table: pl.DataFrame) -> list[dict[str, Any]]:
    """Names without an event, by kind: how many, their air seconds, and the events expected of them together."""
    silent = table.filter((pl.col("count") == 0) & pl.col("name").is_not_null())
    return (
        silent.group_by("kind", maintain_order=True)
        .agg(pl.len().alias("names"), pl.col("exposure_s").sum().round(6), pl.col("expected").sum().round(9))
        .sort("kind")
        .to_dicts()
    )
