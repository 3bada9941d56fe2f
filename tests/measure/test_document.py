"""figures.json as a whole: strict JSON, clocks that do not claim to know, and sums that hold in any room."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

import polars as pl
import pytest
from hypothesis import HealthCheck, assume, given
from hypothesis import settings as examples

from pipeline.ingest.calendar import write_calendar
from pipeline.measure import measure_site
from pipeline.measure.document import clocks
from pipeline.model import build_models
from pipeline.settings import settings_of_row
from pipeline.store import Store
from tests.model.room_tables import fill_store, open_memory
from tests.model.test_second_reader import has_ties
from tests.second_reader.reader import read_room
from tests.second_reader.records import STANDBY
from tests.second_reader.rooms import nasty_rooms
from tests.second_reader.sites import Room
from tests.second_reader.totals import totals
from tests.second_reader.working_rooms import working_rooms

pytestmark = pytest.mark.slow

QUICK = examples(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
STATES = ("lost_s", "unknown_s", "covered_s", "unproved_s", "exposed_s")
WHY = ("exposed_none_booked_s", "exposed_not_good_s", "exposed_out_of_step_s")
SECONDS = ("air_s", *STATES, *WHY, "elsewhere_s", "rescued_s", "overrun_s")
COUNTS = (
    "interruptions", "protect_switches", "forced", "precaution", "unexplained", "planned", "return", "demands",
    "demands_met", "demands_healed", "demands_unprotected",
)  # fmt: skip
# Months of no calendar, cut where every generated room has something going on: 30 s after its tick 0.
CUTS = ("2030-12-31", "2031-03-12 10:00:30", "2031-03-31 22:00", "2031-04-01 00:00", "2031-04-01 04:00", "2032-01-01")


@pytest.fixture(scope="module")
def store() -> Iterator[Store]:
    with open_memory() as opened:
        yield opened


def measured(store: Store, room: Room, *, by_calendar: bool = False) -> dict[str, Any]:
    """Measure a room, by the months of its broadcast day or by months cut where things happen."""
    fill_store(store, room)
    settings = settings_of_row(store.read("select * from site_settings").row(0, named=True))
    if by_calendar:
        write_calendar(store, settings)
    else:
        write_cut_months(store)
    build_models(store)
    return measure_site(store, settings)


def write_cut_months(store: Store) -> None:
    stamps = [datetime.fromisoformat(cut) for cut in CUTS]
    rows = [(f"2031-{n:02d}", start, end) for n, (start, end) in enumerate(pairwise(stamps), 1)]
    schema = {"month": pl.String, "started_at_utc": pl.Datetime("us"), "ended_at_utc": pl.Datetime("us")}
    store.write("site_months", pl.DataFrame(rows, schema=schema, orient="row"))


def us(entry: dict[str, Any], name: str) -> int:
    """Seconds of a figure as whole microseconds."""
    return round(entry[name] * 1_000_000)


@pytest.mark.lengthy
@pytest.mark.usefixtures("sums_alone")
@QUICK
@given(room=working_rooms() | nasty_rooms())
def test_sums_hold_to_the_microsecond_in_any_room(store: Store, room: Room) -> None:
    document = measured(store, room)
    for entry in (document["total"], *document["months"], *document["channels"], *document["machines"]):
        assert us(entry, "air_s") == sum(us(entry, name) for name in STATES)
        assert us(entry, "exposed_s") == sum(us(entry, name) for name in WHY)
    for name in (*SECONDS, *COUNTS):
        scale = us if name.endswith("_s") else dict.__getitem__
        # Months are listed to the last air window; feed that goes on past it may end in a month that is not.
        for group in ("channels",) if name == "overrun_s" else ("months", "channels", "month_channels"):
            assert sum(scale(entry, name) for entry in document[group]) == scale(document["total"], name), (group, name)
    for name in ("air_s", "lost_s"):
        by_machine = sum(us(entry, name) for entry in document["machines"])
        assert by_machine + us(document["standby"], name) == us(document["total"], name)


@pytest.mark.lengthy
@pytest.mark.usefixtures("sums_alone")
@QUICK
@given(room=working_rooms() | nasty_rooms())
def test_figures_are_those_of_the_second_reader(store: Store, room: Room) -> None:
    """The totals of a second program that shares no code: in all, by month, channel and machine, and on standby."""
    assume(not has_ties(room))
    document = measured(store, room, by_calendar=True)
    second = totals(read_room(room.events, room.switches, room.bookings, room.machines, room.settings), room.settings)
    groups = [(("total", ""), document["total"])]
    groups += [
        ((group, entry[group]), entry) for group in ("month", "channel", "machine") for entry in document[group + "s"]
    ]
    for key, entry in groups:
        said = second.get(key, {})
        for name in SECONDS:
            assert us(entry, name) == said.get(f"{name.removesuffix('_s')}_us", 0), (key, name)
        for name in COUNTS:
            assert entry[name] == said.get(name, 0), (key, name)
        if key[0] == "machine":
            assert us(entry, "protect_s") == said.get("protect_us", 0), key
            assert entry["cover_losses"] == said.get("cover_losses", 0), key
    standby = second.get(("machine", STANDBY), {})
    assert us(document["standby"], "air_s") == standby.get("air_us", 0)
    assert us(document["standby"], "lost_s") == standby.get("lost_us", 0)


@examples(QUICK, max_examples=6)
@given(room=working_rooms())
def test_the_document_is_strict_json(store: Store, room: Room) -> None:
    document = measured(store, room)
    assert json.loads(json.dumps(document, allow_nan=False)) == document


def overrunning_into_april() -> Room:
    """The only programme ends with March; its machine feeds on until its stop five minutes into April."""
    at = {n: datetime(2031, 3, 31, 23, 0) + timedelta(minutes=n) for n in (0, 60, 65, 120)}  # noqa: DTZ001 - naive UTC
    words = {0: ("roll", "lock"), 65: ("stop",), 120: ("hours",)}
    return Room(
        settings={"name": "Invented room", "timezone": "UTC", "day_starts": "00:00", "frame_rate": 25},
        events=tuple(
            {"at": at[n], "machine": "A1", "event": word, "value": None, "detail": None}
            for n, said in words.items()
            for word in said
        ),
        switches=(),
        bookings=(
            {"booking": "K1", "transmission": "T1", "channel": "ONE", "machine": "A1", "role": "air",
             "starts": at[0], "ends": at[60]},
        ),
        machines=(),
    )  # fmt: skip


def test_an_overrun_into_a_month_without_bookings_is_in_the_total(store: Store) -> None:
    """From 00:00 to 00:05 on the first of April: 300 s of the channel, the machine and the whole."""
    document = measured(store, overrunning_into_april(), by_calendar=True)
    assert document["total"]["air_s"] == 3600.0
    assert [entry["overrun_s"] for entry in (document["total"], *document["channels"], *document["machines"])] == [
        300.0
    ] * 3


def feeding_by_name_alone() -> Room:
    """C1 is in no register, no booking and no log; only the selector's record names it, and it feeds for 60 s."""

    def at(minute: int) -> datetime:
        return datetime(2031, 3, 9, 10, minute)  # noqa: DTZ001 - rows carry naive UTC

    take = {"action": "take", "channel": "ONE", "reason": None}
    return Room(
        settings={"name": "Invented room", "timezone": "UTC", "day_starts": "00:00", "frame_rate": 25},
        events=(
            {"at": at(0), "machine": "A1", "event": "roll", "value": None, "detail": None},
            {"at": at(0), "machine": "A1", "event": "lock", "value": None, "detail": None},
            {"at": at(30), "machine": "A1", "event": "hours", "value": 1.0, "detail": None},
        ),
        switches=(
            take | {"at": at(5), "from_machine": "A1", "to_machine": "C1"},
            take | {"at": at(6), "from_machine": "C1", "to_machine": "A1"},
        ),
        bookings=(
            {"booking": "K1", "transmission": "T1", "channel": "ONE", "machine": "A1", "role": "air",
             "starts": at(0), "ends": at(20)},
        ),
        machines=(),
    )  # fmt: skip


