"""Which figures moved because clocks were corrected: the same models once more, on the stamps as they were written.

A correction is a conclusion, so a reader must be able to see what hangs on it. The second set of tables is temporary:
it stands before the first while it is read, never enters the database's file, and is gone before anything else is read.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from graphlib import TopologicalSorter
from typing import Any

import polars as pl

from pipeline.measure.groups import ADDITIVE, read_additive
from pipeline.sql_files import Model, read_models
from pipeline.store import Store

SEGMENTS = "raw_clock_segments"
SECONDS = ("air", "lost", "covered", "unproved", "exposed", "unknown")
COUNTS = (
    "interruptions", "forced", "precaution", "unexplained", "planned", "return", "demands", "demands_met",
)  # fmt: skip
COLUMNS = tuple(f"{name}_us" for name in SECONDS) + tuple(f"{name}_count" for name in COUNTS)
MICROSECONDS = 1_000_000
TABLE = {
    "scope": pl.String, "name": pl.String, "figure": pl.String, "with_correction": pl.Float64,
    "without_correction": pl.Float64, "moved": pl.Float64,
}  # fmt: skip
MOVED = pl.col("with_correction") != pl.col("without_correction")


def measure_clock_effects(store: Store, keys: Mapping[str, list[dict[str, str]]]) -> dict[str, Any]:
    """The part ``clock_effects`` of figures.json; writes the table ``measure_clock_effects``.

    ``machines``: those of which some segment is corrected. ``compared_count``: figures compared, of the total and of
    the months and machines in ``keys``. ``figures``: scope (total, month, machine), name, figure, its value with the
    correction, without, and with minus without, in seconds or a count; all of the total, of the others those that
    moved. Nothing corrected: nothing is worked out and all are empty. ``moved_count`` counts those that moved.
    """
    machines = store.read(f"select distinct machine from {SEGMENTS} where is_corrected order by machine")
    corrected: list[str] = machines["machine"].to_list()
    table = pl.DataFrame(schema=TABLE)
    if corrected:
        table = _compared(read_additive(store), _uncorrected(store), keys)
    shown = table.filter(MOVED | (pl.col("scope") == "total"))
    store.write("measure_clock_effects", shown)
    return {
        "machines": corrected,
        "compared_count": table.height,
        "moved_count": table.filter(MOVED).height,
        "figures": shown.to_dicts(),
    }


def hanging_on(models: tuple[Model, ...], source: str, targets: tuple[str, ...]) -> tuple[Model, ...]:
    """The models that ``targets`` need and that read ``source``, by whatever way, each after those it reads."""
    by_name = {model.name: model for model in models}
    needed: set[str] = set()
    left = list(targets)
    while left:
        name = left.pop()
        if name in by_name and name not in needed:
            needed.add(name)
            left += by_name[name].reads
    moving = {source}
    chosen = []
    order = TopologicalSorter({name: set(by_name[name].reads) & needed for name in sorted(needed)}).static_order()
    for model in (by_name[name] for name in order):
        if moving & set(model.reads):
            moving.add(model.name)
            chosen.append(model)
    return tuple(chosen)


def _uncorrected(store: Store) -> pl.DataFrame:
    """The additive metrics if no clock had been corrected."""
    models = hanging_on(read_models(), SEGMENTS, ADDITIVE)
    _put_before(store, SEGMENTS, f"select * replace (false as is_corrected) from {SEGMENTS}")
    for model in models:
        _put_before(store, model.name, model.sql, is_view=model.is_view)
    without = read_additive(store)
    for model in reversed(models):
        store.run(f"drop {'view' if model.is_view else 'table'} temp.{model.name}")
    store.run(f"drop table temp.{SEGMENTS}")
    return without


def _put_before(store: Store, table: str, select: str, *, is_view: bool = False) -> None:
    store.run(f"create temp {'view' if is_view else 'table'} {table} as {select}")


def _compared(corrected: pl.DataFrame, without: pl.DataFrame, keys: Mapping[str, list[dict[str, str]]]) -> pl.DataFrame:
    rows: list[tuple[str, str, str, float, float, float]] = []
    for scope, column in (("total", ""), ("month", "month"), ("machine", "machine")):
        names = [key[column] for key in keys[f"{column}s"]] if column else [""]
        pair = [_sums(frame, column) for frame in (corrected, without)]
        for name in names:
            rows.extend((scope, name, *values) for values in _differences(*(sums.get(name, {}) for sums in pair)))
    return pl.DataFrame(rows, schema=TABLE, orient="row")


def _sums(additive: pl.DataFrame, column: str) -> dict[str, dict[str, int]]:
    """Microseconds and counts by the values of ``column``, or of all rows under an empty name."""
    sums = [pl.col(name).sum() if name in additive.columns else pl.lit(0).alias(name) for name in COLUMNS]
    if not column:
        return {"": additive.select(sums).row(0, named=True)}
    found = additive.filter(pl.col(column).is_not_null()).group_by(column, maintain_order=True).agg(sums)
    return {str(row.pop(column)): row for row in found.to_dicts()}


def _differences(corrected: Mapping[str, int], without: Mapping[str, int]) -> Iterator[tuple[str, float, float, float]]:
    for name in COLUMNS:
        values = int(corrected.get(name) or 0), int(without.get(name) or 0)
        unit = MICROSECONDS if name.endswith("_us") else 1
        figure = f"{name.removesuffix('_us')}_s" if name.endswith("_us") else name.removesuffix("_count")
        yield figure, values[0] / unit, values[1] / unit, (values[0] - values[1]) / unit
