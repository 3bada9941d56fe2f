"""What must hold of the second reader in any room: sums, the order of rows, and the site folder written for it."""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path
from random import Random
from typing import Any

from hypothesis import HealthCheck, given
from hypothesis import settings as limits
from hypothesis import strategies as st

from tests.second_reader.reader import AirSpan, Reading, read_room
from tests.second_reader.records import micros
from tests.second_reader.rooms import nasty_rooms
from tests.second_reader.sites import Room, write_site
from tests.second_reader.tiny import pair
from tests.second_reader.totals import totals
from tests.second_reader.working_rooms import working_rooms


def _read(room: Room, rng: Random | None = None) -> Reading:
    feeds = [list(rows) for rows in (room.events, room.switches, room.bookings, room.machines)]
    for rows in feeds:
        if rng:
            rng.shuffle(rows)
    return read_room(feeds[0], feeds[1], feeds[2], feeds[3], room.settings)


@limits(max_examples=60, deadline=None)
@given(room=nasty_rooms() | working_rooms(), seed=st.integers(0, 10_000))
def test_the_order_of_rows_decides_nothing(room: Room, seed: int) -> None:
    assert _read(room) == _read(room, Random(seed))


def _gaps(spans: list[AirSpan], start: int, end: int) -> list[tuple[int, int]]:
    edges = [start, *(edge for s in spans for edge in (s.started, s.ended)), end]
    return [(left, right) for left, right in zip(edges[::2], edges[1::2], strict=True) if left != right]


@limits(max_examples=100, deadline=None)
@given(room=nasty_rooms() | working_rooms())
def test_states_fill_the_pieces_but_for_feed_on_other(room: Room) -> None:
    # What no span holds must begin with a take to `other` (or the piece, fed over) and end with a take (or the piece).
    reading = read_room(room.events, room.switches, room.bookings, room.machines, room.settings)
    for channel, transmission, start, end in reading.pieces:
        spans = [s for s in reading.air if (s.channel, s.transmission, s.piece_start) == (channel, transmission, start)]
        takes = [o for o in room.switches if o["channel"] == channel and o["action"] == "take"]
        off = {micros(o["at"]) for o in takes if o["to_machine"] == "other"}
        back = {micros(o["at"]) for o in takes}
        for left, right in _gaps(spans, start, end):
            assert left in off | {start}
            assert right in back | {end}
            assert left < right
        if not any("other" in (o["from_machine"], o["to_machine"]) for o in takes):
            assert sum(s.us for s in spans) == end - start


@limits(max_examples=60, deadline=None)
@given(room=working_rooms())
def test_air_lost_and_cover_agree_with_the_sums_beside_them(room: Room) -> None:
    reading = read_room(room.events, room.switches, room.bookings, room.machines, room.settings)
    lost = sum(s.us for s in reading.air if s.state == "lost")
    covered = sum(s.us for s in reading.air if s.state == "covered")
    assert sum(i.lost_us for i in reading.interruptions) == lost
    assert covered <= sum(reading.protect_us.values())
    assert not any(i.met and i.healed for i in reading.interruptions)


@limits(max_examples=60, deadline=None)
@given(room=nasty_rooms() | working_rooms())
def test_months_channels_and_machines_add_up_to_the_total(room: Room) -> None:
    reading = read_room(room.events, room.switches, room.bookings, room.machines, room.settings)
    sums = totals(reading, room.settings)
    total = sums.pop(("total", ""), {})
    states = ("lost_us", "unknown_us", "covered_us", "unproved_us", "exposed_us")
    assert total.get("air_us", 0) == sum(total.get(state, 0) for state in states)
    for kind in ("month", "channel", "machine"):
        parts: Counter[str] = Counter()
        for key, figures in sums.items():
            parts.update(figures if key[0] == kind else {})
        beside = {"protect_us", "cover_losses"}  # of machines alone
        assert {k: v for k, v in parts.items() if k not in beside} == total


def test_a_month_ends_where_the_broadcast_day_does() -> None:
    # Second 0 is 10:00 UTC, 11:00 in Stockholm on 12 March. Were it the first of the month with a day from 11:01 on,
    # the first 60 s would still be the month before: shift the room by −11 days.
    room = pair()
    for row in (*room.events, *room.switches, *room.bookings):
        row.update({k: v.replace(day=1) for k, v in row.items() if k in ("at", "starts", "ends")})
    settings = {"frame_rate": 25, "timezone": "Europe/Stockholm", "day_starts": "11:01"}
    end = {"at": room.bookings[0]["ends"], "machine": "Z9", "event": "hours"}
    sums = totals(read_room([*room.events, end], [], room.bookings, [], settings), settings)
    assert sums["month", "2031-02"] == {"air_us": 60_000_000, "covered_us": 60_000_000}
    assert sums["month", "2031-03"] == {"air_us": 40_000_000, "covered_us": 40_000_000}


def _rows(paths: list[Path]) -> list[dict[str, str]]:
    rows: list[dict[str, str]] = []
    for path in paths:
        with path.open(encoding="utf-8", newline="") as file:
            rows += csv.DictReader(file)
    return rows


def _cells(row: Any) -> frozenset[tuple[str, str]]:
    return frozenset((k, v.isoformat() + "Z" if hasattr(v, "isoformat") else str(v)) for k, v in row.items() if v)


@limits(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(room=nasty_rooms() | working_rooms(), seed=st.integers(0, 10_000))
def test_a_site_holds_the_rows_and_the_repeats(room: Room, seed: int, tmp_path: Path) -> None:
    folder = write_site(room, tmp_path / str(seed), Random(seed), split=3, repeats=2)
    for feed, paths in (("events", folder / "events"), ("switches", folder / "switches.csv")):
        rows = _rows(sorted(paths.glob("*.csv")) if paths.is_dir() else [paths])
        wanted = getattr(room, feed)
        assert {_cells(r) for r in rows} == {_cells(r) for r in wanted}
        assert len(rows) == len(wanted) + (2 if wanted else 0)
    for path in (folder / "events").glob("*.csv"):
        path.unlink()


@limits(max_examples=60, deadline=None)
@given(room=nasty_rooms() | working_rooms())
def test_no_clock_can_be_corrected_and_no_row_comes_twice(room: Room) -> None:
    starts = Counter(o["to_machine"] for o in room.switches if o["action"] == "start")
    assert max(starts.values(), default=0) <= 4
    assert not any(e["event"] == "clock" for e in room.events)
    for rows in (room.events, room.switches, room.bookings):
        assert len({_cells(r) for r in rows}) == len(rows)
