"""Numbers, moments and spans of a sheet as text, against Python's own writing of the same."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.ingest.workbooks.sheet_values import number_text, passed_text, tidy_moment


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("3", "3"),
        ("3.0", "3"),
        ("0.30000000000000004", "0.3"),
        ("1E-3", "0.001"),
        ("1e20", "100000000000000000000"),
        ("-0", "0"),
        ("007", "7"),
        ("123456789012345", "123456789012345"),
        ("0.1", "0.1"),
        ("-12.50", "-12.5"),
    ],
)
def test_a_number_has_the_digits_a_sheet_shows(written: str, expected: str) -> None:
    assert number_text(written) == expected


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_no_number_is_changed_beyond_15_digits(number: float) -> None:
    assert float(number_text(repr(number))) == pytest.approx(number, rel=1e-14)


@given(st.integers(0, 86_399_999))
def test_what_has_passed_since_midnight_is_a_time_of_day(ms: int) -> None:
    at = (datetime.combine(date(2031, 3, 9), datetime.min.time()) + timedelta(milliseconds=ms)).time()
    assert passed_text(ms) == at.isoformat("milliseconds" if at.microsecond else "seconds")


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("2031-03-09T21:04:00", "2031-03-09T21:04:00"),
        ("2031-03-09T21:03:59.999999999", "2031-03-09T21:04:00"),
        ("2031-03-09T21:04:00.12", "2031-03-09T21:04:00.120"),
        ("2031-03-09T23:59:59.9999", "2031-03-10"),
        ("2031-03-09T00:00:00", "2031-03-09"),
        ("2031-03-09", "2031-03-09"),
        ("2031-03-09T21:04:00.5Z", "2031-03-09T21:04:00.5Z"),
        ("2031-13-09T21:04:00", "2031-13-09T21:04:00"),
    ],
)
def test_a_moment_that_is_written_out(written: str, expected: str) -> None:
    assert tidy_moment(written) == expected
