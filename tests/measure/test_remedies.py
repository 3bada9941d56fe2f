"""Remedies being watched, in a room worked by hand, and the tests behind them against closed forms."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

import polars as pl
import pytest
from scipy import stats

from pipeline.measure.remedies import measure_remedies, remedy_of
from pipeline.measure.remedy_tests import Tally, judge_all, quiet_hours, says
from pipeline.store import Store
from tests.model.room_tables import open_memory

TIME = pl.Datetime("us")


def at(text: str) -> datetime:
    """A naive UTC instant of 2031 from "02-10 20:00"."""
    return datetime.fromisoformat(f"2031-{text}")


def frame(schema: dict[str, Any], *rows: tuple[Any, ...]) -> pl.DataFrame:
    return pl.DataFrame(rows, schema=schema, orient="row")


TICKET = {
    "ticket": pl.String, "machine": pl.String, "opened_at_utc": TIME, "restored_at_utc": TIME, "closed_at_utc": TIME,
    "symptom": pl.String, "cause": pl.String, "action": pl.String, "part": pl.String,
}  # fmt: skip
# One machine, M1, on air an hour at 20:00 on these days. Head clogs on the first four; the ticket of the fourth says
# cleaned and was restored at 22:00 that day. One clog more on 1 March, and M2's are not M1's.
DAYS = ("01-10", "01-20", "01-30", "02-05", "02-10", "02-20", "03-01", "03-05")
CLOGS = ("01-10", "01-20", "01-30", "02-05", "03-01")


@pytest.fixture
def store() -> Iterator[Store]:
    with open_memory() as store:
        tickets = [
            ("F1", "M1", at("02-05 20:20"), at("02-05 22:00"), at("02-06 09:00"), "snow", "clogged", "cleaned", None),
            ("F2", "M1", at("02-20 09:00"), None, at("02-20 10:00"), "looks dim", None, "nothing found", None),
            ("F3", "M1", at("02-21 09:00"), at("02-21 10:00"), None, "worn", "worn", "replaced", "head"),
            ("F4", "M2", at("03-02 09:00"), at("03-02 10:00"), at("03-02 11:00"), "hum", None, None, "fuse"),
        ]
        store.write("clean_tickets", frame(TICKET, *tickets))
        events = [(number, "M1", at(f"{day} 20:10")) for number, day in enumerate(CLOGS, start=1)]
        events.append((6, "M2", at("02-07 20:10")))
        schema = {"recovery_no": pl.Int64, "machine": pl.String, "started_at_utc": TIME, "switch_no": pl.Int64}
        store.write("core_recoveries", frame(schema, *[(*event, event[0]) for event in events]))
        schema = {"recovery_no": pl.Int64, "incident": pl.String}
        store.write("core_incident_recoveries", frame(schema, *[(number, f"i{number}") for number, _, _ in events]))
        schema = {"recovery_no": pl.Int64, "top": pl.String, "second": pl.String}
        causes = [(number, "heads and tape path", "clogged") for number, _, _ in events]
        store.write("measure_causes", frame(schema, *causes))
        schema = {"ticket": pl.String, "recovery_no": pl.Int64}
        store.write("measure_ticket_matches", frame(schema, ("F1", 4)))
        schema = {"switch_no": pl.Int64, "from_machine": pl.String, "at_utc": TIME, "is_protect": pl.Boolean}
        switches = [(number, machine, when, number != 2) for number, machine, when in events]
        store.write("core_switches", frame(schema, *switches))
        schema = {"feed": pl.String, "started_at_utc": TIME, "ended_at_utc": TIME}
        air = [("M1", at(f"{day} 20:00"), at(f"{day} 21:00")) for day in DAYS]
        store.write("core_air_spans", frame(schema, *air, ("M2", at("01-01 00:00"), at("01-02 00:00"))))
        schema = {"month": pl.String, "started_at_utc": TIME, "ended_at_utc": TIME}
        edges = [at("01-01 00:00"), at("02-01 00:00"), at("03-01 00:00"), at("04-01 00:00")]
        months = [(f"2031-0{place + 1}", edges[place], edges[place + 1]) for place in range(3)]
        store.write("site_months", frame(schema, *months))
        yield store


def test_a_room_worked_by_hand(store: Store) -> None:
    january, february, march = measure_remedies(store, ["2031-01", "2031-02", "2031-03"])
    assert january == {"month": "2031-01", "remedies": [], "left_out": 0}
    # Before 5 February 22:00: hours of 10, 20, 30 January and 5 February, 4 h; clogs on the first three days, the
    # ticket's own left out. Since, to the end of February: 10 and 20 February, 2 h, no clog.
    (told,) = february["remedies"]
    assert (told["ticket"], told["machine"], told["done"]) == ("F1", "M1", "2031-02-05T22:00:00Z")
    assert (told["before_s"], told["since_s"]) == (4 * 3600, 2 * 3600)
    assert (told["same"]["before"], told["same"]["since"], told["same"]["ratio"]) == (3, 0, 0.0)
    assert told["incident"] == "i4"
    assert told["incidents_before"] == ["i1", "i2", "i3"]
    # Of its switches the second is no protect switch, and the fourth is the ticket's own.
    assert (told["all"]["before"], told["all"]["since"]) == (2, 0)
    # To the end of March 4 h and the clog of 1 March: 1 in 4 h after 3 in 4 h, a third of the rate.
    fuse, clog = march["remedies"]
    assert (clog["since_s"], clog["same"]["since"]) == (4 * 3600, 1)
    assert clog["same"]["ratio"] == pytest.approx(1 / 3)
    assert clog["incidents_since"] == ["i5"]
    assert clog["same"]["says"] == "cannot be told yet"
    # The fuse of M2 had no event and no air since: nothing is compared, and nothing is made up.
    assert (fuse["ticket"], fuse["since_s"], fuse["all"]["p"], fuse["all"]["says"]) == (
        "F4", 0.0, None, "cannot be told yet"
    )  # fmt: skip


def test_what_says_that_something_was_done() -> None:
    ticket = {"ticket": "F", "symptom": None, "cause": None, "part": None, "top": None, "second": None}
    assert remedy_of({**ticket, "action": "capstan servo adjusted"})["second"] == "capstan or control track"  # type: ignore[index]
    assert remedy_of({**ticket, "action": "head worn, ordered", "part": "video head"}) is None
    assert remedy_of({**ticket, "action": None, "part": "video head"}) is not None
    assert remedy_of({**ticket, "action": None}) is None
    assert remedy_of({**ticket, "action": "cleaned", "top": "not a fault", "second": "test"}) is None
    ruled = remedy_of({**ticket, "action": "cleaned", "top": "server", "second": None})
    assert ruled is not None
    assert (ruled["top"], ruled["second"]) == ("server", "")


def test_later_remedies_of_the_same_cause_take_the_place_of_earlier_ones(store: Store) -> None:
    again = ("F9", "M1", at("02-25 20:00"), None, at("02-25 21:00"), "snow", "clogged", "cleaned again", None)
    store.append("clean_tickets", frame(TICKET, again))
    (told,) = measure_remedies(store, ["2031-01", "2031-02"])[1]["remedies"]
    assert (told["ticket"], told["earlier"], told["done"]) == ("F9", 1, "2031-02-25T21:00:00Z")


def test_quiet_tells_where_the_exact_p_falls_below_the_level() -> None:
    # 4 in 100 h: 2 qⁿ = 0.05 at q = 0.025^(1/4), t = 100 (40^(1/4) − 1) = 151.49 h.
    hours = quiet_hours(4, 100.0, 0.05)
    assert hours == pytest.approx(100 * (40**0.25 - 1))
    assert hours is not None
    for since, is_below in ((hours - 0.5, False), (hours + 0.5, True)):
        # The two-sided exact p, twice the smaller tail of a binomial of all four before: another library's.
        p = 2 * stats.binom.sf(3, 4, 100 / (100 + since))
        assert bool(p < 0.05) is is_below
    assert quiet_hours(0, 100.0, 0.05) is None


def test_p_is_adjusted_for_comparisons_that_can_be_made_and_no_others() -> None:
    hours = 3600.0
    tallies = [
        Tally(12, 0, 100 * hours, 100 * hours), Tally(2, 1, 100 * hours, 100 * hours),
        Tally(0, 0, 100 * hours, 100 * hours), Tally(5, 0, 100 * hours, 0.0), Tally(0, 12, 100 * hours, 100 * hours),
    ]  # fmt: skip
    rows = judge_all(tallies)
    # 12 and none in like hours: 2 · 2⁻¹² = 0.000488; 2 and 1: twice P(X ≤ 1) of 3 at one half, 2 · 0.5 = 1.
    raw = [2 * 0.5**12, 1.0, 2 * 0.5**12]
    assert [row["p"] for row in rows] == pytest.approx([raw[0], raw[1], None, None, raw[2]])
    adjusted = stats.false_discovery_control(raw, method="bh")
    assert [row["adjusted_p"] for row in rows if row["p"] is not None] == pytest.approx(list(adjusted))
    assert [row["says"] for row in rows] == ["fewer", *["cannot be told yet"] * 3, "more"]
    assert rows[0]["quiet_h"] == pytest.approx(100 * ((2 * 3 / 0.05) ** (1 / 12) - 1))  # at 0.05 over 3
    assert rows[4]["ratio"] is None  # none before: no ratio, and no false one


def test_no_quiet_month_is_a_success() -> None:
    # Three in 100 h before and none in the 100 h since: 2 · 2⁻³ = 0.25.
    (row,) = judge_all([Tally(3, 0, 360_000.0, 360_000.0)])
    assert row["p"] == pytest.approx(0.25)
    assert row["says"] == "cannot be told yet"
    assert says(None, None) == "cannot be told yet"


def test_no_remedies_no_comparison() -> None:
    assert judge_all([]) == []
