"""What is said of times: only what their cells tell."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime

import pytest

from pipeline.ingest.propose.times import TimeCells, propose_times
from pipeline.ingest.propose.traits import describe


def _cells(*texts: str, name: str = "at") -> TimeCells:
    return TimeCells(name, describe(name, 0, Counter(texts)), tuple(enumerate(texts, start=2)))


def _decided(*cells: TimeCells, file: str = "a.csv", system: str = "") -> dict[str, str]:
    return {setting.key: setting.value for setting in propose_times(file, cells, system).settings if setting.is_decided}


@pytest.mark.parametrize(("notation", "times"), [("epoch_s", 1), ("epoch_ms", 1e3), ("epoch_us", 1e6)])
@pytest.mark.parametrize("year", [2001, 2031, 2099])
def test_epochs_by_their_magnitude(notation: str, times: float, year: int) -> None:
    texts = [str(int(datetime(year, 3, day, tzinfo=UTC).timestamp() * times)) for day in range(1, 20)]
    assert _decided(_cells(*texts)) == {"numeric_times": f'"{notation}"'}


def test_days_of_a_spreadsheet_need_the_workbook() -> None:
    cells = _cells(*(f"{46023 + k}.5" for k in range(9)))
    assert _decided(cells) == {}
    # 46023 is 2026-01-01 in the 1900 system, and 1,462 days later in the 1904 system: 2030-01-02.
    (sentence,) = propose_times("a.csv", [cells]).undecided
    assert "2026-01-01 (serial_1900) or 2030-01-02 (serial_1904)" in sentence
    assert _decided(cells, system="serial_1904") == {"numeric_times": '"serial_1904"'}


def test_the_order_of_dates_with_its_line() -> None:
    findings = propose_times("a.csv", [_cells("01/02/2031 20:00", "31/03/2031 20:00")])
    (setting,) = findings.settings
    assert (setting.key, setting.value) == ("date_order", '"dmy"')
    assert "line 3" in setting.why
    assert _decided(_cells("12/31/2031 20:00")) == {"date_order": '"mdy"'}


def test_an_undecidable_or_contradictory_order_is_left_open() -> None:
    for texts in (("01/02/2031 20:00", "03/04/2031 20:00"), ("31/03/2031 20:00", "03/31/2031 20:00")):
        findings = propose_times("a.csv", [_cells(*texts)])
        assert not [setting for setting in findings.settings if setting.is_decided]
        assert findings.undecided[0].startswith("date_order: ")


def test_the_zone_is_never_guessed() -> None:
    local = propose_times("a.csv", [_cells("2031-03-09T20:00:00")])
    assert local.settings == local.undecided == ()
    assert "Stamps carry no offset: the site's timezone is taken" in local.remarks[0]
    own = propose_times("a.csv", [_cells("2031-03-09T20:00:00+01:00", "2031-03-09T20:00:00Z")])
    assert own.remarks == ("Stamps carry their own offset from UTC.",)
    mixed = propose_times("a.csv", [_cells("2031-03-09T20:00:00", "2031-03-09T20:00:00Z")])
    assert mixed.remarks[0].startswith("1 of 2 stamps carry no offset")


@pytest.mark.parametrize(
    ("text", "key", "file"),
    [("20:00:00", "day", "vt1-2031-03-09.log"), ("Mar  9 20:00:00", "year", "vt1-2031-03.log")],
)
def test_days_and_years_come_from_the_name_or_are_asked_for(text: str, key: str, file: str) -> None:
    assert propose_times("vt1.log", [_cells(text)]).undecided[0].startswith(f"{key}: ")
    named = propose_times(file, [_cells(text)])
    assert named.undecided == named.settings == ()
    assert named.remarks[0].startswith(f"{key} is left out")


def test_frames() -> None:
    assert _decided(_cells("2031-03-09 20:00:00;29"))["timecode_rate"] == "29.97"
    findings = propose_times("a.csv", [_cells("2031-03-09 20:00:00:24")])
    assert findings.undecided[0].startswith("timecode_rate: ")


def test_no_time_needs_no_key() -> None:
    findings = propose_times("a.csv", [_cells()])
    assert findings.settings == findings.remarks == findings.undecided == ()
