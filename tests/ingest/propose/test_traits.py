"""What cells look like."""

from __future__ import annotations

from collections import Counter

import pytest

from pipeline.ingest.propose.traits import describe, is_value, kind_of


@pytest.mark.parametrize(
    ("cell", "kind"),
    [
        ("2031-03-09T21:04:11.123456+01:00", "stamp"),  # ISO 8601
        ("20310309T210411", "stamp"),  # ISO 8601, basic
        ("2031-03-09 21:04", "stamp"),
        ("9.3.2031 21.04.11", "stamp"),
        ("03/09/2031 09:04:11 PM", "stamp"),
        ("Sun 9 Mar 2031 21:04", "stamp"),
        ("Mar  9 21:04:11", "yearless"),  # RFC 3164 section 4.1.2
        ("2031-03-09", "day"),
        ("9 Mar 2031", "day"),
        ("2031-03-09T00:00:00", "midnight"),
        ("21:04:11", "clock"),
        ("25:15", "clock"),
        ("21:04:11;12", "clock"),  # SMPTE ST 12-1, drop-frame
        ("-0,04", "number"),
        ("1.234.567,5", "number"),
        ("VT3", "code"),
        ("Maschine 12", "code"),
        ("no picture", "text"),
        ("K1042-1A", "text"),
        ("x" * 100, "text"),
    ],
)
def test_kind_of_a_cell(cell: str, kind: str) -> None:
    assert kind_of(cell) == kind


def test_midnights_are_days_unless_other_times_stand_beside_them() -> None:
    assert describe("a", 0, Counter({"2031-03-09T00:00:00": 3})).is_day
    mixed = describe("a", 0, Counter({"2031-03-09T00:00:00": 1, "2031-03-09T08:00:00": 3}))
    assert mixed.share("stamp") == 1.0


def test_shares_are_of_the_recorded_cells() -> None:
    traits = describe("a", 2, Counter({"VT1": 3, "none": 1}))
    assert (traits.filled, traits.distinct, traits.share("code")) == (4, 2, 0.75)
    assert describe("a", 0, Counter()).share("code") == 0.0


def test_names_of_columns_are_no_values() -> None:
    assert not any(map(is_value, ("Datum", "at", "value (ms)", "VT1", "")))
    assert all(map(is_value, ("2031-03-09", "12", "21:04", " 1,5 ")))