def test_a_machine_that_only_the_selector_names_is_no_standby(store: Store) -> None:
    """1,200 s of air: A1 fed 1,140 s and C1, of which nothing is known, 60 s. Nothing was on standby."""
    document = measured(store, feeding_by_name_alone())
    assert document["total"]["air_s"] == 1200.0
    assert document["total"]["unknown_s"] == 60.0
    assert {entry["machine"]: entry["air_s"] for entry in document["machines"]} == {"A1": 1140.0, "C1": 60.0}
    assert document["standby"]["air_s"] == 0.0


NOTHING = dict.fromkeys(("offset_s", "drift_ppm", "within_s"), math.nan)


def segment(machine: str, number: int, **cells: Any) -> dict[str, Any]:
    row: dict[str, Any] = {"machine": machine, "segment_no": number, "started_at_utc": None, "ended_at_utc": None}
    row |= {"reference_at_utc": datetime(2031, 3, number, 10), "offset_s": 0.0, "drift_ppm": 0.0, "within_s": 0.1}  # noqa: DTZ001
    return row | {"pairs_count": 5, "is_corrected": False} | cells


def test_a_clock_goes_by_the_segment_of_its_last_pair() -> None:
    """The third segment has no pair and says nothing; the second holds the last pair. 7 + 5 + 0 = 12 pairs."""
    rows = [
        segment("A1", 1, offset_s=3.0, pairs_count=7, is_corrected=True),
        segment("A1", 2, offset_s=-1.5, drift_ppm=20.0, within_s=0.2),
        segment("A1", 3, **NOTHING, pairs_count=0, reference_at_utc=None),
    ]
    (entry,) = clocks(pl.DataFrame(rows))
    assert (entry["machine"], entry["offset_s"], entry["drift_ppm"], entry["within_s"]) == ("A1", -1.5, 20.0, 0.2)
    assert (entry["pairs"], entry["is_corrected"]) == (12, True)
    assert [part["offset_s"] for part in entry["segments"]] == [3.0, -1.5, None]
    assert entry["segments"][0]["reference"] == "2031-03-01T10:00:00Z"
    assert entry["segments"][2]["reference"] is None


def test_what_is_not_a_number_is_none() -> None:
    rows = [segment("B1", 1, offset_s=0.4, drift_ppm=math.nan, within_s=math.nan, pairs_count=1)]
    (entry,) = clocks(pl.DataFrame(rows))
    assert (entry["offset_s"], entry["drift_ppm"], entry["within_s"]) == (0.4, None, None)
    assert json.dumps(clocks(pl.DataFrame(rows)), allow_nan=False)
