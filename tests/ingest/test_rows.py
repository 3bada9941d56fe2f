"""What a cell may hold, and the sentence that says what is wrong with it."""

from __future__ import annotations

import json
from zoneinfo import ZoneInfo

import polars as pl
import pytest

from pipeline.ingest.batch import ASIDE_SCHEMA, Batch, cell_name, tidy_cells
from pipeline.ingest.feeds import BOOKINGS, EVENTS, FEEDS, MACHINES, REELS, SWITCHES, TICKETS, Feed
from pipeline.ingest.rows import type_rows

GOOD: dict[str, dict[str, str]] = {
    "events": {"at": "2031-03-01T20:00:00", "machine": "VT1", "event": "roll"},
    "switches": {"at": "2031-03-01T20:00:00", "action": "take", "channel": "One", "to_machine": "VT1"},
    "tickets": {"ticket": "T1"},
    "bookings": {
        "booking": "B1",
        "transmission": "X1",
        "channel": "One",
        "machine": "VT1",
        "role": "air",
        "starts": "2031-03-01T20:00",
        "ends": "2031-03-01T21:00",
    },
    "machines": {"machine": "VT1"},
    "reels": {"reel": "R1"},
    "rulings": {"ruling": "R1", "rules": "not air", "at": "2031-03-01T20:00", "why": "transmitter down"},
}


def _type(feed: Feed, **cells: str | None) -> tuple[list[dict[str, object]], list[str]]:
    row = {**GOOD[feed.name], **cells}
    columns = {cell_name(k): [cell] for k, cell in enumerate(row.values())}
    rows = pl.DataFrame({"line": [2], "text": ["t"], **columns}, schema_overrides=dict.fromkeys(columns, pl.String))
    kept, aside = type_rows(
        feed, Batch(tuple(row), tidy_cells(rows), pl.DataFrame(schema=ASIDE_SCHEMA)), ZoneInfo("UTC")
    )
    assert kept.height + aside.height == 1
    assert kept.columns == [name for name, _ in feed.table_columns if name != "file"]
    return kept.to_dicts(), aside["reason"].to_list()


@pytest.mark.parametrize("feed", FEEDS, ids=lambda feed: feed.name)
def test_a_row_needs_its_required_cells_and_no_others(feed: Feed) -> None:
    assert _type(feed)[1] == []
    for name in GOOD[feed.name]:
        assert _type(feed, **{name: "  "})[1] == [
            f"The cell {name} is empty. Every booking for air needs one."
            if name in {"transmission", "channel"} and feed is BOOKINGS
            else f"The cell {name} is empty. Every row of {feed.name} needs one."
        ]


@pytest.mark.parametrize("role", ["record", "record_protect", "dub", "maintenance"])
def test_bookings_off_the_air_need_no_transmission(role: str) -> None:
    assert _type(BOOKINGS, role=role, transmission=None, channel=None)[1] == []


@pytest.mark.parametrize("ends", ["2031-03-01T20:00", "2031-03-01T19:00"])
def test_a_booking_must_end_after_its_start(ends: str) -> None:
    where = f'(starts "2031-03-01T20:00", ends "{ends}")'
    wanted = f"The booking ends at or before its start {where}. Expected an end after the start."
    assert _type(BOOKINGS, ends=ends)[1] == [wanted]


@pytest.mark.parametrize(
    ("feed", "name", "value", "reason"),
    [
        (EVENTS, "at", "31/02/2031 10:00", '"31/02/2031 10:00" is not a time in column at. Expected an ISO 8601 time.'),
        (TICKETS, "closed", "soon", '"soon" is not a time in column closed. Expected an ISO 8601 time.'),
        (REELS, "recorded_at", "x\ny", '"x y" is not a time in column recorded_at. Expected an ISO 8601 time.'),
        (SWITCHES, "action", "Take", '"Take" is not an action. Expected one of take, start.'),
        (
            BOOKINGS,
            "role",
            "Air",
            '"Air" is not a role. Expected one of air, protect, record, record_protect, dub, maintenance.',
        ),
        (EVENTS, "value", "1,5", '"1,5" is not a number in column value. Expected one such as 0.04.'),
        (
            MACHINES,
            "replacement_cost",
            "n/a",
            '"n/a" is not a number in column replacement_cost. Expected one such as 0.04.',
        ),
        (
            SWITCHES,
            "reason",
            "x" * 61,
            f'"{"x" * 60}…" is not a reason. Expected one of fault, precaution, planned, rehearsal, return.',
        ),
    ],
)
def test_reasons(feed: Feed, name: str, value: str, reason: str) -> None:
    assert _type(feed, **{name: value}) == ([], [reason])


@pytest.mark.parametrize(
    "text", ["0", "-0.04", "+1", ".5", "5.", "1e-3", "1E3", "007", "1e308", "4e-324", "123456789.123456789"]
)
def test_numbers(text: str) -> None:
    ((row,), _) = _type(EVENTS, value=text)
    assert row["value"] == float(text)  # Reference: Python's float


@pytest.mark.parametrize(
    "text", ["nan", "inf", "-Infinity", "1e309", "0x10", "1_000", "1 000", "½", "٣", "1.2.3", ".", "e5", "True"]
)
def test_no_numbers(text: str) -> None:
    assert len(_type(EVENTS, value=text)[1]) == 1


def test_extra_columns_are_kept_sorted_by_name_without_the_empty_ones() -> None:
    hostile = '<b>"\\\n=cmd()'
    ((row,), _) = _type(EVENTS, **{"zeta": "1", 'al"pha': hostile, "none": "", "{x}": "{}"})
    assert json.loads(str(row["extra"])) == {'al"pha': hostile, "zeta": "1", "{x}": "{}"}
    assert list(json.loads(str(row["extra"]))) == ['al"pha', "zeta", "{x}"]
    assert _type(EVENTS)[0][0]["extra"] is None
    assert _type(EVENTS, other="")[0][0]["extra"] is None


def test_hostile_texts_arrive_as_they_are() -> None:
    for text in (
        "<script>alert(1)</script>",
        '=HYPERLINK("x")',
        "';drop table raw_events;--",
        "\u202eabc",
        "{}{0}",
        "%s",
    ):
        ((row,), _) = _type(EVENTS, detail=text)
        assert row["detail"] == text


def test_the_first_wrong_cell_gives_the_reason() -> None:
    assert _type(EVENTS, at="x", event="y", value="z")[1][0].startswith('"x"')


def test_ambiguous_and_digits_are_kept_beside_an_event() -> None:
    ((row,), _) = _type(EVENTS, at="2031-03-01T20:00:00.040")
    assert (row["at_text"], row["is_ambiguous"], row["stamp_digits"]) == ("2031-03-01T20:00:00.040", False, 3)
