"""Care compared: hand-worked rooms, what is not recorded, and rooms that fool the raw ratio only."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from pipeline.measure.transports.care.adherence import find_adherence
from pipeline.measure.transports.care.comparison import (
    ITEMS,
    LEVEL,
    compare_care,
    compare_items,
    find_power,
    group_item,
)
from pipeline.measure.transports.care.measuring import WARM_S, measure_care
from pipeline.measure.transports.care.together import MACHINES_AT_MOST, compare_together
from pipeline.statistics import detectable_ratio, rate_ratio
from pipeline.store import Store
from tests.render.small_room import SETTINGS, open_room
from tests.sql.cases import FOLDER, run_case

Cell = tuple[str, bool | None, bool | None, bool | None, bool | None, int, int, float]
SCHEMA = {
    "machine": pl.String, "clean": pl.Boolean, "lineup": pl.Boolean, "warm_up": pl.Boolean, "head": pl.Boolean,
    "uses_count": pl.Int64, "events_count": pl.Int64, "duty_h": pl.Float64,
}  # fmt: skip


def cells(*rows: Cell) -> pl.DataFrame:
    return pl.DataFrame(rows, schema=SCHEMA, orient="row")


def cleaned_only(*rows: tuple[str, bool | None, int, float]) -> pl.DataFrame:
    return cells(*((name, less, None, None, None, 1, events, hours) for name, less, events, hours in rows))


def item_of(found: dict[str, Any], item: str) -> dict[str, Any]:
    return next(row for row in found["items"] if row["item"] == item)


def test_the_groups_and_the_raw_ratio_by_hand() -> None:
    """12 events in 100 h uncleaned, 30 in 500 h cleaned, 4 in 50 h not recorded: 120, 60 and 80 per 1,000 h."""
    found = compare_care(cleaned_only(("T1", True, 12, 100.0), ("T1", False, 30, 500.0), ("T1", None, 4, 50.0)))
    row = item_of(found, "clean")
    assert (row["less"]["events_count"], row["less"]["duty_h"]) == (12, 100.0)
    assert row["less"]["per_1000_h"]["value"] == pytest.approx(120.0)
    assert row["more"]["per_1000_h"]["value"] == pytest.approx(60.0)
    assert row["not_recorded"]["per_1000_h"]["value"] == pytest.approx(80.0)
    assert row["raw"]["value"] == pytest.approx(2.0)
    # One machine is one stratum: the ratio inside machines is the raw one, with its limits and p.
    ratio, low, high, p = rate_ratio(12, 100.0, 30, 500.0)
    assert row["adjusted"] == pytest.approx({"value": ratio, "low": low, "high": high})
    assert row["p"] == pytest.approx(p)
    assert found["tests_count"] == 1
    assert row["adjusted_p"] == row["p"]
    assert row["could_show_ratio"] == pytest.approx(detectable_ratio(100.0, 500.0, 42 / 600, level=LEVEL, power=0.8))


def test_a_bad_machine_that_is_cleaned_less_fools_the_raw_ratio_only() -> None:
    """Good: 0.1 an hour, 10 of 100 h uncleaned. Bad: 1 an hour, 90 of 100 h uncleaned. No effect in either."""
    rows = [("good", True, 1, 10.0), ("good", False, 9, 90.0), ("bad", True, 90, 90.0), ("bad", False, 10, 10.0)]
    row = item_of(compare_care(cleaned_only(*rows)), "clean")
    # Raw: 91 in 100 h against 19 in 100 h.
    assert row["raw"]["value"] == pytest.approx(91 / 19)
    assert row["raw"]["low"] > 1.0
    assert row["adjusted"]["value"] == pytest.approx(1.0)
    assert not row["is_named"]
    assert row["both_count"] == row["machines_count"] == 2


def test_an_effect_inside_machines_is_named() -> None:
    """Both machines: 40 events in 100 h uncleaned, 10 in 100 h cleaned; four times, at 80 to 20 of 100 events."""
    found = compare_care(
        cleaned_only(*((name, less, 40 if less else 10, 100.0) for name in "ab" for less in (True, False)))
    )
    assert found["named"] == ["clean"]
    assert item_of(found, "clean")["adjusted"]["value"] == pytest.approx(4.0)


def test_machines_with_one_kind_only_tell_nothing() -> None:
    """One is never cleaned, one always: care and machine cannot be told apart, so nothing is tested."""
    found = compare_care(cleaned_only(("T1", True, 30, 100.0), ("T2", False, 5, 100.0)))
    row = item_of(found, "clean")
    assert row["raw"]["value"] == pytest.approx(6.0)
    assert (row["adjusted"], row["p"], row["adjusted_p"], row["both_count"]) == (None, None, None, 0)
    assert (found["tests_count"], found["named"], row["could_show_ratio"]) == (0, [], None)


def test_always_done_leaves_nothing_to_compare() -> None:
    row = item_of(compare_care(cleaned_only(("T1", False, 5, 100.0), ("T2", False, 7, 100.0))), "clean")
    assert row["less"]["per_1000_h"] == {"value": None, "low": None, "high": None}
    assert (row["raw"], row["adjusted"], row["p"]) == (None, None, None)


def test_never_logged_is_not_recorded_and_never_not_done() -> None:
    row = item_of(compare_care(cleaned_only(("T1", None, 5, 100.0))), "clean")
    assert row["less"]["uses_count"] == row["more"]["uses_count"] == 0
    assert row["not_recorded"]["events_count"] == 5


def test_no_event_on_one_side_is_without_limit() -> None:
    row = item_of(compare_care(cleaned_only(("T1", True, 6, 10.0), ("T1", False, 0, 10.0))), "clean")
    assert (row["adjusted"]["value"], row["adjusted"]["high"]) == (None, None)
    # All six of six: (r / (r + 1))^6 = 0.025.
    share = 0.025 ** (1 / 6)
    assert row["adjusted"]["low"] == pytest.approx(share / (1 - share))


def test_an_empty_room() -> None:
    found = compare_care(cells())
    assert found["tests_count"] == 0
    assert [row["item"] for row in found["items"]] == list(ITEMS)
    assert found["together"] is None


def test_p_is_adjusted_over_all_the_items() -> None:
    """Cleaning and line-up always go together: their p are equal, and warm-up's is 1."""
    rows: list[Cell] = [
        ("T1", True, True, True, None, 1, 6, 10.0), ("T1", True, True, False, None, 1, 6, 10.0),
        ("T1", False, False, True, None, 1, 3, 10.0), ("T1", False, False, False, None, 1, 3, 10.0),
    ]  # fmt: skip
    found = compare_care(cells(*rows))
    clean, lineup, warm_up = (item_of(found, item) for item in ITEMS[:3])
    assert clean["p"] == lineup["p"] == pytest.approx(rate_ratio(12, 20.0, 6, 20.0)[3])
    assert warm_up["p"] == 1.0
    # p p 1 of three: p × 3 / 2.
    assert clean["adjusted_p"] == pytest.approx(1.5 * clean["p"])
    assert found["tests_count"] == 3


