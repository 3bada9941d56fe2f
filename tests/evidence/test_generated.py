"""On rooms that nobody laid out by hand: every number is its lines, and every edge has a row that bears it.

The rooms are those that hold the models against the second reader: any order of events and takes, with rulings.
"""

from __future__ import annotations

import csv
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, assume, given
from hypothesis import settings as examples

from pipeline.evidence import Scope
from tests.evidence.edges import check_edges
from tests.evidence.rooms import measure_room
from tests.evidence.walk import check_all
from tests.second_reader.rooms import nasty_rooms
from tests.second_reader.ruled_rooms import ruled_rooms
from tests.second_reader.sites import Room, write_site
from tests.second_reader.working_rooms import working_rooms

COLUMNS = ("ruling", "rules", "channel", "at", "until", "says", "by", "decided", "why")


def write_ruled_site(room: Room, folder: Path) -> Path:
    """The room as files, with what its people ruled."""
    write_site(room, folder)
    with (folder / "rulings.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(COLUMNS)
        writer.writerows([[_cell(row.get(column)) for column in COLUMNS] for row in room.rulings])
    return folder


def _cell(value: object) -> str:
    return f"{value.isoformat()}Z" if isinstance(value, datetime) else "" if value is None else str(value)


@pytest.mark.slow
@examples(
    max_examples=4,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
    phases=[Phase.generate],
)
@given(room=working_rooms() | nasty_rooms() | ruled_rooms())
def test_any_room_is_taken_apart_exactly(tmp_path_factory: pytest.TempPathFactory, room: Room) -> None:
    assume(room.events and room.bookings)
    folder: Path = write_ruled_site(room, tmp_path_factory.mktemp("generated") / "site")
    measured = measure_room(folder)
    try:
        assert check_all(measured) > 50
        check_edges(measured, Scope())
        for machine in measured.figures["machines"]:
            check_edges(measured, Scope(machine=machine["machine"]))
    finally:
        measured.store.close()
