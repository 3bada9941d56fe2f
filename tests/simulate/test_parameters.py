"""What a room may be made of, and what is said where it may not."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from pipeline.errors import QuestionError
from pipeline.simulate import Parameters
from pipeline.simulate.chatter import chatter_for
from pipeline.simulate.parameters import SECOND, add_months


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"pairs": 0}, '--pairs "0" is out of bounds: 1 to 499'),
        ({"lines_per_second": -1.0}, '--lines-per-second "-1.0" is out of bounds'),
        ({"mess": 0.9}, '--mess "0.9" is out of bounds'),
        ({"channels": 5, "pairs": 4}, '--channels "5" needs as many pairs: --pairs is "4"'),
        ({"unprotected": 0.6, "missing": 0.6}, "are more than all"),
        ({"zone": "Mars/Olympus"}, '--zone "Mars/Olympus" is no time zone'),
        ({"day_starts": "noon"}, '--day-starts "noon" is no time of day'),
    ],
)
def test_what_cannot_be_is_said(given: dict[str, Any], said: str) -> None:
    with pytest.raises(QuestionError, match=said):
        Parameters(**given)


def test_too_few_lines_are_refused_with_how_many_there_are() -> None:
    with pytest.raises(QuestionError, match=r'--lines "10" is too few: the programmes alone bring 11\.'):
        chatter_for(Parameters(lines=10), 11, 0)


def test_lines_wanting_are_shared_out_evenly() -> None:
    # 8 machines for 1 day are 691,200 s; 1,200 s of them are hidden. 13,800 of 14,000 lines are wanting: 0.02 a second.
    assert chatter_for(Parameters(days=1, lines=14_000), 200, 1_200 * SECOND).per_second == 0.02


def test_the_room_begins_and_ends_at_local_midnight() -> None:
    room = Parameters(first_day=date(2031, 3, 1), months=1)
    # From 1970 to 1 March 2031 are 61 years with 15 leap days and 59 days: 22,339. Stockholm is UTC+1 then and, from 30
    # March 2031, UTC+2: 31 days less an hour.
    assert room.started_us == (22_339 * 86_400 - 3600) * SECOND
    assert room.ended_us - room.started_us == (31 * 86_400 - 3600) * SECOND


def test_days_are_of_24_hours_each() -> None:
    room = Parameters(first_day=date(2031, 3, 29), days=3)
    assert room.ended_us - room.started_us == 3 * 86_400 * SECOND


def test_months_are_those_of_the_broadcast_day() -> None:
    room = Parameters(first_day=date(2031, 3, 31), days=2, zone="UTC", day_starts="06:00")
    # From 31 March 00:00 to 2 April 00:00. March runs until 1 April 06:00.
    (march, march_from, march_to), (april, april_from, _) = room.month_edges()
    assert (march, april) == ("2031-03", "2031-04")
    assert march_from < room.started_us
    assert march_to == april_from == room.started_us + 30 * 3600 * SECOND


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (date(2031, 1, 31), 1, date(2031, 2, 28)),
        (date(2032, 1, 31), 1, date(2032, 2, 29)),
        (date(2031, 11, 15), 3, date(2032, 2, 15)),
        (date(2031, 1, 1), -1, date(2030, 12, 1)),
    ],
)
def test_months_on(day: date, months: int, expected: date) -> None:
    assert add_months(day, months) == expected


def test_machines_and_pairs_are_numbered_in_one_width() -> None:
    assert Parameters(pairs=1, channels=1).machines == ("VT01", "VT02")
    assert Parameters(pairs=50).machines[-1] == "VT100"
    assert Parameters(pairs=50).machines[0] == "VT001"