def test_hours_that_tell_little_are_not_counted_whole() -> None:
    """Shares 0.1 and 0.9, equal events: together half and half, yet they tell 0.09 an event, as 20 h of 200 h would."""
    rows = [("a", True, 5, 10.0), ("a", False, 5, 90.0), ("b", True, 5, 90.0), ("b", False, 5, 10.0)]
    power = find_power(group_item(cleaned_only(*rows), "clean"), 1)
    assert power["could_show_ratio"] == pytest.approx(detectable_ratio(20.0, 180.0, 0.1, level=LEVEL, power=0.8))


cell_rows = st.lists(
    st.tuples(
        st.sampled_from("abc"), *(st.sampled_from([True, False, None]) for _ in ITEMS), st.integers(1, 9),
        st.integers(0, 9), st.floats(0.5, 90.0),
    ),
    max_size=12,
)  # fmt: skip


@examples(max_examples=60)
@given(cell_rows)
def test_every_item_adds_up_to_the_room_and_limits_hold_the_ratio(rows: list[Cell]) -> None:
    frame = cells(*rows)
    for row in compare_items({item: group_item(frame, item) for item in ITEMS}):
        kinds = [row[kind] for kind in ("less", "more", "not_recorded")]
        assert sum(kind["events_count"] for kind in kinds) == frame["events_count"].sum()
        assert sum(kind["uses_count"] for kind in kinds) == frame["uses_count"].sum()
        assert sum(kind["duty_h"] for kind in kinds) == pytest.approx(frame["duty_h"].sum())
        if row["adjusted"] is not None:
            low, value, high = (row["adjusted"][name] for name in ("low", "value", "high"))
            value, high = (math.inf if number is None else number for number in (value, high))
            assert low <= value * (1 + 1e-9)
            assert value <= high * (1 + 1e-9)
            assert row["p"] <= row["adjusted_p"] <= 1.0


