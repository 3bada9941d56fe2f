"""The order of day and month that a file's own times tell, or that its name does, each case by hand."""

from __future__ import annotations

from datetime import date

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.ingest.times.date_orders import Evidence, day_in_name, decide_date_order, year_in_name


@pytest.mark.parametrize(
    ("texts", "order"),
    [
        (["03/04/2031 10:00", "13/04/2031 10:00"], "dmy"),
        (["03/04/2031 10:00", "04/13/2031 10:00"], "mdy"),
        (["13.4.2031", "04.03.2031 21:04:11.5 PM"], "dmy"),
        (["Mon 03/04/2031", "Fri 25/04/2031 9:04 pm +01:00"], "dmy"),
        (["21:04:11 04/13/2031"], "mdy"),
        # Years of two digits: 13.04.31 may be ymd, but its 31 April is no day.
        (["03.04.31", "13.04.31"], "dmy"),
        (["70-12-31"], "ymd"),  # no day 70
        (["12/31/69"], "mdy"),
        (["31-Mar-09", "09-Mar-32"], "dmy"),  # a year first would make 32 a day
        (["09-Mar-31", "32-Mar-09"], "ymd"),
    ],
)
def test_one_text_decides(texts: list[str], order: str) -> None:
    assert decide_date_order(texts).order == order
    assert decide_date_order(reversed(texts)).order == order
    assert decide_date_order(pl.Series(texts)).order == order
    assert not decide_date_order(texts).is_contradictory


@pytest.mark.parametrize(
    "texts",
    [
        ["03/04/2031 10:00", "04/03/2031 10:00"],
        ["03/04/2031 10:00", "2031-04-13 10:00", "2031/13/04", "31/02/2031", "Total", "45725", ""],
        ["01.03.31", "31.03.31"],  # 2031-03-31, or 2001-03-31 with the year first
        ["09-Mar-31"],
        ["12.11.10"],
    ],
)
def test_what_does_not_decide_is_not_guessed(texts: list[str]) -> None:
    decision = decide_date_order(texts)
    assert (decision.order, decision.is_needed, decision.is_contradictory) == (None, True, False)
    assert "may be" in decision.why


@pytest.mark.parametrize(
    "texts",
    [
        [],
        ["2031-03-09T10:00:00Z", "20310309T100000", "2031-W10-1", "2031/03/09", "Mar  9 21:04:11", "9 March 2031"],
        ["21:04:11", "21.04.11,5 x", "46023.5", "1930000000", "", "x"],
        ["03/03/2031", "12/12/2031 10:00"],
        ["2031-03-09 21.04.13"],  # the dots part a time
    ],
)
def test_nothing_to_decide(texts: list[str]) -> None:
    decision = decide_date_order(texts)
    assert (decision.order, decision.is_needed, decision.is_contradictory, decision.why) == (None, False, False, "")
    assert decision.evidence == ()


def test_a_file_that_holds_both_orders_is_contradictory() -> None:
    decision = decide_date_order([(7, "03/04/2031"), (8, "13/04/2031"), (9, "04/13/2031"), (10, "14/04/2031")])
    assert (decision.order, decision.is_needed, decision.is_contradictory) == (None, True, True)
    assert decision.evidence[-2:] == (Evidence(8, "13/04/2031", ("dmy",)), Evidence(9, "04/13/2031", ("mdy",)))
    assert decision.why == (
        'No one order of dates fits all: "13/04/2031" in line 8 is dmy (day, month, year), '
        '"04/13/2031" in line 9 is mdy (month, day, year).'
    )


def test_the_evidence_names_the_first_text_that_decides() -> None:
    decision = decide_date_order([(2, "03/04/2031 10:00"), (3, "13/04/2031 10:00"), (4, "14/04/2031 10:00")])
    assert decision.evidence[-1] == Evidence(3, "13/04/2031 10:00", ("dmy",))
    assert decision.why == '"13/04/2031 10:00" in line 3 tells: dmy (day, month, year).'
    undecided = decide_date_order(["2031-03-09", "03/04/2031 10:00"])
    assert undecided.why.startswith('"03/04/2031 10:00" in line 2 may be dmy')


