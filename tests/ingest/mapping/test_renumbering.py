"""Numbers that changed and numbers that lost their zeros: one name again, the written one kept."""

from __future__ import annotations

from datetime import datetime

import polars as pl
import pytest

from pipeline.ingest.feeds import BOOKINGS, EVENTS, MACHINES, SWITCHES
from pipeline.ingest.mapping.renumbering import Renumbered, normal_reels, renumber


def at(*parts: int) -> datetime:
    return datetime(*parts)  # noqa: DTZ001 - naive UTC, as in all tables


MARCH, APRIL = at(2031, 3, 1), at(2031, 4, 1)
RULES = (Renumbered("VT3", "VT9", MARCH, APRIL), Renumbered("VT3", "VT8", APRIL, None))


def events(*rows: tuple[datetime | None, str, str | None]) -> pl.DataFrame:
    schema = {"stamped_at_utc": pl.Datetime("us"), "machine": pl.String, "extra": pl.String}
    frame = pl.DataFrame(list(rows), schema=schema, orient="row")
    return frame.with_columns(event=pl.lit("roll"), detail=pl.lit(None, pl.String))


def test_a_machine_has_the_number_of_its_day() -> None:
    """Half-open: at the first instant of April the second rule holds."""
    days = (at(2031, 2, 28), MARCH, at(2031, 3, 31, 23), APRIL)
    kept = renumber(EVENTS, events(*((day, "VT3", None) for day in days)), RULES)
    assert kept["machine"].to_list() == ["VT3", "VT9", "VT9", "VT8"]
    written = '{"machine as written":"VT3"}'
    assert kept["extra"].to_list() == [None, written, written, written]


def test_what_was_extra_stays() -> None:
    kept = renumber(EVENTS, events((MARCH, "VT3", '{"bay":"7"}'), (MARCH, "VT1", '{"bay":"1"}')), RULES)
    assert kept["extra"].to_list() == ['{"machine as written":"VT3","bay":"7"}', '{"bay":"1"}']


def test_both_machines_of_a_take_are_renumbered() -> None:
    schema = {"at_utc": pl.Datetime("us"), "from_machine": pl.String, "to_machine": pl.String, "extra": pl.String}
    rows = pl.DataFrame([(MARCH, "VT3", "VT1", None), (MARCH, None, "VT3", None)], schema=schema, orient="row")
    kept = renumber(SWITCHES, rows, RULES)
    assert kept.select("from_machine", "to_machine").rows() == [("VT9", "VT1"), (None, "VT9")]


def test_the_partner_that_an_offset_names_is_renumbered_and_no_other_detail() -> None:
    rows = events((MARCH, "VT1", None), (MARCH, "VT1", None)).with_columns(
        event=pl.Series(["offset", "alarm"]), detail=pl.lit("VT3")
    )
    assert renumber(EVENTS, rows, RULES)["detail"].to_list() == ["VT9", "VT3"]


def test_a_rule_without_dates_needs_no_instant() -> None:
    kept = renumber(EVENTS, events((None, "VT3", None)), (Renumbered("VT3", "VT9", None, None),))
    assert kept["machine"].to_list() == ["VT9"]
    assert renumber(EVENTS, events((None, "VT3", None)), RULES)["machine"].to_list() == ["VT3"]


def test_the_register_names_machines_as_they_are() -> None:
    register = pl.DataFrame({"machine": ["VT3"], "extra": [None]}, schema={"machine": pl.String, "extra": pl.String})
    assert renumber(MACHINES, register, RULES)["machine"].to_list() == ["VT3"]


@pytest.mark.parametrize(
    ("written", "normal"),
    [
        ("00417", "417"),
        ("417", "417"),
        ("O0417", "417"),
        ("R-0O417", "R-417"),
        ("R0417", "R417"),
        ("TO-12", "TO-12"),
        ("OO", "OO"),
        ("000", "0"),
        ("1O/02", "10/2"),
        ("O", "O"),
        ("o5", "5"),
    ],
)
def test_reel_numbers_in_one_spelling(written: str, normal: str) -> None:
    rows = pl.DataFrame(
        {"reel": [written, None], "extra": [None, None]}, schema={"reel": pl.String, "extra": pl.String}
    )
    kept = normal_reels(BOOKINGS, rows)
    assert kept["reel"].to_list() == [normal, None]
    noted = None if written == normal else f'{{"reel as written":"{written}"}}'
    assert kept["extra"].to_list() == [noted, None]


def test_other_feeds_have_no_reels() -> None:
    assert normal_reels(EVENTS, events((MARCH, "VT03", None)))["machine"].to_list() == ["VT03"]
