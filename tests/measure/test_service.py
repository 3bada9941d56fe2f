"""Times to service from matched tickets: restored, cut short at closing, cut short where the data end."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from pipeline.measure.figures import recovery_times
from pipeline.measure.service import service_times
from pipeline.store import Store
from tests.model.room_tables import open_memory

DAY = "2031-03-09 "
# ticket, recovery, opened, restored, closed, and by hand: seconds, restored?
TICKETS = [
    ("A", 1, "10:00:00", "12:30:00", "13:00:00", (9000.0, True)),  # 2.5 h to restored, whatever the closing
    ("B", 2, "10:00:00", None, "11:00:00", (3600.0, False)),  # closed without restored: cut short at closing
    ("C", 3, "10:00:00", None, None, (7 * 3600.0, False)),  # still open: cut short at data-as-of, 17:00
    ("D", 4, "17:30:00", None, None, (0.0, False)),  # opened after data-as-of: nothing watched yet
    ("E", 5, "10:00:00", "09:00:00", None, None),  # restored before it was opened: no time
    ("F", 6, "10:00:00", None, "09:59:59", None),  # closed before it was opened: no time
    ("G", 7, "10:00:00", "10:00:00.25", None, (0.25, True)),
]


@pytest.fixture
def store() -> Iterator[Store]:
    with open_memory() as opened:
        opened.run("create table clean_tickets (ticket varchar, opened_at_utc timestamp, restored_at_utc timestamp,"
                   " closed_at_utc timestamp)")  # fmt: skip
        opened.run("create table measure_ticket_matches (ticket varchar, recovery_no bigint, gap_s double)")
        for ticket, recovery, *stamps, _ in TICKETS:
            values = [DAY + stamp if isinstance(stamp, str) else None for stamp in stamps]
            opened.run("insert into clean_tickets values (?, ?, ?, ?)", [ticket, *values])
            opened.run("insert into measure_ticket_matches values (?, ?, 0)", [ticket, recovery])
        opened.run("insert into clean_tickets values ('Z', '2031-03-09 10:00', '2031-03-09 11:00', null)")  # unmatched
        opened.run("create table core_as_of as select timestamp '2031-03-09 17:00' as as_of_at_utc")
        yield opened


def test_each_ticket_by_hand(store: Store) -> None:
    expected = [(recovery, *answer) for _, recovery, *_, answer in TICKETS if answer is not None]
    assert service_times(store).rows() == expected


def test_open_tickets_are_counted_and_cut_short(store: Store) -> None:
    """Ends seen at 0.25 and 9,000 s; cut short at 0, 3,600 and 25,200 s.

    S falls to 3/4 at 0.25 s (four at risk) and to 3/4 × 1/2 = 0.375 at 9,000 s (two at risk): median 9,000 s.
    """
    figure = recovery_times(service_times(store), "to_service_s", "is_restored")
    assert (figure["median"], figure["n"], figure["open"]) == (9000.0, 5, 3)