def test_all_care_at_once_by_hand() -> None:
    """8, 4, 4 and 2 events in equal hours: each doubles the rate, exactly, so nothing is left to scatter."""
    rows: list[Cell] = [
        ("T1", True, True, None, None, 1, 8, 10.0), ("T1", True, False, None, None, 1, 4, 10.0),
        ("T1", False, True, None, None, 1, 4, 10.0), ("T1", False, False, None, None, 1, 2, 10.0),
        ("T1", None, True, None, None, 1, 50, 10.0),
    ]  # fmt: skip
    found = compare_together(cells(*rows), ["clean", "lineup"])
    assert found is not None
    assert found["ratios"]["clean"]["value"] == pytest.approx(2.0)
    assert found["ratios"]["lineup"]["value"] == pytest.approx(2.0)
    assert found["dispersion"] == pytest.approx(0.0, abs=1e-9)
    # Four rows less an intercept and two ratios; the fifth row's cleaning is not recorded.
    assert (found["free_count"], found["events_count"]) == (1, 18)


def test_all_care_at_once_parts_what_goes_together() -> None:
    """Who cleans lines up, mostly: 90 of 100 h. Only line-up matters (10 times); raw, cleaning seems to matter too."""
    rows: list[Cell] = [
        ("T1", True, True, None, None, 1, 900, 90.0), ("T1", True, False, None, None, 1, 10, 10.0),
        ("T1", False, True, None, None, 1, 100, 10.0), ("T1", False, False, None, None, 1, 90, 90.0),
    ]  # fmt: skip
    found = compare_care(cells(*rows))
    assert item_of(found, "clean")["raw"]["value"] == pytest.approx(910 / 190)
    assert found["together"]["ratios"]["clean"]["value"] == pytest.approx(1.0)
    assert found["together"]["ratios"]["lineup"]["value"] == pytest.approx(10.0)


def test_all_care_at_once_is_bounded() -> None:
    rows: list[Cell] = [
        (f"T{place:03}", clean, lineup, None, None, 1, 1, 10.0 + place)
        for place in range(MACHINES_AT_MOST + 5)
        for clean in (True, False)
        for lineup in (True, False)
    ]
    found = compare_together(cells(*rows), ["clean", "lineup"])
    assert found is not None
    assert (found["machines_count"], found["machines_left_out_count"]) == (MACHINES_AT_MOST, 5)
    assert found["events_count"] == 4 * MACHINES_AT_MOST
    assert compare_together(cells(*rows), ["clean"]) is None


def test_shares_by_hand() -> None:
    rows = pl.DataFrame(
        {
            "machine": ["T1", "T2"], "uses_count": [190, 5], "events_count": [3, 0], "duty_h": [170.0, 4.0],
            "clean_known_count": [189, 0], "clean_count": [188, 0], "lineup_known_count": [10, 5],
            "lineup_count": [10, 0], "heard_before_s": [600.0, None], "head_h": [12.5, None],
        }
    )  # fmt: skip
    found = find_adherence(rows)
    first, second = found["machines"]
    # scipy's Clopper–Pearson of 188 in 189.
    from scipy import stats

    limits = stats.binomtest(188, 189).proportion_ci(0.95, "exact")
    assert (first["clean"]["low"], first["clean"]["high"]) == (pytest.approx(limits.low), pytest.approx(limits.high))
    assert first["lineup"]["value"] == 1.0
    # Ten of ten: the lower limit is 0.025^(1/10).
    assert first["lineup"]["low"] == pytest.approx(0.025 ** (1 / 10))
    assert second["clean"] == {"count": 0, "known_count": 0, "value": None, "low": 0.0, "high": 1.0}
    assert second["lineup"]["value"] == 0.0
    assert (found["room"]["clean"]["count"], found["room"]["clean"]["known_count"]) == (188, 189)
    assert (found["room"]["lineup"]["count"], found["room"]["lineup"]["known_count"]) == (10, 15)


