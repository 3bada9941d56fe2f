"""data/case.csv: every option's lines add up to its total, for every machine, with unit and source."""

from __future__ import annotations

import polars as pl
import pytest

from pipeline import outputs
from pipeline.costs import Costs, PartCost
from pipeline.measure.transports.case.measuring import SOURCES, TOTAL, measure_case
from pipeline.settings import Settings
from pipeline.store import Store
from tests.measure.transports.test_case import COSTS
from tests.measure.transports.test_case_records import FIGURES, SITE, store

__all__ = ["store"]  # the fixture


def priced(costs: Costs) -> Settings:
    return Settings(**{**{name: getattr(SITE, name) for name in SITE.__dataclass_fields__}, "costs": costs})


def test_lines_add_up_to_the_total(store: Store) -> None:
    parts = {"kinds": [{"kind": "head", "failed_count": 1, "taken_out_count": 0, "life_h": 10.0}]}
    figures = {**FIGURES, "transports": {**FIGURES["transports"], "parts": parts}}
    found = measure_case(store, priced(Costs(**{**vars(COSTS), "parts": (PartCost("head", 1.0, 2.0),)})), figures)
    table = store.read("select * from measure_case")
    assert table["unit"].unique().to_list() == ["crowns a year"]
    assert not table["source"].is_null().any()
    for (machine, option), rows in table.group_by("machine", "option"):
        lines, total = rows.filter(pl.col("line") != TOTAL), rows.filter(pl.col("line") == TOTAL)
        assert total.height == 1
        for column in ("amount", "low", "high"):
            assert lines[column].sum() == pytest.approx(total[column][0]), (machine, option, column)
    names = set(table["line"].to_list())
    assert {name for name in names if not name.startswith("changes: ")} <= set(SOURCES)
    assert "changes: head" in names
    shown = {(row["machine"], one["option"]): one["value"] for row in found["machines"] for one in row["options"]}
    totals = table.filter(pl.col("line") == TOTAL)
    assert {(row["machine"], row["option"]): row["amount"] for row in totals.to_dicts()} == {
        key: value for key, value in shown.items() if value is not None
    }


def test_the_file_is_written_with_the_others(store: Store) -> None:
    measure_case(store, priced(COSTS), FIGURES)
    assert outputs.TABLES["case"] == ("measure_case", "machine, option, line")
    frame = store.read("select * from measure_case order by machine, option, line")
    assert frame.columns == ["machine", "option", "line", "amount", "low", "high", "unit", "source"]