def test_a_decision_past_a_chunk_of_texts() -> None:
    texts = ["03/04/2031 10:00"] * 250_000
    texts[249_998] = "13/04/2031"
    assert decide_date_order(pl.Series(texts)).evidence[-1].line == 249_999
    assert decide_date_order(iter(texts)).evidence[-1].line == 249_999
    assert decide_date_order(pl.Series([None, *texts], dtype=pl.String)).evidence[-1].line == 250_000


@settings(deadline=None)
@given(st.lists(st.dates(date(1000, 1, 1)), min_size=1), st.sampled_from(["%d/%m/%Y", "%m/%d/%Y"]))
def test_what_one_order_wrote_is_never_decided_otherwise(days: list[date], pattern: str) -> None:
    decision = decide_date_order([day.strftime(pattern) for day in days])
    written = "dmy" if pattern.startswith("%d") else "mdy"
    assert not decision.is_contradictory
    assert decision.order in {written, None}
    assert (decision.order is not None) == any(day.day > 12 for day in days)
    assert decision.is_needed == any(day.day <= 12 and day.day != day.month for day in days)


@settings(deadline=None)
@given(st.lists(st.one_of(st.text("0123456789/.-: MarT", max_size=14), st.text(max_size=60))))
def test_any_texts_can_be_looked_at(texts: list[str]) -> None:
    decision = decide_date_order(texts)
    assert decision.order in {None, "ymd", "dmy", "mdy"}
    assert not (decision.is_contradictory and decision.order)


@pytest.mark.parametrize(
    ("name", "day"),
    [
        ("vt1_2031-03-09.log", date(2031, 3, 9)),
        ("logs/20310309.csv", date(2031, 3, 9)),
        ("logs/VT1-20310309T210411.log", date(2031, 3, 9)),
        ("VT1_20310309210411.log", date(2031, 3, 9)),
        ("VT1_2031_03_09_21.log", date(2031, 3, 9)),
        ("2031.03.09 tickets.xlsx", date(2031, 3, 9)),
        ("13-03-2031.csv", date(2031, 3, 13)),
        ("3.13.2031.csv", date(2031, 3, 13)),
        ("03-03-2031.csv", date(2031, 3, 3)),
        ("09-03-2031.csv", None),
        ("logs/2031/03/09/vt1.log", date(2031, 3, 9)),
        ("logs/2031-03-09/vt1.log", date(2031, 3, 9)),
        ("logs/2031-03-09/vt1_2031-03-10.log", date(2031, 3, 10)),
        ("2031-03-01_2031-03-07.log", None),
        ("2031-02-30.log", None),
        ("2031-03.log", None),
        ("VT12345678.log", None),
        ("R-31032031456.log", None),
        ("vt1.log", None),
        ("", None),
    ],
)
def test_the_day_in_a_files_name(name: str, day: date | None) -> None:
    assert day_in_name(name) == day


@pytest.mark.parametrize(
    ("name", "year"),
    [
        ("vt1_2031-03-09.log", 2031),
        ("09-03-2031.csv", 2031),
        ("syslog-203103", 2031),
        ("2031-03 VT1.log", 2031),
        ("2031_03_2.log", 2031),
        ("2031-03-01_2031-03-07.log", 2031),
        ("2031-12-31_2032-01-06.log", None),
        ("log_20310309_193005.log", 2031),  # the six digits are a time
        ("2031/03/vt1.log", 2031),
        ("R-2031.log", None),
        ("vt1_1234-03.log", None),
        ("syslog", None),
    ],
)
def test_the_year_in_a_files_name(name: str, year: int | None) -> None:
    assert year_in_name(name) == year
