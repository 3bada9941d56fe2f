"""Sums over any grouping are the same sums: seconds are added as whole microseconds."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.measure.figures import group_figures
from pipeline.measure.groups import Metrics, group_keys, read_metrics, select, sums
from pipeline.model import build_models
from pipeline.store import Store
from tests.model.room_tables import fill_store, open_memory
from tests.second_reader.sites import Room

KEYS: dict[str, Any] = dict.fromkeys(("month", "channel", "machine"), pl.String)
SERVICES = {"recovery_no": pl.Int64, "to_service_s": pl.Float64, "is_restored": pl.Boolean}
EMPTY: dict[str, dict[str, Any]] = {
    "metric_around": {"rescued_s": pl.Float64, "overrun_s": pl.Float64},
    "metric_events": {"interruptions_count": pl.Int64, "forced_count": pl.Int64},
    "metric_protect": {"protect_s": pl.Float64, "cover_losses_count": pl.Int64},
    "metric_recoveries": {"recovery_no": pl.Int64}
    | dict.fromkeys(("to_take_s", "to_air_s", "to_cover_s"), pl.Float64)
    | dict.fromkeys(("is_taken", "is_back", "is_covered_again"), pl.Boolean),
}
AIR = KEYS | dict.fromkeys(("air_s", "lost_s"), pl.Float64)


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    with open_memory() as opened:
        yield opened


def metrics_of(store: Store, air: list[tuple[Any, ...]], **others: list[tuple[Any, ...]]) -> Metrics:
    store.write("metric_air", pl.DataFrame(air, schema=AIR, orient="row"))
    for table, columns in EMPTY.items():
        store.write(table, pl.DataFrame(others.get(table, []), schema=KEYS | columns, orient="row"))
    return read_metrics(store, pl.DataFrame(schema=SERVICES))


def test_a_tenth_and_two_tenths_are_three_tenths(store: Store) -> None:
    """In binary 0.1 + 0.2 is not 0.3 (IEEE 754 doubles give 0.30000000000000004); in microseconds it is."""
    assert 0.1 + 0.2 != 0.3
    metrics = metrics_of(store, [("2031-03", "ONE", "A1", 0.1, 0.1), ("2031-03", "ONE", "A2", 0.2, 0.2)])
    assert group_figures(metrics, {})["air_s"] == 0.3
    assert sums(metrics, {})["lost_us"] == 300_000


def test_ten_thousand_tenths_do_not_drift(store: Store) -> None:
    """10,000 × 0.1 s are 1,000 s; adding the doubles one by one gives 1000.0000000001588."""
    metrics = metrics_of(store, [("2031-03", "ONE", "A1", 0.1, 0.0)] * 10_000)
    assert sum([0.1] * 10_000) != 1000.0
    assert group_figures(metrics, {})["air_s"] == 1000.0


ROWS = st.lists(
    st.tuples(
        st.sampled_from(["2031-03", "2031-04"]), st.sampled_from(["ONE", "TWO"]), st.sampled_from(["A1", "A2", None]),
        st.integers(0, 10**13),
    ),
    max_size=25,
)  # fmt: skip


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(rows=ROWS)
def test_every_grouping_adds_up_to_the_total(store: Store, rows: list[tuple[str, str, str | None, int]]) -> None:
    """Up to 25 rows of whole microseconds below 10^13 (115 days), written as seconds, come back to the last digit."""
    metrics = metrics_of(store, [(m, c, k, us / 1e6, us / 1e6) for m, c, k, us in rows])
    total = sum(us for *_, us in rows)
    assert sums(metrics, {}).get("air_us", 0) == total
    assert sum(sums(metrics, {"month": month})["air_us"] for month in ("2031-03", "2031-04")) == total
    assert sum(sums(metrics, {"channel": channel})["lost_us"] for channel in ("ONE", "TWO")) == total
    standby = sum(us for *_, machine, us in rows if machine is None)
    assert sum(sums(metrics, {"machine": machine})["air_us"] for machine in ("A1", "A2")) + standby == total
    crossed = [{"month": m, "channel": c} for m in ("2031-03", "2031-04") for c in ("ONE", "TWO")]
    assert sum(sums(metrics, key)["air_us"] for key in crossed) == total


def test_the_four_tables_are_added_side_by_side(store: Store) -> None:
    metrics = metrics_of(
        store,
        [("2031-03", "ONE", "A1", 60.0, 1.0)],
        metric_around=[("2031-03", "ONE", "A1", 5.0, 7.0), ("2031-03", "TWO", None, 2.0, 0.0)],
        metric_events=[("2031-03", "ONE", "A1", 3, 2)],
        metric_protect=[("2031-03", "ONE", "A2", 9.5, 1)],
    )
    total = sums(metrics, {})
    assert (total["air_us"], total["rescued_us"], total["overrun_us"]) == (60_000_000, 7_000_000, 7_000_000)
    assert (total["interruptions_count"], total["forced_count"], total["cover_losses_count"]) == (3, 2, 1)
    assert sums(metrics, {"machine": "A2"})["protect_us"] == 9_500_000
    assert sums(metrics, {"machine": "A2"})["air_us"] == 0
    assert sums(metrics, {"channel": "NONE"})["air_us"] == 0


def test_select_takes_the_rows_that_match_every_column() -> None:
    frame = pl.DataFrame({"month": ["a", "a", "b"], "channel": ["x", "y", "x"], "n": [1, 2, 3]})
    assert select(frame, {"month": "a", "channel": "x"})["n"].to_list() == [1]
    assert select(frame, {})["n"].to_list() == [1, 2, 3]


def at(month: int, day: int, hour: int) -> datetime:
    return datetime(2031, month, day, hour)  # noqa: DTZ001 - rows carry naive UTC


ROOM = Room(
    settings={"name": "Invented room", "timezone": "UTC", "day_starts": "00:00", "frame_rate": 25},
    events=({"at": at(7, 1, 0), "machine": "B1", "event": "hours", "value": 1.0, "detail": None},),
    switches=(
        {"at": at(3, 9, 10), "action": "take", "channel": "ONE", "from_machine": "A2", "to_machine": "C1"},
        {"at": at(3, 9, 10), "action": "take", "channel": "ONE", "from_machine": "C1", "to_machine": "standby"},
    ),
    bookings=(
        {"booking": "K1", "transmission": "T1", "channel": "TWO", "machine": "A2", "role": "air",
         "starts": at(3, 9, 10), "ends": at(3, 9, 11)},
        {"booking": "K2", "transmission": "T2", "channel": "ONE", "machine": "A2", "role": "air",
         "starts": at(5, 31, 23), "ends": at(6, 1, 0)},
    ),
    machines=({"machine": "A1"},),
)  # fmt: skip


def test_the_groups_that_are_printed(store: Store) -> None:
    """Air in March and May: April is listed without air, February and June are not; May's last instant is June's first.

    A1 is in the register, A2 booked, B1 in a log; standby and other sources are no machines.
    """
    fill_store(store, ROOM)
    months = [(f"2031-{n:02d}", at(n, 1, 0), at(n + 1, 1, 0)) for n in range(2, 7)]
    columns = {"month": pl.String, "started_at_utc": pl.Datetime("us"), "ended_at_utc": pl.Datetime("us")}
    store.write("site_months", pl.DataFrame(months, schema=columns, orient="row"))
    build_models(store)
    keys = group_keys(store)
    assert [key["month"] for key in keys["months"]] == ["2031-03", "2031-04", "2031-05"]
    assert keys["channels"] == [{"channel": "ONE"}, {"channel": "TWO"}]
    machines = [key["machine"] for key in keys["machines"]]
    assert machines == sorted(machines)
    assert {"A1", "A2", "B1"} <= set(machines) <= {"A1", "A2", "B1", "C1"}
    assert len(keys["month_channels"]) == 6