@pytest.fixture
def worked() -> Iterator[Store]:
    """The uses worked in words in tests/sql/core_uses/cleaned-and-lined-up-or-not."""
    with Store(Path(":memory:")) as store:
        run_case(store, FOLDER / "core_uses" / "cleaned-and-lined-up-or-not")
        yield store


def test_the_worked_case_from_its_logs(worked: Store) -> None:
    """A1 cleaned before T1 (one event), not before T2; A2 not recorded before T1 (one event), cleaned before T2."""
    found = measure_care(worked, SETTINGS, {})
    assert (found["uses_count"], found["events_count"], found["events_outside_count"]) == (4, 2, 0)
    assert found["duty_h"] == pytest.approx(4.0)
    row = item_of(found, "clean")
    told = [(row[kind]["uses_count"], row[kind]["events_count"]) for kind in ("less", "more", "not_recorded")]
    assert told == [(1, 0), (2, 1), (1, 1)]
    # Inside machines only A1 has both: one event in the hour cleaned, none in the hour not.
    assert (row["both_count"], row["adjusted"]["value"], row["p"]) == (1, 0.0, 1.0)
    # A1's uses on its head: 0.083333 h and 1.119444 h; the middle parts them, so each side has one.
    assert found["cuts"] == {"warm_up_s": WARM_S, "head_h": pytest.approx((300 + 4030) / 2 / 3600)}
    assert item_of(found, "head")["less"]["uses_count"] == item_of(found, "head")["more"]["uses_count"] == 1
    assert item_of(found, "warm_up")["not_recorded"]["uses_count"] == 4
    by_name = {one["machine"]: one for one in found["adherence"]["machines"]}
    assert (by_name["A1"]["clean"]["count"], by_name["A1"]["clean"]["known_count"]) == (1, 2)
    assert (by_name["A2"]["clean"]["count"], by_name["A2"]["clean"]["known_count"]) == (1, 1)
    assert by_name["A2"]["lineup"]["value"] is None


def test_a_room_without_a_use_is_measured_too(worked: Store) -> None:
    """One recovery is left, of no use; nothing is infinite or not a number, as figures.json must be."""
    worked.run("delete from core_uses")
    found = measure_care(worked, SETTINGS, {})
    assert (found["uses_count"], found["duty_h"], found["events_outside_count"]) == (0, 0.0, 1)
    assert found["cuts"]["head_h"] is None
    assert found["adherence"]["machines"] == []
    assert json.loads(json.dumps(found, allow_nan=False)) == found


def test_every_event_of_the_room_is_in_a_use_or_outside() -> None:
    with open_room() as store:
        found = measure_care(store, SETTINGS, {})
        recoveries = store.value("select count(*) from core_recoveries")
        inside = store.value("select coalesce(sum(recoveries_count), 0) from core_uses")
        losses = store.value("select coalesce(sum(losses_count), 0) from core_uses")
        rolled = store.value(
            "select sum(date_diff('microsecond', started_at_utc, ended_at_utc)) from core_rolling_spans"
        )
        used = store.value("select sum(rolled_s) from core_uses")
    assert recoveries > 0
    assert inside + found["events_outside_count"] == recoveries
    assert found["events_count"] == inside + losses
    assert 0 < float(used) <= rolled * 1e-6


def test_a_room_without_an_effect_is_named_seldom() -> None:
    """Forty rooms of eight machines of different rates and no effect: a name at most once in twenty."""
    draw = np.random.default_rng(3)
    named = 0
    for _ in range(40):
        rates = draw.gamma(4.0, 0.02, 8)
        rows: list[Cell] = [
            (f"T{machine}", clean, lineup, warm, None, 1, int(draw.poisson(rates[machine] * 20.0)), 20.0)
            for machine in range(8)
            for clean in (True, False)
            for lineup in (True, False)
            for warm in (True, False)
        ]
        frame = cells(*rows)
        named += any(row["is_named"] for row in compare_items({item: group_item(frame, item) for item in ITEMS}))
    # Binomial of 40 at 0.05: 8 or more has a chance of 0.0006.
    assert named < 8
